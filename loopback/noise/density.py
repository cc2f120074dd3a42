"""Power spectral density of a stretch of silence."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError

SEGMENT_S = 0.2
"""5 Hz between points: mains lines of 50 and 60 Hz and all their multiples fall on a point."""


def hann(length: int) -> F64:
    """Return the periodic Hann window.

    Parameters
    ----------
    length : int
        Samples.

    Returns
    -------
    ndarray of float64, shape (length,)
        Peak 1.
    """
    return 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(length) / length)


def noise_bandwidth_bins(window: F64) -> float:
    """Return the equivalent noise bandwidth ``N Σw² / (Σw)²`` of a window (Harris 1978).

    Parameters
    ----------
    window : ndarray of float64, shape (n,)
        The window.

    Returns
    -------
    float
        In bins of the transform of its length.
    """
    return float(len(window) * np.sum(np.square(window)) / np.sum(window) ** 2)


def welch_density(x: F64, rate_hz: float, segment_s: float = SEGMENT_S) -> tuple[F64, F64]:
    """Estimate a one-sided density from half-overlapping Hann segments (Welch 1967).

    Each segment loses its mean first, so DC offset does not leak into the lowest points. The
    window's noise bandwidth is divided out: the points integrate to the mean square of the noise.
    A sine spreads over five points; its power is their sum times the spacing.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        Samples, fraction of full scale; shorter than one segment makes one segment of all.
    rate_hz : float
        Sample rate.
    segment_s : float
        Length of one segment, seconds.

    Returns
    -------
    f_hz : ndarray of float64, shape (k,)
        Points from 0 to half the sample rate.
    psd : ndarray of float64, shape (k,)
        Full scale squared per hertz.

    Raises
    ------
    ArgumentError
        If there are fewer than 16 samples.
    """
    if len(x) < 16:
        raise ArgumentError(f"A density of {len(x)} samples was asked for; 16 are the least.")
    length = min(len(x), max(16, round(segment_s * rate_hz)))
    hop = max(1, length // 2)
    window = hann(length)
    starts = range(0, len(x) - length + 1, hop)
    power = np.zeros(length // 2 + 1)
    for start in starts:
        part = x[start : start + length]
        part = part - part.mean()
        part *= window
        spectrum = np.fft.rfft(part)
        power += np.square(spectrum.real) + np.square(spectrum.imag)
    psd = power * (2.0 / (len(starts) * rate_hz * float(np.sum(np.square(window)))))
    psd[0] /= 2
    if length % 2 == 0:
        psd[-1] /= 2
    return np.arange(length // 2 + 1, dtype=np.float64) * (rate_hz / length), psd
