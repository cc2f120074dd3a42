"""Where the harmonics of a pedal's run stand out of those of its reference."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from loopback.response.distortion import Distortion


def stands_over(own: Distortion, setup: Distortion | None) -> NDArray[np.bool_]:
    """Tell where a harmonic of a run exceeds the same one of its reference, by order and band.

    Parameters
    ----------
    own : Distortion
        Of the pedal's run.
    setup : Distortion or None
        Of its reference; None, or one on other bands: there is nothing to hold it to, and what
        shows counts.

    Returns
    -------
    ndarray of bool, shape (4, m)
        True where it shows, is settled, and the difference of powers is beyond 95 % of its doubt.
        The setup's own adds to the pedal's with any phase, so that the pedal's alone may be
        smaller or larger than what is seen here.
    """
    shows = own.settled & np.isfinite(own.level_db)
    if setup is None or setup.power.shape != own.power.shape:
        return np.asarray(shows)
    more = own.power - setup.power > 1.96 * np.hypot(own.u_power, setup.u_power)
    # Where the reference's was not measured there is nothing to stand over.
    return np.asarray(shows & more & setup.settled)
