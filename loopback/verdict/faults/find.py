"""All rules over one case: what matches, ranked."""

from __future__ import annotations

from collections.abc import Callable

from loopback.verdict.faults.dead import dead_paths
from loopback.verdict.faults.line import in_line_and_across
from loopback.verdict.faults.record import Case, Fault
from loopback.verdict.faults.sheet import against_sheet
from loopback.verdict.faults.signatures import Match
from loopback.verdict.faults.sound import heard
from loopback.verdict.faults.watched import pressed_and_tapped

RULES: tuple[Callable[[Case], list[Match]], ...] = (
    dead_paths,
    in_line_and_across,
    heard,
    pressed_and_tapped,
)


def find_faults(case: Case) -> tuple[Fault, ...]:
    """Find every fault that the data carry.

    Parameters
    ----------
    case : Case
        Result, runs, presses, taps, build sheet.

    Returns
    -------
    tuple of Fault
        The one whose evidence goes furthest first, each code once; empty for a healthy pedal, and
        where no pedal was proven to be in the path.
    """
    if case.result.path == "none":
        return ()
    found = [match.fault() for rule in RULES for match in rule(case)]
    faults = against_sheet(case, found)
    if _scale_in_doubt(case):
        faults = [fault for fault in faults if fault.code != "pulldown_wrong"]
    best: dict[str, Fault] = {}
    for fault in sorted(faults, key=lambda f: -f.weight):
        best.setdefault(fault.code, fault)
    return tuple(best.values())


def _scale_in_doubt(case: Case) -> bool:
    """Tell whether the ohms may all be wrong by a factor: then no colour band is told from them.

    A resistor of ten times what was typed makes the input 100 kohm and any pulldown a tenth.
    """
    doubts = {reason.code for reason in case.result.reasons} & {"resistor_doubtful", "low_input"}
    return bool(doubts or case.noticed & {"line_input", "setup_moved"})
