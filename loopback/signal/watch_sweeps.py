"""Short sweeps, one after the other without a gap, to be watched for changes.

One period is an exponential sweep; played for ever, it is periodic, so that whatever comes back is
periodic too while nothing moves, and needs no place in time to be compared with itself.
"""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64

SWEEP_S = 0.1
LOW_HZ, HIGH_HZ = 500.0, 12_000.0


def sweep_period(sweep_s: float, rate_hz: int) -> F64:
    """Make one period.

    Parameters
    ----------
    sweep_s : float
        Its length, seconds; rounded to samples.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (p,)
        Peak 1.
    """
    count = round(sweep_s * rate_hz)
    t = np.arange(count) / count
    growth = np.log(HIGH_HZ / LOW_HZ)
    # A whole number of turns, so that the end meets the beginning.
    turns = round(LOW_HZ * count / rate_hz * np.expm1(growth) / growth)
    return np.asarray(np.sin(2 * np.pi * turns * np.expm1(growth * t) / np.expm1(growth)))


def frequency_at(share: float) -> float:
    """Return the frequency that sounds at a share of a period.

    Parameters
    ----------
    share : float
        0 to 1.

    Returns
    -------
    float
        Hertz.
    """
    return float(LOW_HZ * (HIGH_HZ / LOW_HZ) ** share)
