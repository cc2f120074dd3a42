"""The same figures in silence: what a pop has to exceed, and what its doubt is made of."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.switching.dc_step import step_window
from loopback.switching.events import place_windows
from loopback.switching.pop import cut, figures_of, window_length

WINDOWS = 100
LAID_OVER = 16
"""Windows of silence that are laid over a pop to find its doubt."""
PERCENTILE = 0.99


@dataclass(frozen=True, slots=True)
class Silence:
    """Windows of silence in one state of the pedal.

    Parameters
    ----------
    band, weighted : ndarray of float64, shape (k, m)
        In the band, and under the A curve; k is 0 where there is no silence.
    raw : ndarray of float64, shape (j, w)
        Unfiltered, as long as `loopback.switching.dc_step` wants them.
    limits : ndarray of float64, shape (3,)
        99th percentile of peak, A-weighted peak and energy.
    """

    band: F64
    weighted: F64
    raw: F64
    limits: F64


def silence_of(
    x: F64, band: F64, weighted: F64, stretches: list[tuple[int, int]], rate_hz: int
) -> Silence:
    """Measure silence as if there were pops in it.

    Parameters
    ----------
    x, band, weighted : ndarray of float64, shape (n,)
        The recording, unfiltered, in the band, under the A curve.
    stretches : list of (int, int)
        Where it is silent.
    rate_hz : int
        Sample rate.

    Returns
    -------
    Silence
        From `WINDOWS` windows.
    """
    starts = place_windows(stretches, window_length(rate_hz), WINDOWS)
    quiet, quiet_a = cut(band, starts, rate_hz), cut(weighted, starts, rate_hz)
    length = step_window(rate_hz)
    raw_starts = place_windows(stretches, length, LAID_OVER)
    raw = x[raw_starts[:, None] + np.arange(length)]
    if not len(starts):
        return Silence(quiet, quiet_a, raw, np.zeros(3))
    figures = figures_of(quiet, quiet_a, float(np.mean(np.square(quiet))), rate_hz)
    return Silence(quiet, quiet_a, raw, np.array([percentile_99(f) for f in figures.T[:3]]))


def percentile_99(values: F64) -> float:
    """Give the value that one more draw exceeds with a probability of at most 1 %.

    An order statistic: of n independent draws, one more exceeds the k-th with probability
    ``1 - k / (n + 1)``. It takes 99 draws at least.

    Parameters
    ----------
    values : ndarray of float64, shape (n,)
        Draws.

    Returns
    -------
    float
        The k-th of them; the largest of all where there are fewer than 99.
    """
    k = min(len(values), math.ceil(PERCENTILE * (len(values) + 1)))
    return float(np.sort(values)[k - 1])
