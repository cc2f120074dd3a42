"""What passes where: a position that is open, held to ground, or does what no family does."""

from __future__ import annotations

import math

from loopback.plan.runs import Position
from loopback.verdict.evidence import level_at
from loopback.verdict.faults.dead_numbers import (
    across_farad,
    in_noise,
    level_db,
    ohm_of,
    ohm_to_ground,
    positions_apart_db,
    switches,
    through,
)
from loopback.verdict.faults.record import DEAD, PASSING, Case, Clue, FaultCode, Place
from loopback.verdict.faults.signatures import (
    HALF_OHM,
    METAL_OHM,
    NEIGHBOURS_F,
    TELLS_DB,
    Match,
)
from loopback.verdict.passing import RunState, run_state

_LEAST_F = 0.3e-12
"""Less than this gets across lugs that are muted or screened on purpose (judgement)."""
_STRAY_DB = -72.0
"""What 0.1 pF leaves on a lead of 400 pF."""
_RISE_DB = 6.0


def dead_paths(case: Case) -> list[Match]:
    """Look at the power and switch table for what no design does.

    Parameters
    ----------
    case : Case
        Result and runs.

    Returns
    -------
    list of Match
        Empty where every position does what some kind of pedal does.
    """
    positions = sorted({e.label.position or "none" for e in case.runs})
    states = {p: s for p in positions if (s := _state(case, p)) is not None}
    if not states:
        return []
    held = _held_low(case, positions)
    if held is not None:
        return [held]
    dead = [p for p, s in states.items() if s in DEAD]
    if len(dead) == len(states):
        return _all_dead(case, states)
    if len(states) == 2 and len(dead) == 1:
        return _one_dead(case, states, dead[0])
    return [] if dead else _alike(case, states)


def _state(case: Case, position: Position) -> RunState | None:
    """State with power, else without; a plain run counts before a resistor run."""
    for powered in (True, False):
        runs = case.of(position, powered=powered)
        for feed in ("plain", "resistor"):
            states = [s for e in runs if e.label.feed == feed and (s := run_state(e)) is not None]
            if states:
                return _kind(case, position) if states[-1] in DEAD else states[-1]
    return None


def _kind(case: Case, position: Position) -> RunState:
    """Tell open from held to ground: without power, when nothing but the wiring is there.

    Stray capacitance from in to out rises with frequency, and is a tenth of a picofarad at least; a
    short is flat, or, through the resistor, in the noise.
    """
    runs = [e for e in case.of(position, powered=False) if run_state(e) in DEAD]
    runs = runs or [e for e in case.of(position, powered=True) if run_state(e) in DEAD]
    if not runs:
        return "passes"
    run = sorted(runs, key=lambda e: e.label.feed != "plain")[0]
    assert run.ratio is not None
    if case.setup is None:
        return run_state(run) or "open"
    low, high = (
        level_at(run.ratio, f_hz) + 20 * math.log10(through(run, case.setup, f_hz))
        for f_hz in (60.0, 10e3)
    )
    return "open" if high > _STRAY_DB and high - low > _RISE_DB else "short"


def _all_dead(case: Case, states: dict[Position, RunState]) -> list[Match]:
    if any(run_state(e) in PASSING for e in case.runs):
        return []  # without power it passes: its jacks are connected
    kinds = set(states.values())
    place: Place = "both" if len(states) == 2 else "only"
    if kinds == {"open", "short"}:
        clues = [_dead_clue(case, p, s, p) for p, s in states.items()]
        return [Match("columns_swapped", tuple(clues))]
    first = next(iter(states))
    if kinds == {"short"}:
        beside: tuple[FaultCode, ...] = ("plug_half_home", "ground_tab")
        return [Match("jack_shorting", (_dead_clue(case, first, "short", place),), beside=beside)]
    if place == "only" and first != "none":
        return []  # the other position may play
    clues = [_dead_clue(case, first, "open", place)]
    same = _power_tells(case, first)
    if same is False:
        clues.append(Clue("same_unpowered", {}))
    many: tuple[FaultCode, ...] = (
        ("plug_half_home", "no_power", "switch_burnt", "columns_swapped")
        if place == "both"
        else ("plug_half_home", "no_power")
    )
    return [Match("not_connected", tuple(clues), beside=many)]


def _one_dead(case: Case, states: dict[Position, RunState], dead: Position) -> list[Match]:
    """Judge a pedal that plays in one position: its bypass is dead, or its effect is."""
    other = next(p for p in states if p != dead)
    if not case.of(dead, powered=True) or not case.of(other, powered=True):
        return []
    if any(run_state(e) in PASSING for e in case.of(dead, powered=False)):
        return []
    plays = Clue("plays", {"db": level_db(case.of(other, powered=True)[-1])})
    if states[other] == "altered":
        return _dead_bypass(case, states[dead], dead, plays)
    if not _passive(case):
        return []  # a stage that mutes does so on purpose
    clue = _dead_clue(case, dead, states[dead], "other")
    if states[dead] == "short" and ohm_to_ground(case, dead)[0] < METAL_OHM.value:
        return [Match("effect_shorted", (clue,))]
    tells = _power_tells(case, dead)
    if tells is None:
        return [Match("jacks_swapped", (clue,), 0.7)]
    if tells:
        return [Match("jacks_swapped", (clue, Clue("differs_unpowered", {})))]
    return [Match("effect_dead", (clue, Clue("same_unpowered", {})))]


def _dead_bypass(case: Case, state: RunState, dead: Position, plays: Clue) -> list[Match]:
    clue = _dead_clue(case, dead, state, "bypass")
    if state == "short":
        ohm, bound = ohm_to_ground(case, dead)
        if ohm >= METAL_OHM.value:
            return []
        # No more than a bound: nothing is seen of the ground itself, and a mute leaves as little.
        return [Match("ground_tab", (clue, plays), meant=("mute",) if bound else None)]
    farad = clue.numbers.get("farad")
    lugs = isinstance(farad, float) and farad < NEIGHBOURS_F.value
    return [Match("jumper_missing", (clue, plays))] if lugs else []


def _held_low(case: Case, positions: list[Position]) -> Match | None:
    """Find a small resistance to ground in every position: it sits at a jack."""
    ohms = []
    for position in positions:
        # The effect itself may drive even this when it is on.
        runs = case.of(position, powered=False) or case.of(position, powered=True)
        resistor = [e for e in runs if e.label.feed == "resistor"]
        if not resistor or any(run_state(e) not in DEAD for e in resistor):
            return None
        if _kind(case, position) != "short":
            return None
        ohms += [ohm_of(e, case) for e in runs if e.label.feed == "plain" and not in_noise(e)]
    known = [ohm for ohm in ohms if METAL_OHM.value < ohm < HALF_OHM.value]
    if not known or len(known) < len(ohms) or len(positions) < 2:
        return None
    clue = Clue("short", {"place": "both", "ohm": max(known), "db": math.nan})
    return Match("plug_half_home", (clue,))


def _alike(case: Case, states: dict[Position, RunState]) -> list[Match]:
    """Find a footswitch that changes nothing, where the sheet says that there is a bypass."""
    if case.sheet is None or case.sheet.true_bypass is None or len(states) != 2:
        return []
    apart = positions_apart_db(case)
    if set(states.values()) != {"passes"} or apart is None or switches(case):
        return []
    return [Match("switch_stuck", (Clue("alike", {"db": apart}),))]


def _passive(case: Case) -> bool:
    result = case.result
    if result.path in ("wired", "loaded") or (result.path == "faulty" and result.series_ohm):
        return True
    return result.path == "undecided" and not {"buffered", "converted"} & set(result.alternatives)


def _power_tells(case: Case, position: Position) -> bool | None:
    """Tell whether a dead path changes when power comes; None: not looked at, or in the noise."""
    for on in case.of(position, powered=True):
        for off in case.of(position, powered=False):
            if on.label.feed != off.label.feed:
                continue
            if in_noise(on) and in_noise(off):
                continue
            return abs(level_db(on) - level_db(off)) > TELLS_DB.value
    return None


def _dead_clue(case: Case, position: Position, state: RunState, place: str) -> Clue:
    runs = [*case.of(position, powered=True), *case.of(position, powered=False)]
    plain = [e for e in runs if e.label.feed == "plain"]
    run = (plain or runs)[0]
    numbers: dict[str, float | str] = {"place": place, "db": level_db(run)}
    if state == "short":
        ohm, bound = ohm_to_ground(case, position)
        return Clue("short_under" if bound else "short", {**numbers, "ohm": ohm})
    farad = across_farad(run, case.setup)
    if farad is not None and farad > _LEAST_F:
        numbers["farad"] = farad
    return Clue("open", numbers)
