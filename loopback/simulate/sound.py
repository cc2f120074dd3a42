"""One recording as the simulated interface hands it over."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.arrays import F64


@dataclass(frozen=True, slots=True)
class Sound:
    """One recording.

    Parameters
    ----------
    silence : bool
        Whether it is the long silence of a run.
    rate_hz : int
        Sample rate that it says.
    samples : ndarray of float64, shape (n, channels)
        Fraction of full scale.
    expected_start : int or None
        Sample at which the take should begin by the nominal latency; None: there is no take.
    """

    silence: bool
    rate_hz: int
    samples: F64
    expected_start: int | None
