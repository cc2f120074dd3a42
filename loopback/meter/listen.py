"""From one short sweep to a response, and from several to a mean with its variance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.delay import coarse_delay, phase_delay_s, rotation
from loopback.response.reading import RunResponse
from loopback.response.spread import pooled_variance
from loopback.response.sweeps import sweep_kernel
from loopback.signal.take import Signal, layout_of

_CLEAR = 0.05
_FULL = 0.999
_LEAST = 1e-7
"""Rounding to 24 bits: relative scatter below it is never believed."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One short sweep as it came back.

    Parameters
    ----------
    h : ndarray of complex128, shape (k,)
        Response on the grid of the signal, phase referred to `delay_s`.
    delay_s : float
        Delay from playing to recording; 0 where nothing was heard that tells it.
    peak : float
        Largest sample, fraction of full scale.
    """

    h: C128
    delay_s: float
    peak: float

    @property
    def clipped(self) -> bool:
        """Whether it reached full scale."""
        return self.peak >= _FULL


def hear(samples: F64, signal: Signal) -> Heard:
    """Deconvolve one short sweep, wherever it lies in a recording.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,)
        One channel; begins when playing begins, and may come late by up to half a second.
    signal : Signal
        The short signal that was played.

    Returns
    -------
    Heard
        See there.
    """
    kernel = sweep_kernel(signal)
    window = np.ascontiguousarray(samples[: kernel.n_fft])
    recorded = np.fft.rfft(window, kernel.n_fft)[kernel.first : kernel.last]
    cross = recorded * kernel.spectrum.conj()
    back = layout_of(signal).segment("up").start
    delay, coherence = coarse_delay(cross, kernel.first, kernel.n_fft, kernel.rate_hz)
    delay = delay % kernel.n_fft if coherence > _CLEAR else float(back)
    turned = cross * rotation(delay, kernel.first, len(cross), kernel.n_fft)
    h = kernel.band_sums(turned) / kernel.energy
    return Heard(h, (delay - back) / kernel.rate_hz, float(np.max(np.abs(window), initial=0.0)))


def joined(heard: Sequence[Heard], signal: Signal, name: str) -> RunResponse:
    """Average several sweeps of one hook-up.

    Parameters
    ----------
    heard : sequence of Heard
        Two or more of one stream.
    signal : Signal
        What was played.
    name : str
        What the response is called.

    Returns
    -------
    RunResponse
        Variance from the scatter of the sweeps, pooled over neighbouring bands.
    """
    f_hz = sweep_kernel(signal).f_hz
    first = heard[0]
    rows = []
    for one in heard:
        late = one.delay_s - first.delay_s
        h = one.h * np.exp(-2j * np.pi * f_hz * late)
        shift = phase_delay_s(f_hz, h * first.h.conj(), np.abs(first.h) ** 2)
        rows.append(h * np.exp(2j * np.pi * f_hz * shift))
    stack = np.array(rows)
    mean = stack.mean(axis=0)
    n = len(stack)
    level = np.median(np.abs(stack), axis=1, keepdims=True)
    even = stack / level * level.mean()
    residual = np.sum(np.abs(even - even.mean(axis=0)) ** 2, axis=0) / (n - 1)
    var = np.maximum(pooled_variance(residual, n - 1), (_LEAST * np.abs(mean)) ** 2) / n
    return RunResponse(name, f_hz, mean, var, 0.0, 0.0, n)


def single(heard: Heard, like: RunResponse, name: str) -> RunResponse:
    """Make a response of one sweep.

    Parameters
    ----------
    heard : Heard
        The sweep.
    like : RunResponse
        Mean of several through the same lead, whose noise it shares.
    name : str
        What the response is called.

    Returns
    -------
    RunResponse
        With the variance that one of those sweeps had.
    """
    return RunResponse(name, like.f_hz, heard.h, like.var * like.takes, 0.0, 0.0, 1)
