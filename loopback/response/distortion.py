"""Harmonics of a run over frequency, and over those of its reference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64
from loopback.quantity import Estimate, coverage_factor
from loopback.response.harmonics import ORDERS, gate_s
from loopback.response.ratio import GAIN_U_DB
from loopback.response.reading import TakeReading
from loopback.signal.take import Signal

LOW_HZ, HIGH_HZ = 300.0, 2000.0
"""Where one number for a run is taken: below, the gates blur; above, orders fall out one by one."""
_SHOWS = 3.0
"""A harmonic counts as there when its power is so many standard uncertainties above zero."""
_STEEP_DB = 6.0
_START_BANDS = 3
"""Where the sweep begins: an octave."""
_DB = 10 / math.log(10)


@dataclass(frozen=True, slots=True)
class Distortion:
    """Harmonics of one run in thirds of an octave, from the upward sweeps of all its takes.

    Levels are amplitude of the harmonic over amplitude of the fundamental, both at the input of
    the interface, at the frequency that excites them.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (m,)
        Exciting frequency, band centres of IEC 61260-1:2014.
    power : ndarray of float64, shape (4, m)
        Square of that ratio for orders 2 to 5, what the noise leaves taken off; nan: not measured.
    u_power : ndarray of float64, shape (4, m)
        Its standard uncertainty, from noise and from what the takes differ by.
    """

    f_hz: F64
    power: F64
    u_power: F64

    @property
    def level_db(self) -> F64:
        """Levels, dB; nan where nothing stands out of the noise."""
        shows = self.power > _SHOWS * self.u_power
        return np.asarray(10 * np.log10(np.where(shows, self.power, np.nan)))

    @property
    def u_db(self) -> F64:
        """Standard uncertainty of `level_db`, dB; nan where that is."""
        shows = self.power > _SHOWS * self.u_power
        return np.asarray(_DB * self.u_power / np.where(shows, self.power, np.nan))

    @property
    def limit_db(self) -> F64:
        """Upper end of the 95 % interval, dB: what a harmonic that is not seen lies below."""
        top = np.maximum(self.power, 0.0) + 1.96 * self.u_power
        return np.asarray(10 * np.log10(np.where(top > 0, top, np.nan)))

    @property
    def settled(self) -> NDArray[np.bool_]:
        """Bands to be believed, by order: without the first, which the sweep's start cuts.

        Nor with those of the first octave that fall steeply from band to band: what is there is
        hum and the switching on of the sweep, in the pedal's run and in its reference alike.
        """
        out = np.isfinite(self.power) & np.isfinite(self.u_power)
        for row in range(len(out)):
            known = np.flatnonzero(out[row])
            if not len(known):
                continue
            size = np.maximum(self.power[row, known], 1.96 * self.u_power[row, known])
            falls = -np.diff(10 * np.log10(np.maximum(size, 1e-30)))[:_START_BANDS]
            steep = np.flatnonzero(falls > _STEEP_DB)
            first = 1 + (int(steep[-1]) if len(steep) else 0)
            out[row, known[:first]] = False
        return np.asarray(out)


@dataclass(frozen=True, slots=True)
class Harmonic:
    """One number for one order, 300 Hz to 2 kHz.

    Parameters
    ----------
    order : int
        2 to 5.
    level_db : Estimate or None
        Over the fundamental; None: it does not stand out of the noise.
    limit_db : float
        What it lies below, 95 %.
    power, u_power : float
        Square of the ratio itself, what the noise leaves taken off, and its standard uncertainty;
        nan: not given.
    """

    order: int
    level_db: Estimate | None
    limit_db: float
    power: float = math.nan
    u_power: float = math.nan


@dataclass(frozen=True, slots=True)
class OverReference:
    """How far one order stands above the same of the reference.

    Parameters
    ----------
    order : int
        2 to 5.
    over_db : Estimate
        Ratio of the powers, dB: the middle of Fieller's interval, and its ends.
    at_least : bool
        True: the reference's own lies in the noise, and its standard uncertainty stands for it.
        Then only the lower end means anything.
    """

    order: int
    over_db: Estimate
    at_least: bool


def distortion_of(takes: Sequence[TakeReading], signal: Signal) -> Distortion | None:
    """Average the harmonics of all takes of a run in thirds of an octave.

    Parameters
    ----------
    takes : sequence of TakeReading
        Of one run.
    signal : Signal
        What was played.

    Returns
    -------
    Distortion or None
        None without a take whose noise is known.
    """
    known = [(t.harmonics, t.harmonics_var) for t in takes if t.harmonics_var is not None]
    if not known:
        return None
    grid = takes[0].f_hz
    centres = _thirds(float(grid[0]), float(grid[-1]))
    edges = np.searchsorted(grid, centres[0] * 10.0 ** ((np.arange(len(centres) + 1) - 0.5) / 10))
    edges[-1] = min(edges[-1], len(grid))
    per_band = np.diff(edges)

    def means(values: F64) -> F64:
        padded = np.append(values, np.zeros((len(ORDERS), 1)), axis=1)
        return np.asarray(np.add.reduceat(padded, edges, axis=1)[:, :-1] / per_band)

    power = np.array([means(size**2 - var) for size, var in known])
    noise = np.array([means(var) for _, var in known])
    # A tone in the noise sits in one place of a band: its square counts there, not spread out.
    squares = np.array([means(np.square(var)) for _, var in known])
    mean = power.mean(axis=0)
    width_hz = np.outer(ORDERS, centres) * (10**0.05 - 10**-0.05)
    # Bands of the grid nearer than what a gate resolves say the same thing twice; of a Hann gate
    # of length T a width W holds 3/8 W T independent values.
    resolved = 0.375 * width_hz * np.array([[gate_s(signal, order)] for order in ORDERS])
    count = np.clip(resolved, 1.0, per_band)
    # |a + n|² scatters by 2 |a|² v + v² for noise of mean square v.
    by_noise = (2 * np.maximum(mean, 0.0) * noise + squares).mean(axis=0) / count / len(known)
    by_takes = power.var(axis=0, ddof=1) / len(known) if len(known) > 1 else np.zeros(mean.shape)
    return Distortion(centres, mean, np.sqrt(np.maximum(by_noise, by_takes)))


def middle_harmonics(distortion: Distortion) -> tuple[Harmonic, ...]:
    """Sum up each order from 300 Hz to 2 kHz: mean power, every third of an octave alike.

    Parameters
    ----------
    distortion : Distortion
        Of a run.

    Returns
    -------
    tuple of Harmonic
        Orders 2 to 5, as far as they were measured. Beside noise and repeats the drift of the gain
        counts: where the drive moves by 1 dB, order n moves by n - 1 dB over the fundamental.
    """
    band = (distortion.f_hz >= LOW_HZ) & (distortion.f_hz <= HIGH_HZ)
    out = []
    for row, order in enumerate(ORDERS):
        power, u_power = distortion.power[row, band], distortion.u_power[row, band]
        known = np.isfinite(power)
        if not known.any():
            continue
        mean = float(np.mean(power[known]))
        u = float(np.sqrt(np.sum(np.square(u_power[known])))) / int(np.sum(known))
        u = math.hypot(u, max(mean, 0.0) * (order - 1) * GAIN_U_DB / _DB)
        level = None
        if mean > _SHOWS * u:
            level = Estimate(_DB * math.log(mean), _DB * u / mean, "dB")
        top = max(mean, 0.0) + 1.96 * u
        limit = _DB * math.log(top) if top > 0 else -math.inf
        out.append(Harmonic(order, level, limit, mean, u))
    return tuple(out)


def over_reference(own: Sequence[Harmonic], setup: Sequence[Harmonic]) -> OverReference | None:
    """Find the order that surely stands furthest above the same order of the reference.

    Both powers are known with noise alone, and the reference's may lie in it. The interval of their
    ratio is that of Fieller 1954: all r for which ``p - r q`` is no further from zero
    than 1.96 of its standard uncertainty.

    Parameters
    ----------
    own, setup : sequence of Harmonic
        Of the pedal run and of its reference.

    Returns
    -------
    OverReference or None
        None: no order shows in the pedal run.
    """
    below = {h.order: h for h in setup}
    best: OverReference | None = None
    for harmonic in own:
        other = below.get(harmonic.order)
        if harmonic.level_db is None or other is None or not math.isfinite(other.limit_db):
            continue
        gap = _over(harmonic, harmonic.level_db, other)
        if best is None or gap.over_db.interval()[0] > best.over_db.interval()[0]:
            best = gap
    return best


def _over(own: Harmonic, level: Estimate, other: Harmonic) -> OverReference:
    low, high = fieller(own.power, own.u_power, max(other.power, 0.0), other.u_power)
    bottom = _DB * math.log(low) if low > 0 else level.value - other.limit_db - 10 * level.u
    if other.level_db is not None and math.isfinite(high):
        top = _DB * math.log(high)
        middle, half = (bottom + top) / 2, (top - bottom) / 2
    else:
        middle = level.value - _DB * math.log(max(other.power, other.u_power))
        half = max(middle - bottom, 0.0)
    gap = Estimate(middle, half / coverage_factor(), "dB")
    return OverReference(own.order, gap, other.level_db is None)


def fieller(p: float, u_p: float, q: float, u_q: float) -> tuple[float, float]:
    """Interval of a ratio of two values with independent normal errors, 95 %.

    Parameters
    ----------
    p, u_p : float
        Numerator and its standard uncertainty.
    q, u_q : float
        Denominator likewise; both true values are not negative.

    Returns
    -------
    tuple of float
        Lower and upper end; the upper one is infinite where the denominator may be zero.

    Notes
    -----
    Fieller 1954, "Some problems in interval estimation", J. R. Stat. Soc. B 16(2), 175-185.
    """
    z = coverage_factor()
    a = q**2 - z**2 * u_q**2
    b = p * q
    c = p**2 - z**2 * u_p**2
    root = math.sqrt(max(b**2 - a * c, 0.0))
    if c <= 0:  # the numerator may be zero
        return 0.0, (b + root) / a if a > 0 else math.inf
    # p > 0 here; written so that it also holds where a is zero or negative.
    return c / (b + root), (b + root) / a if a > 0 else math.inf


def _thirds(low_hz: float, high_hz: float) -> F64:
    first, last = (
        math.ceil(10 * math.log10(low_hz / 1000)),
        math.floor(10 * math.log10(high_hz / 1000)),
    )
    return np.asarray(1000.0 * 10.0 ** (np.arange(first, last + 1) / 10))
