"""Transforms as sums, one frequency at a time: slow, and nothing in them to get wrong."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64


def transform_at(samples: F64, cycles_per_sample: float) -> complex:
    """Fourier sum at one frequency."""
    n = np.arange(len(samples))
    return complex(np.sum(samples * np.exp(-2j * np.pi * cycles_per_sample * n)))


def band_response(
    played: F64, heard: F64, bins: range, n_fft: int, centre_bin: float, delay: float
) -> complex:
    """Least-squares response over some bins, with a delay off while averaging."""
    top, bottom = 0j, 0.0
    for k in bins:
        x, y = transform_at(played, k / n_fft), transform_at(heard, k / n_fft)
        top += y * x.conjugate() * np.exp(2j * np.pi * k * delay / n_fft)
        bottom += abs(x) ** 2
    return complex(top / bottom * np.exp(-2j * np.pi * centre_bin * delay / n_fft))
