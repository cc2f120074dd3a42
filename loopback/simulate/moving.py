"""What changes the signal from moment to moment: a floating supply, a tremolo, a gate."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.simulate.state_sound import Clamp

BLOCK_S = 1e-3
"""A supply and a gate follow the signal in steps of this length."""
_TIMES = 4
"""Oversampling where diodes cut corners; what is beyond twice the band is then 60 dB down."""
_RAMP_BLOCKS = 5


@dataclass(frozen=True, slots=True)
class Movement:
    """What one line does over time, levels in full scale.

    Parameters
    ----------
    clamp : Clamp or None
        In volts and ohm.
    source_ohm : float
        Impedance that the clamp sees.
    per_volt : float
        Full scale per volt.
    tremolo : tuple of float or None
        Rate in hertz, and depth from end to end in dB.
    gate : tuple of float or None
        Level below which it shuts, full scale, and after how many seconds.
    """

    clamp: Clamp | None
    source_ohm: float
    per_volt: float
    tremolo: tuple[float, float] | None
    gate: tuple[float, float] | None


class Mover:
    """Applies a movement to one take after another; the rail keeps its charge in between.

    Parameters
    ----------
    movement : Movement
        What to do.
    rate_hz : int
        Sample rate.
    chance : callable
        Gives numbers between 0 and 1: where a tremolo is when a take begins.
    """

    def __init__(self, movement: Movement, rate_hz: int, chance: Callable[[], float]) -> None:
        self.movement = movement
        self.rate_hz = rate_hz
        self.chance = chance
        self.rail_v = 0.0

    def __call__(self, bins: C128, n: int) -> C128:
        """Change the bins of one take.

        Parameters
        ----------
        bins : ndarray of complex128, shape (n // 2 + 1,)
            As they come.
        n : int
            Length of the transform.

        Returns
        -------
        ndarray of complex128, shape (n // 2 + 1,)
            As they go.
        """
        movement = self.movement
        if movement.clamp is not None:
            bins = self._clamped(bins, n, movement.clamp)
        if movement.tremolo is None and movement.gate is None:
            return bins
        x = np.fft.irfft(bins, n)
        if movement.tremolo is not None:
            x = x * tremolo_gain(n, self.rate_hz, *movement.tremolo, 2 * math.pi * self.chance())
        if movement.gate is not None:
            x = x * gate_gain(x, self.rate_hz, *movement.gate)
        return np.asarray(np.fft.rfft(x))

    def _clamped(self, bins: C128, n: int, clamp: Clamp) -> C128:
        movement = self.movement
        volts = np.fft.irfft(bins, n) / movement.per_volt
        rail = rail_voltage(volts, self.rate_hz, clamp, movement.source_ohm, self.rail_v)
        self.rail_v = float(rail[-1])
        x = _TIMES * np.fft.irfft(bins, _TIMES * n)
        block = round(BLOCK_S * self.rate_hz) * _TIMES
        middle = (np.arange(len(rail)) + 0.5) * block
        limit = (clamp.at + np.interp(np.arange(len(x)), middle, rail)) * movement.per_volt
        share = movement.source_ohm / (movement.source_ohm + clamp.ohm)
        x -= share * (x - np.clip(x, -limit, limit))
        return np.asarray(np.fft.rfft(x)[: n // 2 + 1] / _TIMES)


def rail_voltage(volts: F64, rate_hz: int, clamp: Clamp, source_ohm: float, before_v: float) -> F64:
    """Voltage of a floating rail that the signal charges through the clamp diodes.

    Parameters
    ----------
    volts : ndarray of float64, shape (n,)
        The line without the clamp.
    rate_hz : int
        Sample rate.
    clamp : Clamp
        The diodes and the rail.
    source_ohm : float
        Impedance behind `volts`.
    before_v : float
        Where the rail stands at the beginning.

    Returns
    -------
    ndarray of float64, shape (m,)
        Volts, one for each `BLOCK_S`; what charges it is the mean of the current in each.
    """
    block = round(BLOCK_S * rate_hz)
    size = np.abs(volts[: len(volts) // block * block]).reshape(-1, block)
    peak = size.max(axis=1)
    out = np.empty(len(size))
    rail, step = before_v, block / rate_hz
    per_block = step / (clamp.farad * (source_ohm + clamp.ohm))
    kept = math.exp(-step / (clamp.leak * clamp.farad))
    for i, part in enumerate(size):
        over = clamp.at + rail
        if peak[i] > over:
            rail += per_block * float(np.mean(np.maximum(part - over, 0.0)))
        rail *= kept
        out[i] = rail
    return out


def tremolo_gain(n: int, rate_hz: int, f_hz: float, depth_db: float, phase_rad: float) -> F64:
    """Gain of a tremolo: a cosine in decibels.

    Parameters
    ----------
    n : int
        Samples.
    rate_hz : int
        Sample rate.
    f_hz, depth_db : float
        Rate, and depth from end to end.
    phase_rad : float
        At the first sample.

    Returns
    -------
    ndarray of float64, shape (n,)
        Factor; 0 dB at its loudest.
    """
    course = np.cos(2 * np.pi * f_hz / rate_hz * np.arange(n) + phase_rad)
    return np.asarray(10.0 ** (depth_db / 40 * (course - 1)))


def gate_gain(x: F64, rate_hz: int, level: float, hold_s: float) -> F64:
    """Gain of a gate that shuts where a signal has been below a level for a while.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        The signal.
    rate_hz : int
        Sample rate.
    level : float
        In the unit of `x`.
    hold_s : float
        How long it stays open after the last peak above that level.

    Returns
    -------
    ndarray of float64, shape (n,)
        0 to 1, with ramps of 5 ms.
    """
    block = round(BLOCK_S * rate_hz)
    count = -(-len(x) // block)
    peaks = np.abs(np.append(x, np.zeros(count * block - len(x)))).reshape(count, block).max(axis=1)
    hold = max(1, round(hold_s / BLOCK_S))
    loud = np.convolve(np.where(peaks > level, 1.0, 0.0), np.ones(hold), "full")[:count] > 0.5
    ramp = np.convolve(np.where(loud, 1.0, 0.0), np.ones(_RAMP_BLOCKS) / _RAMP_BLOCKS, "same")
    return np.asarray(np.interp(np.arange(len(x)), (np.arange(count) + 0.5) * block, ramp))
