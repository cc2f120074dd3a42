"""What passes where: a position that is open, held to ground, or does what no family does."""

from __future__ import annotations

import math

import numpy as np

from loopback.identify.setup import SetupFound
from loopback.plan.runs import Position
from loopback.verdict.evidence import Evidence, level_at, level_between
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
_FLOOR_DB = 6.0
_STRAY_DB = -72.0
"""What 0.1 pF leaves on a lead of 400 pF."""
_RISE_DB = 6.0
_ALIKE_DB = 0.02


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
        level_at(run.ratio, f_hz) + 20 * math.log10(_through(run, case.setup, f_hz))
        for f_hz in (60.0, 10e3)
    )
    return "open" if high > _STRAY_DB and high - low > _RISE_DB else "short"


def _all_dead(case: Case, states: dict[Position, RunState]) -> list[Match]:
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
    plays = Clue("plays", {"db": _level(case.of(other, powered=True)[-1])})
    if states[other] == "altered":
        return _dead_bypass(case, states[dead], dead, plays)
    if not _passive(case):
        return []  # a stage that mutes does so on purpose
    clue = _dead_clue(case, dead, states[dead], "other")
    if states[dead] == "short" and _ohm(case, dead)[0] < METAL_OHM.value:
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
        metal = _ohm(case, dead)[0] < METAL_OHM.value
        return [Match("ground_tab", (clue, plays))] if metal else []
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
        ohms += [_ohm_of(e, case) for e in runs if e.label.feed == "plain" and not _in_noise(e)]
    known = [ohm for ohm in ohms if METAL_OHM.value < ohm < HALF_OHM.value]
    if not known or len(known) < len(ohms) or len(positions) < 2:
        return None
    clue = Clue("short", {"place": "both", "ohm": max(known), "db": math.nan})
    return Match("plug_half_home", (clue,))


def _alike(case: Case, states: dict[Position, RunState]) -> list[Match]:
    """Find a footswitch that changes nothing, where the sheet says that there is a bypass."""
    if case.sheet is None or case.sheet.true_bypass is None or len(states) != 2:
        return []
    apart = _positions_apart_db(case)
    if set(states.values()) != {"passes"} or apart is None or apart > _ALIKE_DB:
        return []
    return [Match("switch_stuck", (Clue("alike", {"db": apart}),))]


def switches(case: Case) -> bool:
    """Tell whether the runs show that a press changes something.

    Parameters
    ----------
    case : Case
        Result and runs.

    Returns
    -------
    bool
        False also where one position was looked at: a box without a footswitch is no pedal with
        a wrong part.
    """
    apart = _positions_apart_db(case)
    return apart is not None and apart > _ALIKE_DB


def _positions_apart_db(case: Case) -> float | None:
    """Give the largest difference of the two positions with power; None: not looked at."""
    pairs = [
        _apart_db(one, two)
        for one in case.of("a", powered=True)
        for two in case.of("b", powered=True)
        if one.label.feed == two.label.feed
    ]
    return max(pairs, default=None)


def _apart_db(one: Evidence, two: Evidence) -> float:
    assert one.ratio is not None
    assert two.ratio is not None
    use = (one.ratio.f_hz >= 50.0) & (one.ratio.f_hz <= 15e3)
    apart = np.abs(one.ratio.t[use]) / np.maximum(np.abs(two.ratio.t[use]), 1e-12)
    return float(np.max(np.abs(20 * np.log10(apart))))


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
            if _in_noise(on) and _in_noise(off):
                continue
            return abs(_level(on) - _level(off)) > TELLS_DB.value
    return None


def _dead_clue(case: Case, position: Position, state: RunState, place: str) -> Clue:
    runs = [*case.of(position, powered=True), *case.of(position, powered=False)]
    plain = [e for e in runs if e.label.feed == "plain"]
    run = (plain or runs)[0]
    numbers: dict[str, float | str] = {"place": place, "db": _level(run)}
    if state == "short":
        ohm, bound = _ohm(case, position)
        return Clue("short_under" if bound else "short", {**numbers, "ohm": ohm})
    farad = across_farad(run, case.setup)
    if farad is not None and farad > _LEAST_F:
        numbers["farad"] = farad
    return Clue("open", numbers)


def across_farad(run: Evidence, setup: SetupFound | None) -> float | None:
    """Capacitance that couples in to out of a dead path, from its level at the treble.

    There the return lead is all the load: ``T H0 = C / (C + C_lead)`` for either feed.

    Parameters
    ----------
    run : Evidence
        A run in which nothing else passes.
    setup : SetupFound or None
        For the capacitance of lead and input; None: not known.

    Returns
    -------
    float or None
        Farads; None without a setup, or where more than half gets across.
    """
    if setup is None or run.ratio is None:
        return None
    f_hz = min(20e3, 0.9 * float(run.ratio.f_hz[-1]))
    share = 10 ** (level_at(run.ratio, f_hz) / 20) * _through(run, setup, f_hz)
    return None if share > 0.5 else float(setup.node_c.value * share / (1 - share))


def _ohm(case: Case, position: Position) -> tuple[float, bool]:
    """Resistance to ground of a shorted position, and whether it is no more than a bound."""
    runs = [*case.of(position, powered=False), *case.of(position, powered=True)]
    runs.sort(key=lambda e: e.label.feed != "plain")
    if not runs:
        return math.inf, True
    # Through the resistor what crosses beside the pedal is as large as tenths of an ohm.
    bound = runs[0].label.feed == "resistor" or _in_noise(runs[0])
    return _ohm_of(runs[0], case), bound


def _ohm_of(run: Evidence, case: Case) -> float:
    """Resistance to ground that leaves the level of a run, ohms."""
    setup = case.setup
    if run.ratio is None or setup is None:
        return math.inf
    share = 10 ** (_level(run) / 20) * _through(run, setup, 1000.0)
    if run.label.feed == "plain":
        source = setup.source_ohm.value
    else:
        source = run.label.resistor_ohm or (setup.resistor.value if setup.resistor else 100e3)
    return source * share / max(1 - share, 1e-9)


def _through(run: Evidence, setup: SetupFound, f_hz: float) -> float:
    """Level of the reference itself, over the source."""
    source = setup.zs_plain if run.label.feed == "plain" else setup.zs_resistor
    at = int(np.argmin(np.abs(np.log(setup.f_hz / f_hz))))
    return float(1 / np.abs(1 + source[at] * setup.y_load[at]))


def _level(run: Evidence) -> float:
    return math.nan if run.ratio is None else level_at(run.ratio, 1000.0)


def _in_noise(run: Evidence) -> bool:
    assert run.ratio is not None
    use = (run.ratio.f_hz >= 200.0) & (run.ratio.f_hz <= 2000.0)
    floor = float(np.median(run.ratio.noise_db[use]))
    return level_between(run.ratio, 200.0, 2000.0) < floor + _FLOOR_DB
