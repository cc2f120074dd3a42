"""What lies in line and across it: joints, and resistors that no design has."""

from __future__ import annotations

import math

from loopback.identify.found import Shunt
from loopback.identify.shunt import closed_form_shunt
from loopback.quantity import Estimate
from loopback.verdict.evidence import Evidence
from loopback.verdict.faults.dead_numbers import switches
from loopback.verdict.faults.record import Case, Clue
from loopback.verdict.faults.signatures import LOW_OHM, Match
from loopback.verdict.passing import run_state
from loopback.verdict.probability import DECIDED, probability_below
from loopback.verdict.result import Result

USUAL_OHM = 1e6
"""The resistor that most build sheets put across a jack (common practice)."""
BAND = 0.08
"""Relative width about a tenth or a hundredth of a value, in which one band of colour is meant."""
_DRIFT_U = 5.0
_DRIFT_S = 40e-9
"""A drift of 0.03 dB in gain looks like so many siemens."""


def in_line_and_across(case: Case) -> list[Match]:
    """Look at series resistance and the load for what no design has.

    Parameters
    ----------
    case : Case
        Result and runs.

    Returns
    -------
    list of Match
        At most one for each of joint, resistor and leakage.
    """
    found = [weak_joint(case), _low_resistor(case), _drifting(case)]
    return [match for match in found if match is not None]


def weak_joint(case: Case) -> Match | None:
    """Find a resistance in line, or a level that does not stay.

    Parameters
    ----------
    case : Case
        Result and runs.

    Returns
    -------
    Match or None
        None where the result does not call it a fault.
    """
    result = case.result
    if result.path != "faulty":
        return None
    bends = _bends(case)
    joint = next((r for r in result.reasons if r.code == "series_resistance"), None)
    if joint is not None and result.series_ohm is not None:
        series = result.series_ohm
        clue = Clue("in_line", {"ohm": series.value, "u": series.u})
        return Match("weak_joint", (clue, *bends), meant=() if bends else None)
    unsteady = next((r for r in result.reasons if r.code == "not_steady"), None)
    if unsteady is None:
        return None
    return Match("weak_joint", (Clue("not_steady", unsteady.numbers), *bends), meant=())


def plain_resistance(result: Result) -> Estimate | None:
    """Conductance of a plain resistor across the line, where it is one.

    Parameters
    ----------
    result : Result
        The three lines.

    Returns
    -------
    Estimate or None
        Siemens; None for an active path, a load behind a capacitor, and without a resistor run.
    """
    names = set(result.consistent)
    if result.shunt is None or result.buffer is not None or result.network is not None:
        return None
    return result.shunt.g_siemens if names and names <= {"wire", "shunt", "inline"} else None


def across(g: Estimate) -> Clue:
    """Write a conductance as a clue.

    Parameters
    ----------
    g : Estimate
        Siemens.

    Returns
    -------
    Clue
        Ohms with their doubt, or a bound where it is not told from none.
    """
    if g.half_width() > 0.5 * g.value:
        return Clue("across_over", {"ohm": 1 / (max(g.value, 0.0) + 1.645 * g.u)})
    return Clue("across", {"ohm": 1 / g.value, "u": g.u / g.value**2})


def bands_off(ohm: float, wanted_ohm: float) -> int:
    """Tell how many powers of ten a resistor is below what was wanted; 0: it is not one of those.

    Parameters
    ----------
    ohm, wanted_ohm : float
        Found and wanted.

    Returns
    -------
    int
        1 for a tenth, 2 for a hundredth, -1 for ten times.
    """
    decades = math.log10(wanted_ohm / ohm)
    whole = round(decades)
    return whole if abs(10 ** (decades - whole) - 1) < BAND else 0


def _low_resistor(case: Case) -> Match | None:
    """Find a plain resistor lower than any fitted on purpose, in a pedal that switches."""
    result, g = case.result, plain_resistance(case.result)
    if g is None or result.path != "loaded" or not switches(case):
        return None
    if probability_below(g, 1 / LOW_OHM.value) > 1 - DECIDED:
        return None
    clues = [across(g)]
    share = 0.7
    if off := bands_off(1 / g.value, USUAL_OHM):
        clues.append(Clue("a_tenth", {"wanted": USUAL_OHM, "bands": off}))
        share = 0.9
    return Match("pulldown_wrong", tuple(clues), share)


def _drifting(case: Case) -> Match | None:
    """Find insulation that changes from run to run, as nothing fitted does."""
    setup = case.setup
    if setup is None or setup.basis == "plain" or plain_resistance(case.result) is None:
        return None
    worst: tuple[float, Shunt, Shunt] | None = None
    for powered in (True, False):
        runs = [
            e
            for e in case.of(case.result.bypass_position or "none", powered=powered)
            if e.label.feed == "resistor" and run_state(e) == "passes"
        ]
        found = [s for e in runs if (s := _closed(e, case)) is not None]
        if len(found) < 2:
            continue
        low, high = (pick(found, key=lambda s: s.g_siemens.value) for pick in (min, max))
        apart = high.g_siemens.value - low.g_siemens.value
        sure = apart > max(_DRIFT_S, _DRIFT_U * math.hypot(low.g_siemens.u, high.g_siemens.u))
        if sure and (worst is None or apart > worst[0]):
            worst = (apart, low, high)
    if worst is None:
        return None
    clue = Clue(
        "drifts",
        {"low_ohm": 1 / worst[2].g_siemens.value, "high_s": max(worst[1].g_siemens.value, 0.0)},
    )
    return Match("leakage", (clue,), beside=())


def _closed(run: Evidence, case: Case) -> Shunt | None:
    if run.ratio is None or case.setup is None:
        return None
    return closed_form_shunt(run.ratio, case.setup)


def _bends(case: Case) -> tuple[Clue, ...]:
    """Harmonics of the bypass runs, which a joint that rectifies makes."""
    for e in case.of(case.result.bypass_position or "none", powered=False):
        found = None if e.behaviour is None else e.behaviour.linearity
        if found is not None and found.harmonics_raised == "yes" and found.over_reference_db:
            return (
                Clue(
                    "bends",
                    {"order": found.over_order or 0, "db": found.over_reference_db.value},
                ),
            )
    return ()
