"""Noise, hum and rounding: what is added to the signal on its way into the file."""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64

A_WEIGHTED_BANDWIDTH_HZ = 12_466.6
"""White noise under the A curve, 20 Hz to 20 kHz, is that of a flat band this wide (computed
independently from IEC 61672-1:2013, annex E)."""

_LOWEST_HZ = 0.1


def converter_density(f_hz: F64, noise_dbfs_a: float | None, corner_hz: float) -> F64:
    """Density of the converters' own noise: white, and rising as 1/f below a corner.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    noise_dbfs_a : float or None
        A-weighted level of the white part; None: no noise.
    corner_hz : float
        Where the 1/f part equals the white one.

    Returns
    -------
    ndarray of float64, shape (k,)
        Full scale squared per hertz, one-sided (a full-scale sine is 1/2); flat below 0.1 Hz.
    """
    if noise_dbfs_a is None:
        return np.zeros(len(f_hz))
    white = 0.5 * 10.0 ** (noise_dbfs_a / 10) / A_WEIGHTED_BANDWIDTH_HZ
    return np.asarray(white * (1 + corner_hz / np.maximum(f_hz, _LOWEST_HZ)))


def noise_bins(density: F64, n: int, rate_hz: float, rng: np.random.Generator) -> C128:
    """Draw Gaussian noise of a given density as the bins of ``rfft``.

    Parameters
    ----------
    density : ndarray of float64, shape (n // 2 + 1,)
        One-sided density at the bins, full scale squared per hertz.
    n : int
        Length of the noise in samples, even.
    rate_hz : float
        Sample rate.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    ndarray of complex128, shape (n // 2 + 1,)
        ``irfft`` of it is periodic noise of that density; the first and last bin are zero.
    """
    draws = rng.standard_normal(2 * len(density), dtype=np.float32).view(np.complex64)
    draws[0] = draws[-1] = 0
    return np.asarray(np.sqrt(density * (rate_hz * n / 4)) * draws)


def hum_wave(
    n: int, rate_hz: float, mains_hz: float, levels_dbfs: tuple[float, ...], phases_rad: F64
) -> F64:
    """Hum: the mains frequency and its multiples.

    Parameters
    ----------
    n : int
        Number of samples.
    rate_hz : float
        Sample rate.
    mains_hz : float
        Mains frequency.
    levels_dbfs : tuple of float
        Level of orders 1, 2, 3 ...
    phases_rad : ndarray of float64, shape (orders,)
        Phase of each at the first sample.

    Returns
    -------
    ndarray of float64, shape (n,)
        Fraction of full scale.
    """
    # cos(a + b) as a product of two short tables: one matrix product instead of n sines.
    step = 2 * np.pi * mains_hz / rate_hz * np.arange(1, len(levels_dbfs) + 1)
    block = 1024
    coarse = np.arange(0, n, block)[:, None] * step + phases_rad
    fine = step[:, None] * np.arange(block)
    peaks = 10.0 ** (np.asarray(levels_dbfs) / 20)
    left = np.concatenate([peaks * np.cos(coarse), -peaks * np.sin(coarse)], axis=1)
    right = np.concatenate([np.cos(fine), np.sin(fine)])
    return np.asarray(left @ right).reshape(-1)[:n]


def convert(samples: F64, bits: int | None) -> F64:
    """Round as a converter does, and stop at full scale.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,)
        Fraction of full scale.
    bits : int or None
        Word length, sign included; None: neither rounded nor stopped.

    Returns
    -------
    ndarray of float64, shape (n,)
        Whole multiples of ``2**(1 - bits)``, −1 to ``1 - 2**(1 - bits)``.
    """
    if bits is None:
        return samples
    steps = 2.0 ** (bits - 1)
    out = np.rint(samples * steps)
    np.clip(out, -steps, steps - 1, out=out)
    out /= steps
    return out


def returned(samples: F64 | None, count: int, latency: int, bits: int | None) -> F64:
    """Return what is played, bit for bit, as a digital input does that listens to the output.

    Parameters
    ----------
    samples : ndarray of float64, shape (m,), or None
        What is played; None: nothing.
    count : int
        Length of the recording.
    latency : int
        Samples until it arrives.
    bits : int or None
        Word length.

    Returns
    -------
    ndarray of float64, shape (count,)
        Fraction of full scale.
    """
    out = np.zeros(count)
    if samples is not None:
        out[latency : latency + len(samples)] = convert(samples, bits)
    return out
