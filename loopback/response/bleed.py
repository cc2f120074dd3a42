"""What gets across: the effect heard in bypass, and the bypass path when the effect is on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.plan.runs import RunLabel
from loopback.quantity import Estimate
from loopback.response.reading import Ratio

BLEED_HZ = (100.0, 1_000.0, 10_000.0)
_DEAD_DB = -20.0
_REACH_OCTAVES = 1 / 6
_DB = 20 / math.log(10)

BleedKind = Literal["effect_in_bypass", "bypass_when_engaged"]


@dataclass(frozen=True, slots=True)
class BleedLevel:
    """Level at one frequency, over the signal through the cable.

    Parameters
    ----------
    f_hz : float
        Middle of a third of an octave.
    level_db : Estimate or None
        None: it does not stand out.
    below_db : float
        Upper end of the 95 % interval; never below what gets across with nothing plugged in.
    """

    f_hz: float
    level_db: Estimate | None
    below_db: float


@dataclass(frozen=True, slots=True)
class Bleed:
    """One way across, from the runs at hand.

    Parameters
    ----------
    kind : {"effect_in_bypass", "bypass_when_engaged"}
        effect_in_bypass: what changes in bypass when power comes, and with it the effect. It is a
        vector difference, so what the power itself does to the line is in it as well: the effect
        is heard at this level at most.
        bypass_when_engaged: what passes in the other position without power, when the effect gives
        nothing of its own.
    run_ids : tuple of str
        Runs that it rests on.
    levels : tuple of BleedLevel
        At 100 Hz, 1 kHz and 10 kHz.
    unplugged : bool
        True when a run with nothing plugged in tells the setup's own crosstalk; False: only noise
        and drift bound it.
    """

    kind: BleedKind
    run_ids: tuple[str, ...]
    levels: tuple[BleedLevel, ...]
    unplugged: bool


def find_bleed(
    runs: Sequence[tuple[RunLabel, Ratio]],
    bypass_position: str | None,
    unplugged: Sequence[tuple[RunLabel, Ratio]] = (),
) -> tuple[Bleed, ...]:
    """Look for bleed in both directions.

    Parameters
    ----------
    runs : sequence of (RunLabel, Ratio)
        Pedal runs that may be used, each over its reference.
    bypass_position : str or None
        Which position is bypass; None: nothing can be said.
    unplugged : sequence of (RunLabel, Ratio)
        Runs with nothing plugged in, over the same references.

    Returns
    -------
    tuple of Bleed
        Plain feed before resistor feed; empty where the runs do not show it.
    """
    if bypass_position is None:
        return ()
    found: list[Bleed] = []
    for feed in ("plain", "resistor"):
        usable = [
            (label, ratio)
            for label, ratio in runs
            if (label.feed, label.load, label.direction) == (feed, "instrument", "forward")
            and not label.level_db
        ]
        nothing = next((ratio for label, ratio in unplugged if label.feed == feed), None)
        on = _last(usable, "on", bypass_position, same=True)
        off = _last(usable, "off", bypass_position, same=True)
        if on is not None and off is not None and _middle_db(off) > _DEAD_DB:
            found.append(_effect_in_bypass(on, off, nothing))
        other = _last(usable, "off", bypass_position, same=False)
        if other is not None and _middle_db(other) < _DEAD_DB:
            levels = tuple(_plain_level(other, f_hz, nothing) for f_hz in _inside(other))
            found.append(Bleed("bypass_when_engaged", (other.run_id,), levels, nothing is not None))
    return tuple(found)


def _last(
    runs: Sequence[tuple[RunLabel, Ratio]], power: str, position: str, *, same: bool
) -> Ratio | None:
    chosen = [
        ratio
        for label, ratio in runs
        if label.power == power and ((label.position or "none") == position) == same
    ]
    return chosen[-1] if chosen else None


def _effect_in_bypass(on: Ratio, off: Ratio, nothing: Ratio | None) -> Bleed:
    levels = []
    # A gain that drifts between the two runs, and a delay that does, look like bleed.
    drift = math.hypot(on.u_gain_db, off.u_gain_db) / _DB
    for f_hz in _inside(on):
        band = _band(on, f_hz)
        apart = on.t[band] - off.t[band]
        mean = complex(np.mean(apart))
        count = int(np.sum(band))
        noise = math.sqrt(float(np.mean(on.var[band] + off.var[band])) / 2 / count)
        shape = math.hypot(on.u_shape_db, off.u_shape_db) / _DB * (f_hz / 20e3) ** 2
        u = math.hypot(noise, math.hypot(drift, shape) * abs(complex(np.mean(off.t[band]))))
        levels.append(_level(f_hz, abs(mean), u, nothing))
    return Bleed("effect_in_bypass", (on.run_id, off.run_id), tuple(levels), nothing is not None)


def _plain_level(ratio: Ratio, f_hz: float, nothing: Ratio | None) -> BleedLevel:
    band = _band(ratio, f_hz)
    power = float(np.mean(np.square(np.abs(ratio.t[band])) - ratio.var[band]))
    size = math.sqrt(max(power, 0.0))
    noise = math.sqrt(float(np.mean(ratio.var[band])) / 2 / int(np.sum(band)))
    return _level(f_hz, size, math.hypot(noise, size * ratio.u_gain_db / _DB), nothing)


def _level(f_hz: float, size: float, u: float, nothing: Ratio | None) -> BleedLevel:
    """Write a size as a level; what crosses with nothing plugged in may have any phase."""
    own = 0.0
    if nothing is not None:
        own = float(np.sqrt(np.mean(np.square(np.abs(nothing.t[_band(nothing, f_hz)])))))
    top = size + 1.96 * u + own
    shows = size > 3 * u + own and size > 0
    # A vector of known size and unknown phase moves the sum by its size over the root of two.
    doubt = math.hypot(u, own / math.sqrt(2))
    level = Estimate(_DB * math.log(size), _DB * doubt / size, "dB") if shows else None
    return BleedLevel(f_hz, level, _DB * math.log(max(top, own, 1e-12)))


def _inside(ratio: Ratio) -> list[float]:
    return [f_hz for f_hz in BLEED_HZ if ratio.f_hz[0] < f_hz < ratio.f_hz[-1]]


def _band(ratio: Ratio, f_hz: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    return np.asarray(np.abs(np.log2(ratio.f_hz / f_hz)) <= _REACH_OCTAVES)


def _middle_db(ratio: Ratio) -> float:
    band = (ratio.f_hz >= 200.0) & (ratio.f_hz <= 2000.0)
    size: F64 = np.maximum(np.abs(ratio.t[band]), 1e-12)
    return float(np.mean(_DB * np.log(size)))
