"""Harmonic responses of orders 2 to 5 from the upward sweep."""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.delay import rotation
from loopback.response.sweeps import SweepKernel, fast_length
from loopback.signal.sweep import harmonic_lead_s
from loopback.signal.take import Signal

ORDERS = (2, 3, 4, 5)
_TOP_HZ = 24_000.0
_HALF_WINDOW = 0.4
"""Half-width of the gate as a fraction of the distance to the next harmonic."""


def read_harmonics(
    cross: C128, signal: Signal, kernel: SweepKernel, delay: float, linear: C128
) -> F64:
    """Separate the harmonics that the upward sweep leaves ahead of the linear response.

    Order n arrives ``L ln n`` early and in step with the sweep, so that dividing by the sweep
    calibrates it (Farina 2000; Novak, Lotton and Simon 2015).

    Parameters
    ----------
    cross : ndarray of complex128, shape (m,)
        Recorded times conjugate sweep spectrum on the bins of `kernel`.
    signal : Signal
        What was played.
    kernel : SweepKernel
        The sweep.
    delay : float
        Where the linear response lies in the window that was transformed, samples.
    linear : ndarray of complex128, shape (k,)
        Linear response on the bands.

    Returns
    -------
    ndarray of float64, shape (4, k)
        Magnitude of orders 2 to 5 over the linear response at the exciting frequency; nan where
        the harmonic lies above 24 kHz or the sweep's end, or the gate cannot resolve it.
    """
    step = kernel.rate_hz / kernel.n_fft
    count = min(len(cross), int(_TOP_HZ / step) - kernel.first)
    low = kernel.first * step
    f_hz = low + step * np.arange(count)
    power = np.abs(kernel.spectrum[:count]) ** 2
    # Both ends of the band fade, or the linear response would ring into the gates.
    taper = np.clip((f_hz[-1] - f_hz) / (0.08 * f_hz[-1]), 0, 1)
    taper = np.minimum(taper, np.clip((f_hz - low) / (2 * low), 0, 1))
    shape = 0.5 - 0.5 * np.cos(np.pi * taper)
    turned = cross[:count] * rotation(delay, kernel.first, count, kernel.n_fft)
    spectrum = np.zeros(kernel.first + count, dtype=np.complex128)
    spectrum[kernel.first :] = turned * (shape / power)
    n = 2 * fast_length(len(spectrum))
    impulse = np.fft.irfft(spectrum, n)
    rate = n * step
    leads = [harmonic_lead_s(order, signal.constant_s) for order in (*ORDERS, ORDERS[-1] + 1)]
    out = np.full((len(ORDERS), len(kernel.f_hz)), np.nan)
    size = np.abs(linear)
    for row, order in enumerate(ORDERS):
        half = int(_HALF_WINDOW * (leads[row + 1] - leads[row]) * rate)
        centre = round(leads[row] * rate)
        gate = np.hanning(2 * half + 1)
        part = np.take(impulse, np.arange(-centre - half, -centre + half + 1), mode="wrap")
        size_fft = fast_length(len(part))
        response = np.abs(np.fft.rfft(part * gate, size_fft))
        grid = np.arange(len(response)) * (rate / size_fft)
        at = order * kernel.f_hz
        usable = (at < 0.9 * f_hz[-1]) & (at > 4 * rate / len(part)) & (size > 0)
        out[row, usable] = np.interp(at[usable], grid, response) / size[usable]
    return out
