"""Harmonic responses of orders 2 to 5 from the upward sweep."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.delay import rotation
from loopback.response.sweeps import SweepKernel, fast_length, sweep_kernel
from loopback.signal.sweep import harmonic_lead_s
from loopback.signal.take import Signal

ORDERS = (2, 3, 4, 5)
_TOP_HZ = 24_000.0
_HALF_WINDOW = 0.4
"""Half-width of the gate as a fraction of the distance to the next harmonic."""


@dataclass(frozen=True, slots=True)
class Silence:
    """Noise that a sweep was recorded with.

    Parameters
    ----------
    f_hz, psd : ndarray of float64, shape (m,)
        One-sided density, full scale squared per hertz; nan where it is not known.
    window_length : int
        Recorded samples that went into the transform.
    """

    f_hz: F64
    psd: F64
    window_length: int


def read_harmonics(
    cross: C128, signal: Signal, kernel: SweepKernel, delay: float, linear: C128, silence: Silence
) -> tuple[F64, F64]:
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
    silence : Silence
        What was there beside it.

    Returns
    -------
    size : ndarray of float64, shape (4, k)
        Magnitude of orders 2 to 5 over the linear response at the exciting frequency; nan where
        the harmonic lies above 24 kHz or the sweep's end, or the gate cannot resolve it.
    var : ndarray of float64, shape (4, k)
        Mean square of what the noise alone leaves there.
    """
    step = kernel.rate_hz / kernel.n_fft
    inverse = _inverse(signal)
    count = len(inverse)
    turned = cross[:count] * rotation(delay, kernel.first, count, kernel.n_fft)
    turned *= inverse
    n = 2 * fast_length(kernel.first + count)
    spectrum = np.zeros(n // 2 + 1, dtype=np.complex128)
    spectrum[kernel.first : kernel.first + count] = turned
    impulse = np.fft.irfft(spectrum, n)
    rate = n * step
    leads = [harmonic_lead_s(order, signal.constant_s) for order in (*ORDERS, ORDERS[-1] + 1)]
    out = np.full((len(ORDERS), len(kernel.f_hz)), np.nan)
    var = np.full(out.shape, np.nan)
    size = np.abs(linear)
    for row, order in enumerate(ORDERS):
        half = int(_HALF_WINDOW * (leads[row + 1] - leads[row]) * rate)
        centre = round(leads[row] * rate)
        part = np.take(impulse, np.arange(-centre - half, -centre + half + 1), mode="wrap")
        size_fft = fast_length(len(part))
        gate = _gate(len(part))
        response = np.abs(np.fft.rfft(part * gate, size_fft))
        grid = np.arange(len(response)) * (rate / size_fft)
        at = order * kernel.f_hz
        usable = (
            (at < 0.9 * (kernel.first + count) * step) & (at > 4 * rate / len(part)) & (size > 0)
        )
        out[row, usable] = np.interp(at[usable], grid, response) / size[usable]
        through = float(np.sum(np.square(gate))) / n
        bins = np.rint(at[usable] / step).astype(np.int64) - kernel.first
        # A bin of noise has mean square n·rate·S/2; here it is divided by the sweep like all else.
        psd = _as_the_gate_sees(silence, len(part) / rate)
        noise = np.interp(at[usable], silence.f_hz, psd) * kernel.rate_hz / 2
        noise *= silence.window_length * np.square(inverse[bins] * np.abs(kernel.spectrum[bins]))
        var[row, usable] = through * noise / size[usable] ** 2
    return out, var


def _as_the_gate_sees(silence: Silence, gate_length_s: float) -> F64:
    """Density averaged over what a Hann gate mixes: a tone is in all that it smears it over."""
    step = float(silence.f_hz[1] - silence.f_hz[0])
    half = int(2 / gate_length_s / step)
    if half < 1:
        return silence.psd
    weights = np.hanning(2 * half + 3)[1:-1]
    known = np.isfinite(silence.psd)
    total = np.convolve(np.where(known, silence.psd, 0.0), weights, mode="same")
    norm = np.convolve(known.astype(np.float64), weights, mode="same")
    return np.asarray(np.where(known, total / np.maximum(norm, 1e-12), np.nan))


def gate_s(signal: Signal, order: int) -> float:
    """Return how long the gate of one order is: what it resolves is about its inverse.

    Parameters
    ----------
    signal : Signal
        What was played.
    order : int
        2 to 5.

    Returns
    -------
    float
        Seconds.
    """
    first, after = (harmonic_lead_s(n, signal.constant_s) for n in (order, order + 1))
    return 2 * _HALF_WINDOW * (after - first)


@lru_cache(maxsize=2)
def _inverse(signal: Signal) -> F64:
    """One over the power of the sweep, faded at both ends or the response would ring into gates."""
    kernel = sweep_kernel(signal)
    step = kernel.rate_hz / kernel.n_fft
    count = min(len(kernel.spectrum), int(_TOP_HZ / step) - kernel.first)
    f_hz = step * np.arange(kernel.first, kernel.first + count)
    top = np.clip((f_hz[-1] - f_hz) / (0.08 * f_hz[-1]), 0, 1)
    bottom = np.clip((f_hz - f_hz[0]) / (2 * f_hz[0]), 0, 1)
    shape = 0.5 - 0.5 * np.cos(np.pi * np.minimum(top, bottom))
    return np.asarray(shape / np.abs(kernel.spectrum[:count]) ** 2, dtype=np.float64)


@lru_cache(maxsize=16)
def _gate(length: int) -> F64:
    return np.asarray(np.hanning(length), dtype=np.float64)
