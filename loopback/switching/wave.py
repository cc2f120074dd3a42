"""The course of one press, made small enough to be kept with the result."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.switching.pop import BEFORE_S, window_length
from loopback.switching.result import Wave

_COLUMNS = 640
"""About as many as a picture has pixels for it."""


def wave_of(band: F64, at_s: float, rate_hz: int) -> Wave:
    """Take the extremes of the window of one press, column by column.

    Parameters
    ----------
    band : ndarray of float64, shape (n,)
        The recording in the band.
    at_s : float
        Moment of the event.
    rate_hz : int
        Sample rate.

    Returns
    -------
    Wave
        Of the same window that its figures are of; no peak is lost.
    """
    begin = round(at_s * rate_hz) - round(BEFORE_S * rate_hz)
    part = band[begin : begin + window_length(rate_hz)]
    column = max(1, -(-len(part) // _COLUMNS))
    starts = np.arange(0, len(part), column)
    middle = (starts + (np.minimum(starts + column, len(part)) - 1)) / 2
    return Wave(
        np.asarray(middle / rate_hz - BEFORE_S),
        np.minimum.reduceat(part, starts),
        np.maximum.reduceat(part, starts),
    )
