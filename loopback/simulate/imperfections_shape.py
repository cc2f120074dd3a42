"""Imperfections that bend the waveform: pure functions on bins, oversampled.

At twice the rate the third harmonic of anything below half the sample rate folds back to above it
and is cut off, so that it lands nowhere; at four times the rate this holds up to the seventh.
"""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64

_MILD = 0.3
"""Up to this fraction of its level a soft limit makes fifth harmonics below −85 dB."""


def slightly_bent(
    samples: F64, n: int, h2_db: float | None, h3_db: float | None, at_dbfs: float
) -> C128:
    """Bend a waveform by a square and a cubic term.

    Parameters
    ----------
    samples : ndarray of float64, shape (m,)
        What is played, fraction of full scale.
    n : int
        Length of the transform, even and not below m; zeros are added.
    h2_db, h3_db : float or None
        Level of the second and third harmonic of a sine, relative to it; None: none.
    at_dbfs : float
        Level of that sine.

    Returns
    -------
    ndarray of complex128, shape (n // 2 + 1,)
        ``rfft`` of the bent waveform.
    """
    spectrum = np.fft.rfft(samples, n)
    if h2_db is None and h3_db is None:
        return spectrum
    peak = 10.0 ** (at_dbfs / 20)
    square = 0.0 if h2_db is None else 2 * 10.0 ** (h2_db / 20) / peak
    cube = 0.0 if h3_db is None else 4 * 10.0 ** (h3_db / 20) / peak**2
    x = _oversampled(spectrum, n, 2)
    return _back(x + (square + cube * x) * x * x, n)


def soft_clip(bins: C128, n: int, level: float) -> C128:
    """Limit a waveform softly, ``L tanh(v / L)``.

    Parameters
    ----------
    bins : ndarray of complex128, shape (n // 2 + 1,)
        ``rfft`` of the waveform.
    n : int
        Its length, even.
    level : float
        L, fraction of full scale.

    Returns
    -------
    ndarray of complex128, shape (n // 2 + 1,)
        ``rfft`` of the limited waveform.
    """
    x = _oversampled(bins, n, 2)
    if np.max(np.abs(x)) > _MILD * level:
        x = _oversampled(bins, n, 4)
    return _back(level * np.tanh(x / level), n)


def bent(bins: C128, n: int, square: float, cube: float) -> C128:
    """Bend a waveform, ``x + square x² + cube x³``.

    Parameters
    ----------
    bins : ndarray of complex128, shape (n // 2 + 1,)
        ``rfft`` of the waveform.
    n : int
        Its length, even.
    square, cube : float
        Factors, per full scale and per its square.

    Returns
    -------
    ndarray of complex128, shape (n // 2 + 1,)
        ``rfft`` of the bent waveform.
    """
    x = _oversampled(bins, n, 2)
    return _back(x + (square + cube * x) * x * x, n)


def _oversampled(bins: C128, n: int, times: int) -> F64:
    return np.asarray(times * np.fft.irfft(bins, times * n))


def _back(samples: F64, n: int) -> C128:
    return np.asarray(np.fft.rfft(samples)[: n // 2 + 1] * (n / len(samples)))
