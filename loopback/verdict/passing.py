"""Which runs pass, which switch position is bypass, and what happens without power."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.plan.runs import Position
from loopback.verdict.codes import Family
from loopback.verdict.evidence import Evidence, level_between, slope_per_decade
from loopback.verdict.limits import (
    BOOST_DB,
    DEAD_SLOPE_DB,
    PASS_DB,
    SHORT_DB,
)
from loopback.verdict.result import PowerClass

RunState = Literal["passes", "altered", "open", "short"]
"""altered: passes, but as an effect does; open: crosstalk only; short: held to ground."""


def run_state(evidence: Evidence) -> RunState | None:
    """Say whether a run passes.

    Through the resistor a low input takes the level far down and still passes: a dead path is
    told by its rise of 20 dB per decade, or by a level that only a short to ground leaves.

    Parameters
    ----------
    evidence : Evidence
        One run.

    Returns
    -------
    str or None
        None when the run cannot be used.
    """
    ratio = evidence.ratio
    if ratio is None or not evidence.usable:
        return None
    level = level_between(ratio, 200.0, 2000.0)
    use = (ratio.f_hz >= 200.0) & (ratio.f_hz <= 2000.0)
    floor = float(np.median(ratio.noise_db[use])) if use.any() else -200.0
    if level < PASS_DB.value:
        # Into nothing but the input, stray capacitance divides evenly above a few hundred hertz.
        slope = max(slope_per_decade(ratio), slope_per_decade(ratio, 30.0, 300.0))
        if level < floor + 6.0 or slope > DEAD_SLOPE_DB.value:
            return "open"
        if level < SHORT_DB.value:
            return "short"
    if evidence.label.feed == "resistor":
        # A buffer lifts everything above the corner of a large setup capacitance.
        level = level_between(ratio, 80.0, 400.0)
    if level > BOOST_DB.value or evidence.distorts:
        return "altered"
    return "passes"


@dataclass(frozen=True, slots=True)
class Table:
    """The power and switch table.

    Parameters
    ----------
    powered, unpowered : dict
        State by switch position.
    bypass : {"a", "b", "none"} or None
        The position that is bypass; None: not found.
    sure : bool
        False when two positions were nearly alike as candidates.
    same : bool
        True when both positions gave the same response.
    last : {"a", "b", "none"} or None
        Position of the last run with power before the first one without.
    """

    powered: Mapping[Position, RunState]
    unpowered: Mapping[Position, RunState]
    bypass: Position | None
    sure: bool
    same: bool
    last: Position | None


Misfit = Callable[[Evidence], float]
"""How far a resistor run is from any cable with a load on it, dB."""


def build_table(runs: Sequence[Evidence], misfit: Misfit | None = None) -> Table:
    """Fill the table from runs in the order made; plain runs count before resistor runs.

    Parameters
    ----------
    runs : sequence of Evidence
        Pedal runs; a power about which nobody said anything counts as on.
    misfit : callable or None
        Helps to tell a bypass from a clean effect in resistor runs; None: by level alone.

    Returns
    -------
    Table
        With the bypass position as the data show it; labels and lamps are not evidence.
    """
    usable = [e for e in runs if e.usable and e.label.direction == "forward"]
    powered = _states([e for e in usable if e.label.power != "off"])
    unpowered = _states([e for e in usable if e.label.power == "off"])
    first_off = next((i for i, e in enumerate(usable) if e.label.power == "off"), len(usable))
    last = next((_position(e) for e in reversed(usable[:first_off])), None)
    bypass, sure, same = _find_bypass(usable, powered, unpowered, misfit)
    return Table(powered, unpowered, bypass, sure, same, last)


def _position(evidence: Evidence) -> Position:
    return evidence.label.position or "none"


def _states(runs: Sequence[Evidence]) -> dict[Position, RunState]:
    table: dict[Position, RunState] = {}
    for feed in ("resistor", "plain"):  # the plain one is written last, so it counts
        for e in runs:
            state = run_state(e)
            if e.label.feed == feed and state is not None:
                if state == "altered" and table.get(_position(e)) in ("open", "short"):
                    continue
                table[_position(e)] = state
    return table


def _find_bypass(
    runs: Sequence[Evidence],
    powered: Mapping[Position, RunState],
    unpowered: Mapping[Position, RunState],
    misfit: Misfit | None,
) -> tuple[Position | None, bool, bool]:
    table = powered or unpowered
    passing = [p for p, state in table.items() if state == "passes"]
    if not passing:
        others = [p for p, state in unpowered.items() if state == "passes"]
        dead = [p for p, state in table.items() if state in ("open", "short")]
        altered = [p for p, state in table.items() if state == "altered"]
        if len(others) == 1:
            return others[0], True, False
        if len(dead) == 1 and altered:
            return dead[0], True, False  # the effect plays in the other one
        return (next(iter(table), None) if len(dead) == len(table) and dead else None), True, False
    if len(passing) == 1:
        return passing[0], True, False
    power = "on" if powered else "off"
    if _same_response(runs, passing[0], passing[1], power):
        return min(passing), True, True
    only = [p for p in passing if unpowered.get(p) == "passes"]
    if powered and len(only) == 1 and len(unpowered) >= 2:
        return only[0], True, False
    likeness = _unlike_bypass(runs, passing, power, misfit)
    ranked = sorted(passing, key=lambda p: likeness[p])
    return ranked[0], likeness[ranked[1]] > 2 * likeness[ranked[0]] + 0.02, False


def _unlike_bypass(
    runs: Sequence[Evidence], positions: Sequence[Position], power: str, misfit: Misfit | None
) -> dict[Position, float]:
    """Small for something like a cable or a load on it, large for an effect; one feed for all."""
    by_feed: dict[str, dict[Position, float]] = {"plain": {}, "resistor": {}}
    for e in runs:
        if e.ratio is None or ("off" if e.label.power == "off" else "on") != power:
            continue
        middle = level_between(e.ratio, 200.0, 2000.0)
        dirt = max((-100.0 if e.harmonics_db is None else e.harmonics_db) + 70.0, 0.0) / 20.0
        if e.label.feed == "plain":
            low, high = level_between(e.ratio, 80, 160), level_between(e.ratio, 4e3, 8e3)
            score = abs(middle) + abs(low - middle) + abs(high - middle)
        else:
            score = max(middle, 0.0) + (0.05 * abs(middle) if misfit is None else misfit(e))
        by_feed[e.label.feed][_position(e)] = score + dirt
    for scores in by_feed.values():
        if all(p in scores for p in positions):
            return scores
    return {p: max(s.get(p, 0.0) for s in by_feed.values()) for p in positions}


def _same_response(runs: Sequence[Evidence], one: Position, two: Position, power: str) -> bool:
    for feed in ("plain", "resistor"):
        found = {}
        for e in runs:
            if e.label.feed == feed and ("off" if e.label.power == "off" else "on") == power:
                found[_position(e)] = e.ratio
        a, b = found.get(one), found.get(two)
        if a is None or b is None:
            continue
        use = (a.f_hz >= 50.0) & (a.f_hz <= 15e3)
        gap = 20 * np.log10(np.abs(a.t[use]) / np.maximum(np.abs(b.t[use]), 1e-12))
        if float(np.max(np.abs(gap))) > 0.05:
            return False
    return True


@dataclass(frozen=True, slots=True)
class Row:
    """What one kind of pedal does: pass (p), effect (e), dead (d), last state (l), any (*).

    Parameters
    ----------
    family : str
        The kind.
    off_bypass, off_other : str
        Allowed without power, in the bypass position and in the other one.
    same : bool
        True for kinds whose two positions are alike.
    """

    family: Family
    off_bypass: str
    off_other: str
    same: bool = False


ROWS: tuple[Row, ...] = (
    Row("mechanical", "p", "d"),
    Row("relay_fail_safe", "p", "p"),
    Row("relay_latching", "l", "l"),
    Row("electronic", "d", "d"),
    Row("electronic", "p", "p"),  # unpowered junctions let small signals through
    Row("mechanical_with_buffer", "d", "d"),
    Row("digital", "d", "d"),
    Row("digital", "p", "p"),
    Row("passive_box", "p", "p", same=True),
)
"""Common practice; powered, all of these pass in one position and play in the other."""


def judge_power(table: Table) -> tuple[PowerClass, tuple[PowerClass, ...], tuple[Family, ...]]:
    """Say what happens without power, and which kinds of pedal do that.

    Parameters
    ----------
    table : Table
        From `build_table`.

    Returns
    -------
    tuple
        The class, the classes that the runs cannot exclude beside it, and the kinds.
    """
    bypass = table.bypass
    here = _passes(table.unpowered.get(bypass)) if bypass is not None else None
    other_state = next((s for p, s in table.unpowered.items() if p != bypass), None)
    other = _passes(other_state)
    families = tuple(dict.fromkeys(row.family for row in ROWS if _allows(row, table, here, other)))
    if bypass == "none":  # without a footswitch there is nothing to tell switching by
        families = tuple(f for f in families if f in ("passive_box", "digital", "electronic"))
    if bypass == "none" or table.same:
        if here is None:
            return "untested", (), families
        return ("always" if here else "never"), (), families
    alternatives: tuple[PowerClass, ...] = ()
    if here is None and other is None:
        return "untested", (), families
    if other is None:
        if here:
            return "bypass_position", (), families
        return "never", (() if table.last == bypass else ("keeps_last",)), families
    if here is None:  # what passes in the other position may be an effect without a stage
        return "untested", (), families
    if here and other:
        if table.powered and table.last in (bypass, None):
            alternatives = ("keeps_last",)
        return "always", alternatives, families
    if here:
        return "bypass_position", (), families
    if other:
        return "keeps_last", (), families
    if table.powered and table.last != bypass:
        alternatives = ("keeps_last",)
    return "never", alternatives, families


def _passes(state: RunState | None) -> bool | None:
    return None if state is None else state in ("passes", "altered")


def _allows(row: Row, table: Table, here: bool | None, other: bool | None) -> bool:
    if table.same != row.same and len(table.powered) > 1:
        return False
    for allowed, seen in ((row.off_bypass, here), (row.off_other, other)):
        if seen is None or allowed == "*":
            continue
        if allowed == "l":
            kept = None if table.last is None else table.last == table.bypass
            if kept is not None and seen != kept:
                return False
        elif (allowed == "p") != seen:
            return False
    return not (row.off_bypass == "l" and None not in (here, other) and here != other)
