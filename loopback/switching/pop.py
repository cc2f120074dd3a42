"""The figures of one pop, and their doubt: from the wave itself and the silence around it.

Peak: largest magnitude in the band, between samples too. A-weighted peak: the same of the wave
under the A curve. Burst level: the mean square that the pop's energy gives a burst of 50 ms. Energy
duration: time between 5 and 95 % of the energy. Decay: time from the event until the wave stays
below a tenth of its peak, or six times the noise. The doubt of each is its scatter when the
silence of other moments, hum and all, is laid over the same wave.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64
from loopback.quantity import Estimate
from loopback.switching.filters import true_peak

BEFORE_S, AFTER_S = 0.01, 0.25
BURST_S = 0.05
LEVELS = (0.05, 0.95)
_DECAYED = 0.1
_OVER_NOISE = 6.0
_LATE_SHARE = 0.3
"""Of what is taken off a decay for the noise, as its doubt."""


@dataclass(frozen=True, slots=True)
class Pop:
    """Figures of one window.

    Parameters
    ----------
    peak, a_weighted_peak : Estimate
        Amplitudes.
    energy : Estimate
        Integral of the square over time, noise taken off; ``"V²s"`` or ``"FS²s"``.
    energy_s, decay_s : Estimate
        Seconds.
    """

    peak: Estimate
    a_weighted_peak: Estimate
    energy: Estimate
    energy_s: Estimate
    decay_s: Estimate


def window_length(rate_hz: int) -> int:
    """Length of the window in which a pop is measured.

    Parameters
    ----------
    rate_hz : int
        Sample rate.

    Returns
    -------
    int
        Samples, an even number.
    """
    return 2 * round((BEFORE_S + AFTER_S) * rate_hz / 2)


def cut(x: F64, starts: NDArray[np.int64], rate_hz: int) -> F64:
    """Cut windows out of a recording.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        A recording.
    starts : ndarray of int64, shape (k,)
        First samples; all windows lie inside.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (k, m)
        One window per row.
    """
    index = np.asarray(starts)[:, None] + np.arange(window_length(rate_hz))
    return np.asarray(x[index])


def figures_of(band: F64, weighted: F64, noise_power: float, rate_hz: int) -> F64:
    """Compute the five figures of each window.

    Parameters
    ----------
    band, weighted : ndarray of float64, shape (k, m)
        Windows in the band, and the same under the A curve; the event is `BEFORE_S` from the start.
    noise_power : float
        Mean square of the noise in the band.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (k, 5)
        Peak, A-weighted peak, energy, energy duration, decay; in the order of `Pop`.
    """
    out = np.empty((len(band), 5))
    taper = _taper(band.shape[1], rate_hz)
    out[:, 0] = true_peak(band * taper)
    out[:, 1] = true_peak(weighted * taper)
    power = np.square(band) - noise_power
    running = np.cumsum(power, axis=1) / rate_hz
    out[:, 2] = running[:, -1]
    noise = math.sqrt(max(noise_power, 0.0))
    event = round(BEFORE_S * rate_hz)
    for row in range(len(band)):
        out[row, 3] = _between(running[row]) / rate_hz
        limit = max(_DECAYED * out[row, 0], _OVER_NOISE * noise)
        loud = np.flatnonzero(np.abs(band[row]) > limit)
        out[row, 4] = max(0, int(loud[-1]) + 1 - event) / rate_hz if len(loud) else 0.0
    return out


def measure_pop(
    band: F64, weighted: F64, silent_band: F64, silent_weighted: F64, rate_hz: int, unit: str
) -> Pop:
    """Measure one pop.

    Parameters
    ----------
    band, weighted : ndarray of float64, shape (m,)
        Its window in the band, and under the A curve.
    silent_band, silent_weighted : ndarray of float64, shape (k, m)
        Windows of silence, at least 8.
    rate_hz : int
        Sample rate.
    unit : {"V", "FS"}
        Of amplitudes.

    Returns
    -------
    Pop
        With the bias that noise gives a maximum taken off.
    """
    power = float(np.mean(np.square(silent_band)))
    value = figures_of(band[None], weighted[None], power, rate_hz)[0]
    again = figures_of(band + silent_band, weighted + silent_weighted, 2 * power, rate_hz)
    count = len(again)
    u = np.std(again, axis=0, ddof=1) * math.sqrt(1 + 1 / count)
    # A maximum grows by as much when more noise is laid on it as it grew by the first. So does a
    # last crossing, but in proportion to the noise, which is only the square root of two larger.
    value[:2] -= np.mean(again[:, :2], axis=0) - value[:2]
    late = (float(np.mean(again[:, 4])) - value[4]) / (math.sqrt(2) - 1)
    value[4] -= late
    u[4] = math.hypot(2 * u[4], _LATE_SHARE * late)
    u[3:] = np.hypot(u[3:], 0.5 / rate_hz)
    units = (unit, unit, f"{unit}²s", "s", "s")
    estimates = [
        Estimate(float(v), float(s), name, count - 1)
        for v, s, name in zip(value, u, units, strict=True)
    ]
    return Pop(*estimates)


def burst_level(energy: Estimate, unit: str) -> Estimate:
    """Express an energy as the level of a burst of 50 ms.

    Parameters
    ----------
    energy : Estimate
        Of a pop.
    unit : {"V", "FS"}
        Of its amplitude.

    Returns
    -------
    Estimate
        dBV, or dBFS; minus infinity where no energy is left above the noise.
    """
    name, reference = ("dBV", 1.0) if unit == "V" else ("dBFS", 0.5)
    if energy.value <= 0:
        return Estimate(-math.inf, 0.0, name, energy.dof)
    level = 10 * math.log10(energy.value / BURST_S / reference)
    return Estimate(level, 10 / math.log(10) * energy.u / energy.value, name, energy.dof)


def _between(running: F64) -> float:
    """Count samples, with a fraction, from 5 to 95 % of the energy."""
    total = running[-1]
    if total <= 0:
        return float("nan")
    low = _crossing(running, LEVELS[0] * total)
    return max(0.0, _crossing(running, LEVELS[1] * total) - low)


def _crossing(running: F64, level: float) -> float:
    """First sample, with its fraction, at which the running energy reaches a level."""
    at = int(np.argmax(running >= level))
    if at == 0:
        return 0.0
    step = running[at] - running[at - 1]
    return at - 1 + float((level - running[at - 1]) / step)


def _taper(length: int, rate_hz: int) -> F64:
    """Bring the ends of a window to zero, so that oversampling does not ring there."""
    fade = round(0.004 * rate_hz)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
    taper = np.ones(length)
    taper[:fade], taper[-fade:] = ramp, ramp[::-1]
    return taper
