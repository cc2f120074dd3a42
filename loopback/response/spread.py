"""Variance from few repeats: pooled over neighbouring bands, so that no single one is trusted."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64

_REACH = 16
"""Bands on either side over which a variance is pooled: a third of an octave."""
_OUTLIER = 12.0
"""A single band this far above its pooled variance is disturbed itself, such as by hum."""


def pooled_variance(raw: F64, dof: int) -> F64:
    """Smooth a variance over neighbouring bands, keeping single disturbed bands as they are.

    Parameters
    ----------
    raw : ndarray of float64, shape (k,)
        Variance of each band with few degrees of freedom.
    dof : int
        How many.

    Returns
    -------
    ndarray of float64, shape (k,)
        Running median over 2/3 octave, scaled to the mean of a chi-square (Wilson and Hilferty
        1931), and the raw value where that stands out.
    """
    padded = np.pad(raw, _REACH, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * _REACH + 1)
    middle = np.median(windows, axis=1) / (1 - 2 / (9 * dof)) ** 3
    return np.asarray(np.where(raw > _OUTLIER * middle, raw, middle), dtype=np.float64)
