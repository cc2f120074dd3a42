"""What neither sweep's response explains, in blocks of time: where a recording is damaged."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.delay import rotation
from loopback.response.reading import TakeReading
from loopback.response.sweeps import sweep_kernel, sweep_spectrum
from loopback.signal.take import Signal, layout_of

_BLOCK_S = 0.001
_NEIGHBOURS = 30
_EDGE = 30
"""Blocks at both ends of a sweep that are left out: fades, and frequencies beyond the bands."""
_LOW_HZ = 500.0
"""A damaged block has edges, and those are heard above this even while the sweep is at 20 Hz."""


@dataclass(frozen=True, slots=True)
class BlockResidual:
    """Recorded minus explained, block by block.

    Parameters
    ----------
    t_s : ndarray of float64, shape (m,)
        Middle of each block of 1 ms, seconds from the start of the take; both sweeps.
    rms : ndarray of float64, shape (m,)
        Residual above 500 Hz, fraction of full scale.
    score : ndarray of float64, shape (m,)
        `rms` over the median of 30 ms on both sides; noise and harmonics alone stay below about 3.
    worst_t_s, worst_score, worst_dbfs : float
        The block that stands out most, and its level.
    """

    t_s: F64
    rms: F64
    score: F64
    worst_t_s: float
    worst_score: float
    worst_dbfs: float


def block_residual(channel: F64, signal: Signal, reading: TakeReading) -> BlockResidual:
    """Take from each sweep what the response of the *other* sweep predicts, and look at the rest.

    64 samples set to zero, repeated or shifted stand out by 20 dB and more wherever the sweep is
    above the noise by as much. A change of gain shows only at its two edges, if at all: for that
    see `loopback.response.agreement`. It costs four transforms: call it when there is suspicion.

    Parameters
    ----------
    channel : ndarray of float64, shape (n,)
        The channel that was read.
    signal : Signal
        What was played.
    reading : TakeReading
        What was read from it.

    Returns
    -------
    BlockResidual
        Of both sweeps.
    """
    kernel, layout = sweep_kernel(signal), layout_of(signal)
    stretch, rate = reading.stretch, signal.rate_hz
    spectrum, _ = sweep_spectrum(signal, stretch)
    block = round(_BLOCK_S * rate)
    high = np.arange(kernel.first, kernel.last) * (rate / kernel.n_fft) >= _LOW_HZ
    times, levels, scores = [], [], []
    delay = reading.delay_s * rate
    for name, response in (("up", reading.down), ("down", reading.up)):
        segment = next(s for s in layout.segments if s.name == name)
        exact = segment.start * (1 + stretch)
        begin = round(exact)
        window = channel[reading.start + begin : reading.start + begin + kernel.n_fft]
        window = window[: segment.length + round(0.1 * rate)]
        recorded = np.fft.rfft(window, kernel.n_fft)
        shift = delay + exact - begin
        wave = spectrum
        if name == "down":
            wave = spectrum.conj()
            shift += (segment.length - 1) * (1 + stretch)
        turned = response * np.exp(2j * np.pi * kernel.f_hz * reading.delay_s)
        smooth = _onto_bins(kernel.f_hz, turned, kernel.first, kernel.last, rate / kernel.n_fft)
        back = rotation(shift, kernel.first, len(wave), kernel.n_fft).conj()
        rest = np.zeros_like(recorded)
        inside = recorded[kernel.first : kernel.last] - wave * smooth * back
        rest[kernel.first : kernel.last] = np.where(high, inside, 0.0)
        residual = np.fft.irfft(rest, kernel.n_fft)[: segment.length // block * block]
        rms = np.sqrt(np.mean(residual.reshape(-1, block) ** 2, axis=1))
        padded = np.pad(rms, _NEIGHBOURS, mode="reflect")
        near = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEIGHBOURS + 1)
        score = rms / np.maximum(np.median(near, axis=1), 1e-12)
        times.append(((begin + (np.arange(len(rms)) + 0.5) * block) / rate)[_EDGE:-_EDGE])
        levels.append(rms[_EDGE:-_EDGE])
        scores.append(score[_EDGE:-_EDGE])
    t_s, rms, score = np.concatenate(times), np.concatenate(levels), np.concatenate(scores)
    worst = int(np.argmax(score))
    return BlockResidual(
        t_s=t_s,
        rms=rms,
        score=score,
        worst_t_s=float(t_s[worst]),
        worst_score=float(score[worst]),
        worst_dbfs=float(20 * np.log10(max(float(rms[worst]) * np.sqrt(2), 1e-12))),
    )


def _onto_bins(f_hz: F64, response: C128, first: int, last: int, step: float) -> C128:
    """Cubic interpolation over log frequency; a straight one would leave -90 dB of the sweep."""
    u = np.log(f_hz)
    slope = np.gradient(response, u)
    at = np.log(np.arange(first, last) * step)
    i = np.clip(np.searchsorted(u, at) - 1, 0, len(u) - 2)
    width = u[i + 1] - u[i]
    x = np.clip((at - u[i]) / width, 0.0, 1.0)
    left, right = response[i], response[i + 1]
    a = slope[i] * width - (right - left)
    b = -slope[i + 1] * width + (right - left)
    return np.asarray(
        (1 - x) * left + x * right + x * (1 - x) * ((1 - x) * a + x * b), dtype=np.complex128
    )
