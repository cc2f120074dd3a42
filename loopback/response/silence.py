"""What a take's silences say: noise density, and the variance it gives a response."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from loopback.arrays import F64
from loopback.response.spread import pooled_variance
from loopback.response.sweeps import SweepKernel
from loopback.signal.take import Signal, layout_of

_SEGMENT_S = 0.25
ROUNDING = 2.0**-23
"""Step of a 24-bit recording; its rounding noise is the least that is ever believed."""
_DOF = 10
"""Of one bin of the density: seven half-overlapping segments with two each, less the overlap."""
_SEVERAL = 4
_SETTLE = 0.5
"""Of rest and tail, the part after the sweep that may still ring."""


def silence_density(
    samples: F64, signal: Signal, start: int, stretch: float = 0.0
) -> tuple[F64, F64]:
    """One-sided noise density of the silences of one take.

    Half-overlapping Hann segments of 0.25 s (Welch 1967), from the lead and from the later half
    of rest and tail, each as far as it is in the recording.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,)
        One channel of the recording.
    signal : Signal
        What was played.
    start : int
        First sample of the take.
    stretch : float
        Ratio of the clocks, minus 1.

    Returns
    -------
    f_hz : ndarray of float64, shape (m,)
        From 0 to half the sample rate.
    density : ndarray of float64, shape (m,)
        Full scale squared per hertz; all nan when no silence is left.
    """
    layout = layout_of(signal)
    size = round(_SEGMENT_S * signal.rate_hz)
    f_hz: F64 = np.arange(size // 2 + 1, dtype=np.float64) * (signal.rate_hz / size)
    window = _hann(size)
    total = np.zeros(len(f_hz))
    count = 0
    for name, skipped in (("lead", 0.0), ("rest", _SETTLE), ("tail", _SETTLE)):
        segment = next(s for s in layout.segments if s.name == name)
        begin = start + round((segment.start + skipped * segment.length) * (1 + stretch))
        end = min(len(samples), start + int(segment.stop * (1 + stretch)))
        for at in range(max(0, begin), end - size + 1, size // 2):
            part = samples[at : at + size]
            part = part - part.mean()
            part *= window
            spectrum = np.fft.rfft(part)
            total += spectrum.real**2 + spectrum.imag**2
            count += 1
    if count == 0:
        return f_hz, np.full(len(f_hz), np.nan)
    density: F64 = total * (2 / (count * signal.rate_hz * float(np.sum(window**2))))
    density[0] = density[1]
    density[-1] /= 2 if size % 2 == 0 else 1
    return f_hz, np.maximum(density, ROUNDING**2 / 12 * 2 / signal.rate_hz)


@lru_cache(maxsize=2)
def _hann(size: int) -> F64:
    window: F64 = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size)
    window.flags.writeable = False
    return window


def silence_s(signal: Signal) -> float:
    """Length of the silences that `silence_density` reads in one complete take.

    Parameters
    ----------
    signal : Signal
        What was played.

    Returns
    -------
    float
        Seconds.
    """
    layout = layout_of(signal)
    lead, rest, tail = (layout.segment(name).length for name in ("lead", "rest", "tail"))
    return (lead + (1 - _SETTLE) * (rest + tail)) / signal.rate_hz


def noise_variance(kernel: SweepKernel, noise_f_hz: F64, noise_psd: F64, window_length: int) -> F64:
    """Variance that this noise gives the response of one sweep.

    Parameters
    ----------
    kernel : SweepKernel
        The sweep.
    noise_f_hz, noise_psd : ndarray of float64
        One-sided density.
    window_length : int
        Recorded samples that went into the transform.

    Returns
    -------
    ndarray of float64, shape (k,)
        E|error|² of each band: a bin of noise has mean square n·rate·S/2, and a band divides
        the sum over its bins by the sweep's energy in it.
    """
    step = kernel.rate_hz / kernel.n_fft
    edges = np.append(kernel.first + kernel.edges, kernel.last) * step - step / 2
    spacing = noise_f_hz[1] - noise_f_hz[0]
    area = np.concatenate(([0.0], np.cumsum(noise_psd) * spacing))
    at_edges = np.interp(edges, np.append(noise_f_hz, noise_f_hz[-1] + spacing) - spacing / 2, area)
    density = pooled_variance(np.diff(at_edges) / np.diff(edges), _DOF)
    bins = np.diff(np.append(kernel.edges, kernel.last - kernel.first))
    # Over several bins a sweep passes well inside the window, and zeros behind it dilute nothing.
    length = np.where(bins < _SEVERAL, window_length, kernel.n_fft)
    return np.asarray(length * kernel.rate_hz / 2 * density / kernel.energy)
