"""Variance from few observations: pooled over neighbouring bands, so that no one is trusted."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import F64

_REACH = 16
"""Bands on either side over which a variance is pooled: a third of an octave."""
_NEVER = 10.0
"""Chance leaves a band alone in its variance once in exp(10) bands, or less."""


def pooled_variance(raw: F64, dof: int) -> F64:
    """Smooth a variance over neighbouring bands, keeping single disturbed bands as they are.

    Parameters
    ----------
    raw : ndarray of float64, shape (k,)
        Variance of each band, or its ratio to an expected one, with few degrees of freedom.
    dof : int
        How many.

    Returns
    -------
    ndarray of float64, shape (k,)
        Running median over 2/3 octave, scaled to the mean of a chi-square (Wilson and Hilferty
        1931), and the raw value where that stands out further than chance would have it (Laurent
        and Massart 2000, lemma 1), as in a band with hum.
    """
    padded = np.pad(raw, _REACH, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * _REACH + 1)
    middle = np.median(windows, axis=1) / (1 - 2 / (9 * dof)) ** 3
    outlier = 1 + 2 * math.sqrt(_NEVER / dof) + 2 * _NEVER / dof
    return np.asarray(np.where(raw > outlier * middle, raw, middle), dtype=np.float64)
