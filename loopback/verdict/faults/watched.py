"""What pressing and tapping show."""

from __future__ import annotations

import math

from loopback.switching.result import Cause, PressFigures, TapFigures
from loopback.verdict.faults.record import Case, Clue, FaultCode
from loopback.verdict.faults.signatures import MOVED_DB, Match

_LONG_GAP_S = 0.03
_USUAL_GAP_S = 0.02
_FAULT_OF: dict[str, FaultCode] = {
    "leakage": "capacitor_leak",
    "electrolytic": "electrolytic",
    "lamp": "lamp_pop",
}


def pressed_and_tapped(case: Case) -> list[Match]:
    """Turn what presses and taps are consistent with into faults.

    Parameters
    ----------
    case : Case
        Presses and taps.

    Returns
    -------
    list of Match
        Empty where nobody pressed or tapped, or nothing stood out.
    """
    found: list[Match] = []
    if case.footswitch is not None:
        found += _pressed(case.footswitch)
    if case.taps is not None:
        found += _tapped(case.taps)
    return found


def _pressed(figures: PressFigures) -> list[Match]:
    codes = [_FAULT_OF[c.code] for c in figures.causes if c.code in _FAULT_OF]
    found = [_of_cause(c) for c in figures.causes if c.code in _FAULT_OF]
    if {"capacitor_leak", "electrolytic"} <= set(codes):
        found = [m for m in found if m.code != "electrolytic"]  # one pop, told twice
    gaps = [d.gap_s for d in (figures.lit, figures.dark) if d.gap_s is not None]
    uneven = [g for g in gaps if g.worst.value > _LONG_GAP_S and g.median.value < _USUAL_GAP_S]
    if uneven:
        worst = max(uneven, key=lambda g: g.worst.value)
        numbers: dict[str, float | str] = {
            "median_s": worst.median.value,
            "worst_s": worst.worst.value,
        }
        found.append(Match("switch_burnt", (Clue("gap_varies", numbers),), beside=()))
    return found


def _of_cause(cause: Cause) -> Match:
    numbers: dict[str, float | str] = dict(cause.numbers)
    if cause.code == "leakage":
        times = max(cause.numbers.values())
        return Match("capacitor_leak", (Clue("pop_grows", {"times": times}),))
    if cause.code == "electrolytic":
        return Match("electrolytic", (Clue("pop_tail", numbers),))
    return Match("lamp_pop", (Clue("pop_once", numbers),))


def _tapped(figures: TapFigures) -> list[Match]:
    drops = [e for e in figures.events if e.drops_out]
    moves = [
        e
        for e in figures.events
        if not e.drops_out and abs(e.level_db.value) - e.level_db.half_width() > MOVED_DB.value
    ]
    clues = []
    if drops:
        clues.append(
            Clue(
                "drops_out",
                {"count": len(drops), "at_s": drops[0].at_s, "db": drops[0].level_db.value},
            )
        )
    if moves:
        largest = max(moves, key=lambda e: abs(e.level_db.value))
        numbers: dict[str, float | str] = {
            "count": len(moves),
            "at_s": largest.at_s,
            "db": largest.level_db.value,
        }
        clues.append(Clue("moves", numbers))
    crackles: dict[str, float | str] = {"count": figures.crackles}
    if clues:
        if figures.crackles:
            clues.append(Clue("crackles", crackles))
        share = 1.0 if drops else 0.8
        return [Match("joint_opens", tuple(clues), share)]
    if figures.crackles and math.isfinite(figures.watched_s):
        return [Match("jack_dirty", (Clue("crackles", crackles),))]
    return []
