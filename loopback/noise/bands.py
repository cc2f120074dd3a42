"""Noise density averaged over fractions of an octave, with its doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64

_LEAST_LINES = 6
_ALIKE = 1.5
"""Neighbouring lines of a Hann window share their noise: so many count as one (Harris 1978: its
equivalent noise bandwidth)."""


@dataclass(frozen=True, slots=True)
class BandDensity:
    """Mean density of each band.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Geometric centres.
    level_dbfs : ndarray of float64, shape (k,)
        In 1 Hz; a full-scale sine is 0 dBFS.
    u_db : ndarray of float64, shape (k,)
        Standard uncertainty from the scatter of the lines in the band; nan where they are too few
        to tell. A single tone in the band scatters, too.
    """

    f_hz: F64
    level_dbfs: F64
    u_db: F64


def band_density(
    f_hz: F64, psd: F64, bands_per_octave: int, low_hz: float, high_hz: float
) -> BandDensity | None:
    """Average a density over bands that lie whole between two frequencies.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (m,)
        Evenly spaced, rising.
    psd : ndarray of float64, shape (m,)
        One-sided, full scale squared per hertz.
    bands_per_octave : int
        Their width.
    low_hz, high_hz : float
        Where the first band begins, and what the last does not reach beyond; nor beyond the last
        line.

    Returns
    -------
    BandDensity or None
        Bands without a line are left out; None where there is no other.
    """
    if len(f_hz) < 2:
        return None
    top_hz = min(high_hz, float(f_hz[-1] + (f_hz[1] - f_hz[0]) / 2))
    count = math.floor(bands_per_octave * math.log2(top_hz / low_hz) + 1e-9)
    if count < 1:
        return None
    edges = low_hz * 2.0 ** (np.arange(count + 1) / bands_per_octave)
    place = np.searchsorted(edges, f_hz, side="right") - 1
    use = (place >= 0) & (place < count) & np.isfinite(psd)
    lines = np.bincount(place[use], minlength=count)
    total = np.bincount(place[use], weights=psd[use], minlength=count)
    squares = np.bincount(place[use], weights=np.square(psd[use]), minlength=count)
    held = (lines > 0) & (total > 0)
    if not held.any():
        return None
    n, mean = lines[held], total[held] / lines[held]
    variance = np.maximum(squares[held] / n - np.square(mean), 0.0) * n / np.maximum(n - 1, 1)
    share = np.sqrt(variance * _ALIKE / n) / mean
    u_db = np.where(n >= _LEAST_LINES, 10 / math.log(10) * share, np.nan)
    centres = np.sqrt(edges[:-1] * edges[1:])[held]
    # The power of a full-scale sine is 1/2.
    return BandDensity(centres, 10 * np.log10(2 * mean), np.asarray(u_db))
