"""DC step of a press: extrapolated to its moment through the interface's own high-pass.

A step S behind a first-order high-pass of corner f is ``S exp(-a t)`` with ``a = 2π f``; a voltage
that itself decays, ``P exp(-b t)``, becomes ``P (b exp(-b t) - a exp(-a t)) / (b - a)``. Both, and
the constant before the event, are fitted to means over 1 ms, with b searched over a grid; the
second is used only where it explains more than chance. The peak of the filtered wave says nothing
about S.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64
from loopback.quantity import Estimate

STEP_BEFORE_S, STEP_AFTER_S = 0.1, 0.4
_BLOCK_S = 1e-3
_SKIP_BLOCKS = 2
"""Bounce and the edge itself; left out after the event, and one before it."""
SLOW_S = 0.02
_TAILS_S = np.geomspace(5e-4, 0.3, 36)
TAIL_U = math.log(0.3 / 5e-4) / 35 / math.sqrt(12)
"""Relative standard uncertainty of a time constant: it lies anywhere within its step (JCGM
100:2008, 4.3.7)."""
_FAR_FROM_CORNER = 1.5
_BETTER = 16.0
"""How many times the noise variance a second exponential has to take away: four standard
deviations, for a few dozen that are tried."""
_ONSET_SHARE = 0.5
_AREA_SHARE = 0.5
"""Of the correction for a brief click, as its doubt: what it leaves after two milliseconds is not
in the area."""


@dataclass(frozen=True, slots=True)
class DcStep:
    """DC step of one press.

    Parameters
    ----------
    jump : Estimate
        By how much the line jumps, with its sign; a click that is over within `SLOW_S` is no part
        of it.
    tail_s : float or None
        Time constant with which it leaves again by itself; None: it stays, or leaves so slowly
        that the interface's high-pass hides it.
    """

    jump: Estimate
    tail_s: float | None


@dataclass(frozen=True, slots=True)
class _Design:
    """Least squares with one set of columns: constant, step, and perhaps a tail."""

    columns: F64
    inverse: F64
    tail_s: float = 0.0

    @property
    def jump(self) -> F64:
        """Weights of the means whose sum is the jump."""
        slow = self.tail_s >= SLOW_S
        return np.asarray(self.inverse[1] + self.inverse[2] if slow else self.inverse[1])


def step_window(rate_hz: int) -> int:
    """Length of the window that `measure_step` wants.

    Parameters
    ----------
    rate_hz : int
        Sample rate.

    Returns
    -------
    int
        Samples: whole blocks of a millisecond.
    """
    return round((STEP_BEFORE_S + STEP_AFTER_S) / _BLOCK_S) * round(_BLOCK_S * rate_hz)


def measure_step(x: F64, silent: F64, rate_hz: int, corner_hz: float, unit: str) -> DcStep:
    """Measure the DC step of one press.

    Parameters
    ----------
    x : ndarray of float64, shape (m,)
        Unfiltered window that begins `STEP_BEFORE_S` before the event; `step_window` long.
    silent : ndarray of float64, shape (k, m)
        Windows of silence, unfiltered, at least 8; of both states, since the window is in both.
    rate_hz : int
        Sample rate.
    corner_hz : float
        High-pass corner of the interface's input.
    unit : {"V", "FS"}
        Of the result.

    Returns
    -------
    DcStep
        Its doubt is that of the noise, and of the moment it began.
    """
    wave = _blocks(x[None], rate_hz)
    quiet = _blocks(silent, rate_hz)
    designs = _designs(corner_hz, wave.shape[1])
    plain = designs[0]
    noise = float(np.mean(_residual(plain, quiet)))
    value, design = _fitted(wave[0], designs, noise)
    scatter = quiet @ design.jump
    count = len(scatter)
    u = float(np.sqrt(np.mean(np.square(scatter))))
    if design is plain:
        # What is over before the fit begins leaves its area behind, with the opposite sign.
        brief = 2 * math.pi * corner_hz * _area(x, wave[0], plain, value, rate_hz)
        value += brief
        u = math.hypot(u, _AREA_SHARE * brief)
    onset = _ONSET_SHARE * _BLOCK_S / math.sqrt(3) * 2 * math.pi * corner_hz * abs(value)
    jump = Estimate(value, math.hypot(u, onset), unit, count - 1)
    return DcStep(jump, design.tail_s if design.tail_s >= SLOW_S else None)


def _fitted(wave: F64, designs: tuple[_Design, ...], noise: float) -> tuple[float, _Design]:
    plain = designs[0]
    best, least = plain, float(_residual(plain, wave[None])[0])
    wanted = least - _BETTER * noise / max(1, plain.columns.shape[0] - 2)
    for design in designs[1:]:
        residual = float(_residual(design, wave[None])[0])
        if residual < min(least, wanted):
            best, least = design, residual
    return float(best.jump @ wave), best


def _area(x: F64, wave: F64, design: _Design, value: float, rate_hz: int) -> float:
    """Integral of what is over within the blocks that the fit leaves out, step taken off."""
    size = round(_BLOCK_S * rate_hz)
    before = round(STEP_BEFORE_S / _BLOCK_S)
    part = x[(before - 1) * size : (before + _SKIP_BLOCKS) * size]
    rest = float(design.inverse[0] @ wave)
    return float(np.sum(part - rest)) / rate_hz - value * _SKIP_BLOCKS * _BLOCK_S


def _residual(design: _Design, waves: F64) -> F64:
    """Sum of squares that is left of each wave."""
    left = waves - (waves @ design.inverse.T) @ design.columns.T
    return np.asarray(np.sum(np.square(left), axis=1))


@lru_cache(maxsize=4)
def _designs(corner_hz: float, count: int) -> tuple[_Design, ...]:
    before = round(STEP_BEFORE_S / _BLOCK_S)
    kept = _kept(count + _SKIP_BLOCKS + 1)
    t = np.asarray((kept - before + 0.5) * _BLOCK_S, dtype=np.float64)
    on = t > 0
    a = 2 * math.pi * corner_hz
    base = [np.ones(len(t)), np.where(on, np.exp(-a * np.maximum(t, 0.0)), 0.0)]
    designs = [_design(base)]
    for tail in _TAILS_S:
        b = 1 / tail
        if 1 / _FAR_FROM_CORNER < b / a < _FAR_FROM_CORNER:
            continue
        late = np.maximum(t, 0.0)
        wave = (b * np.exp(-b * late) - a * np.exp(-a * late)) / (b - a)
        designs.append(_design([*base, np.where(on, wave, 0.0)], float(tail)))
    return tuple(designs)


def _design(columns: list[F64], tail_s: float = 0.0) -> _Design:
    matrix = np.array(columns).T
    return _Design(matrix, np.asarray(np.linalg.pinv(matrix), dtype=np.float64), tail_s)


def _blocks(x: F64, rate_hz: int) -> F64:
    """Means over 1 ms, without those around the event."""
    size = round(_BLOCK_S * rate_hz)
    count = x.shape[1] // size
    means = x[:, : count * size].reshape(len(x), count, size).mean(axis=2)
    return np.asarray(means[:, _kept(count)])


def _kept(count: int) -> NDArray[np.int64]:
    before = round(STEP_BEFORE_S / _BLOCK_S)
    numbers = np.arange(count, dtype=np.int64)
    return numbers[(numbers < before - 1) | (numbers >= before + _SKIP_BLOCKS)]
