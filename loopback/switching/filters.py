"""The band and the A weighting as filters on a whole recording, and true peak."""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64
from loopback.noise.weighting import a_weighting_response

LOW_HZ, HIGH_HZ = 20.0, 20_000.0
OVERSAMPLING = 4
_PAD_S = 0.5
_CANDIDATE = 0.35
_AROUND = 128
_EDGE_SHARE = 0.1
"""Above the band the response falls over this share of 20 kHz, or up to half the sample rate."""


def in_band(x: F64, rate_hz: int) -> F64:
    """Leave what lies between 20 Hz and 20 kHz.

    Second-order Butterworth high-pass, causal; low-pass of linear phase, flat to 20 kHz.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        One channel.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (n,)
        Same unit.
    """
    n, f_hz = _bins(len(x), rate_hz)
    s = 1j * f_hz / LOW_HZ
    return _filtered(x, n, s**2 / (s**2 + np.sqrt(2) * s + 1) * _lowpass(f_hz, rate_hz))


def a_weighted(x: F64, rate_hz: int) -> F64:
    """Weight with the A curve of IEC 61672-1:2013, within the band's upper end.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        One channel.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (n,)
        Same unit; the wave, not its level.
    """
    n, f_hz = _bins(len(x), rate_hz)
    return _filtered(x, n, a_weighting_response(f_hz) * _lowpass(f_hz, rate_hz))


def true_peak(x: F64) -> F64:
    """Largest magnitude between the samples as well: four times oversampled.

    The method of ITU-R BS.1770-5, annex 2 (oversample, take the absolute maximum), with the exact
    interpolation of a band-limited wave in place of its short filter: within 0.7 dB for a tone at
    half the sample rate and 0.2 dB at a quarter of it, always on the low side.

    Parameters
    ----------
    x : ndarray of float64, shape (..., n)
        Windows that are quiet at both ends.

    Returns
    -------
    ndarray of float64, shape (...)
        Same unit.
    """
    if x.ndim > 1:
        return np.array([true_peak(row) for row in x])
    size = np.abs(x)
    loud = np.flatnonzero(size > _CANDIDATE * np.max(size, initial=0.0))
    if not len(loud):
        return np.asarray(np.max(size, initial=0.0))
    # Whatever is 9 dB below the largest sample cannot exceed it between samples in this band.
    part = x[max(0, int(loud[0]) - _AROUND) : int(loud[-1]) + _AROUND]
    n = _quick_length(len(part) + _AROUND)
    fine = np.fft.irfft(np.fft.rfft(part * _faded(len(part)), n), OVERSAMPLING * n)
    return np.asarray(OVERSAMPLING * np.max(np.abs(fine)))


def _faded(length: int) -> F64:
    """Bring both ends to zero, so that nothing rings there."""
    fade = min(_AROUND // 2, length // 2)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / max(1, fade))
    out = np.ones(length)
    out[:fade], out[length - fade :] = ramp, ramp[::-1]
    return out


def _bins(length: int, rate_hz: int) -> tuple[int, F64]:
    n = _quick_length(length + round(_PAD_S * rate_hz))
    return n, np.arange(n // 2 + 1, dtype=np.float64) * (rate_hz / n)


def _quick_length(n: int) -> int:
    """Smallest length from `n` on of the form 2^a or 3·2^a or 5·2^a or 9·2^a or 15·2^a."""
    return min(m << max(0, (-(-n // m) - 1).bit_length()) for m in (2, 6, 10, 18, 30))


def _filtered(x: F64, n: int, response: C128) -> F64:
    spectrum = np.fft.rfft(x - np.median(x), n)
    return np.asarray(np.fft.irfft(spectrum * response, n)[: len(x)])


def _lowpass(f_hz: F64, rate_hz: int) -> F64:
    stop = min(HIGH_HZ * (1 + _EDGE_SHARE), rate_hz / 2)
    part = np.clip((f_hz - HIGH_HZ) / (stop - HIGH_HZ), 0.0, 1.0)
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * part))
