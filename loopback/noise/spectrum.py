"""One transform of a whole silence: fine enough to tell tones from noise and from each other."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.noise.density import noise_bandwidth_bins

_TERMS = (0.35875, -0.48829, 0.14128, -0.01168)
"""Four-term Blackman-Harris window, side lobes 92 dB down (Harris 1978)."""
LEAK_DB = -85.0
"""Beside a tone its own side lobes, with a margin, hide what is weaker by more than this."""
_NEAR = 16
"""Bins on both sides of a tone that hold all of it but 1e-6."""
_POINTS = 4 * _NEAR
_BLOCK_BINS, _BLOCK_SHARE = 128, 0.04
LEAST_S = 0.5
LOWEST_HZ = 15.0


@dataclass(frozen=True, slots=True)
class Spectrum:
    """A silence as one windowed transform.

    Parameters
    ----------
    step_hz : float
        Distance of the bins.
    bins : ndarray of complex128, shape (k,)
        Scaled so that a sine in the middle of a bin has there the magnitude of its peak.
    floor : ndarray of float64, shape (k,)
        Mean power of the noise in each bin on the same scale, tones left out.
    strongest : float
        Power of the strongest bin from 15 Hz on.
    seconds : float
        Length of the silence.
    second, fourth : float
        Of the window w over time t in seconds, from the middle: mean of w t² and of w² t².
    bandwidth_bins : float
        Equivalent noise bandwidth of the window.
    """

    step_hz: float
    bins: C128
    floor: F64
    strongest: float
    seconds: float
    second: float
    fourth: float
    bandwidth_bins: float

    def floor_at(self, f_hz: float) -> float:
        """Return the mean noise power at the bin nearest to a frequency."""
        return float(self.floor[min(max(round(f_hz / self.step_hz), 0), len(self.floor) - 1)])

    def around(self, f_hz: float) -> tuple[int, C128]:
        """Return the bin nearest to a frequency, and the slow course of what lies around it.

        The bins around it, transformed back, are the windowed tone turned to 0 Hz, at a few points
        in time; its spectrum at any frequency follows from these points.
        """
        centre = min(max(round(f_hz / self.step_hz), _NEAR), len(self.bins) - 1 - _NEAR)
        order = np.arange(-_NEAR, _NEAR + 1)
        turn = np.exp(2j * np.pi * np.outer(_TIMES, order))
        return centre, np.asarray(turn @ self.bins[centre - _NEAR : centre + _NEAR + 1])

    def at(self, course: C128, offsets: F64) -> C128:
        """Return the spectrum at offsets, in bins, from the bin that `around` named."""
        turn = np.exp(-2j * np.pi * np.outer(offsets, _TIMES))
        return np.asarray(turn @ course / _POINTS, dtype=np.complex128)


_TIMES = np.arange(_POINTS) / _POINTS - 0.5


def whole_spectrum(x: F64, rate_hz: float) -> Spectrum:
    """Transform a whole silence under a Blackman-Harris window.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        Samples, fraction of full scale. Up to a tenth of a second at the end is left out, for a
        length whose transform is quick.
    rate_hz : float
        Sample rate.

    Returns
    -------
    Spectrum
        With bins 1 / duration apart.

    Raises
    ------
    ArgumentError
        If the silence is shorter than half a second.
    """
    unit = max(1, round(rate_hz / 10))
    count = len(x) // unit * unit
    if count < LEAST_S * rate_hz:
        raise ArgumentError(
            f"A silence of {len(x) / rate_hz:.2f} s was given.",
            "Tones cannot be told from noise in less than half a second.",
        )
    window, second, fourth, bandwidth = _window(count)
    part = x[:count] - np.mean(x[:count])
    part *= window
    bins = np.fft.rfft(part)
    bins *= 2 / (_TERMS[0] * count)
    # Time counted from the middle, as the window is symmetric about it.
    bins[1::2] *= -1
    seconds = count / rate_hz
    power = np.square(bins.real) + np.square(bins.imag)
    return Spectrum(
        step_hz=1 / seconds,
        bins=np.asarray(bins),
        floor=_floor(power),
        strongest=float(np.max(power[math.ceil(LOWEST_HZ * seconds) :], initial=0.0)),
        seconds=seconds,
        second=second * seconds**2,
        fourth=fourth * seconds**2,
        bandwidth_bins=bandwidth,
    )


@lru_cache(maxsize=1)
def _window(count: int) -> tuple[F64, float, float, float]:
    """Window w, means of w t² and w² t² over a time t of one unit, and noise bandwidth."""
    cosine = np.cos(2 * np.pi * np.arange(count) / count)
    # cos 2a and cos 3a as polynomials of cos a.
    a0, a1, a2, a3 = _TERMS
    window = a0 - a2 + cosine * (a1 - 3 * a3 + cosine * (2 * a2 + cosine * (4 * a3)))
    t = np.arange(count) / count - 0.5
    second, fourth = float(np.mean(window * t * t)), float(np.mean(np.square(window * t)))
    window.flags.writeable = False
    return window, second, fourth, noise_bandwidth_bins(window)


def _floor(power: F64) -> F64:
    """Mean power per bin from medians of blocks, which a few tones do not move.

    The power of one bin of noise is exponentially distributed: its median is ln 2 of its mean.
    """
    centres: list[float] = []
    levels: list[float] = []
    at = 1
    while at < len(power):
        stop = min(len(power), at + max(_BLOCK_BINS, int(_BLOCK_SHARE * at)))
        if len(power) - stop < _BLOCK_BINS // 2:
            stop = len(power)
        centres.append((at + stop) / 2)
        middle = (stop - at) // 2
        levels.append(float(np.partition(power[at:stop], middle)[middle]) / math.log(2))
        at = stop
    return np.interp(np.arange(len(power), dtype=np.float64), centres, levels)
