"""Against the build sheet: what a design may have, and this one should not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from loopback.quantity import Estimate
from loopback.verdict.faults.line import across, bands_off, plain_resistance, weak_joint
from loopback.verdict.faults.record import Case, Clue, Fault, FaultCode
from loopback.verdict.faults.signatures import LOW_OHM, MOST_COUPLING_F, Match
from loopback.verdict.limits import INSULATION_OHM
from loopback.verdict.probability import DECIDED, probability_below

_FITTED_OHM = (1e6, 2.2e6, 4.7e6, 10e6)
_NEAR = 0.07
_POT_OHM = (4e3, 130e3)
"""What a volume control of 10 to 250 kohm, with its stage behind it, leaves across the line."""


def against_sheet(case: Case, found: Sequence[Fault]) -> list[Fault]:
    """Add what the build sheet makes a fault, and tie what was found to its lines.

    Parameters
    ----------
    case : Case
        With the sheet.
    found : sequence of Fault
        What was found without it.

    Returns
    -------
    list of Fault
        Those, and more. A resistor that the sheet asks for is no fault.
    """
    if case.sheet is None:
        return list(found)
    meant = _as_the_sheet_says(case)
    kept = [f for f in found if f.code != "pulldown_wrong" or not meant]
    more = [match.fault() for match in _rules(case) if match is not None]
    codes = {fault.code for fault in more}
    kept = [fault for fault in kept if fault.code not in codes]
    return [_tied(fault, case) for fault in (*kept, *more)]


def _rules(case: Case) -> list[Match | None]:
    return [_in_line(case), _resistor(case), _behind_a_capacitor(case), _capacitance(case)]


def _tied(fault: Fault, case: Case) -> Fault:
    """Name the line of the sheet that a fault goes against; what is asked for is not meant."""
    lines = {
        "weak_joint": ("most_in_to_out", "true_bypass"),
        "pulldown_wrong": ("pulldown", "least_resistance", "true_bypass"),
        "pulldown_missing": ("pulldown",),
        "pulldown_twice": ("pulldown", "least_resistance", "true_bypass"),
        "pulldown_fitted": ("least_resistance", "true_bypass", "pulldown"),
        "leakage": ("least_resistance", "true_bypass", "pulldown"),
        "input_left": ("true_bypass", "pulldown", "least_resistance", "most_capacitance"),
        "output_left": ("true_bypass", "pulldown", "least_resistance"),
        "screened_lead": ("most_capacitance", "true_bypass"),
        "jumper_missing": ("true_bypass", "passes_unpowered"),
        "ground_tab": ("true_bypass", "passes_unpowered"),
        "columns_swapped": ("true_bypass", "passes_unpowered"),
        "jack_shorting": ("true_bypass", "passes_unpowered"),
        "plug_half_home": ("true_bypass", "passes_unpowered", "pulldown"),
        "not_connected": ("true_bypass", "passes_unpowered"),
    }.get(fault.code, ())
    line = next((e for key in lines for e in case.expected if e.key == key), None)
    if line is None or line.outcome != "not met":
        line = next((e for e in case.expected if e.key in lines and e.outcome == "not met"), None)
    if line is None:
        return fault
    clues = (*fault.clues, Clue("expected", {"key": line.key, "wanted": float(line.wanted)}))
    return replace(fault, clues=clues, expected=line.key, meant=())


def _as_the_sheet_says(case: Case) -> bool:
    return any(e.key == "pulldown" and e.outcome == "met" for e in case.expected)


def _in_line(case: Case) -> Match | None:
    """In to out above what the sheet allows."""
    series = case.result.series_ohm
    if case.unmet("most_in_to_out") is None or series is None or weak_joint(case) is not None:
        return None
    return Match("weak_joint", (Clue("in_line", {"ohm": series.value, "u": series.u}),))


def _resistor(case: Case) -> Match | None:
    """Find a plain resistor across the line that is not the one of the sheet."""
    sheet, g = case.sheet, plain_resistance(case.result)
    line = case.unmet("pulldown", "least_resistance", "true_bypass")
    if sheet is None or g is None or line is None or case.result.path not in _JUDGED:
        return None
    if sheet.pulldown is not None:
        return _other_than(g, sheet.pulldown) if case.unmet("pulldown") else None
    if probability_below(g, 1 / INSULATION_OHM.value) > 1 - DECIDED and line.key == "true_bypass":
        return None  # what is against the sheet is not the resistance
    return _unwanted(g)


_JUDGED = ("wired", "loaded", "undecided", "faulty")


def _other_than(g: Estimate, wanted: float) -> Match:
    clue, ohm = across(g), 1 / g.value if g.value > 0 else float("inf")
    if clue.code == "across_over" or (ohm > 5 * wanted and not bands_off(ohm, wanted)):
        return Match("pulldown_missing", (clue,))
    off = bands_off(ohm, wanted)
    if off:
        tenth = Clue("a_tenth", {"wanted": wanted, "bands": off})
        return Match("pulldown_wrong", (clue, tenth), beside=_pot(ohm))
    if abs(2 * ohm / wanted - 1) < _NEAR:
        return Match("pulldown_twice", (clue, Clue("beside", {"ohm": wanted})))
    if ohm > wanted:
        return Match("pulldown_wrong", (clue,), beside=())
    extra = 1 / (1 / ohm - 1 / wanted)
    beside = Clue("beside", {"ohm": extra})
    if extra > LOW_OHM.value:
        return Match("leakage", (clue, beside), beside=("pulldown_wrong", "input_left"))
    return Match("output_left", (clue, beside), beside=("pulldown_wrong", "input_left"))


def _unwanted(g: Estimate) -> Match:
    clue, ohm = across(g), 1 / max(g.value, 1e-12)
    if ohm < LOW_OHM.value:
        if off := bands_off(ohm, 1e6):
            tenth = Clue("a_tenth", {"wanted": 1e6, "bands": off})
            return Match("pulldown_wrong", (clue, tenth), beside=_pot(ohm), meant=())
        return Match("output_left", (clue,), beside=("pulldown_wrong", "leakage"))
    if any(abs(ohm / usual - 1) < _NEAR for usual in _FITTED_OHM):
        return Match("pulldown_fitted", (clue,))
    return Match("leakage", (clue,), beside=("pulldown_fitted", "input_left"))


def _pot(ohm: float) -> tuple[FaultCode, ...]:
    return ("output_left",) if _POT_OHM[0] < ohm < _POT_OHM[1] else ()


def _behind_a_capacitor(case: Case) -> Match | None:
    """Find the effect's input, or its volume control, where the sheet has only wiring."""
    network = case.result.network
    if network is None or case.unmet("true_bypass", "pulldown", "least_resistance") is None:
        return None
    ohm, farad = network.r_ohm, network.coupling_farad
    clue = Clue("behind", {"ohm": ohm.value, "u": ohm.u, "farad": farad.value, "u_farad": farad.u})
    control = farad.value - 2 * farad.u > MOST_COUPLING_F.value
    return Match(
        "output_left" if control and ohm.value < 2 * _POT_OHM[1] else "input_left", (clue,)
    )


def _capacitance(case: Case) -> Match | None:
    """More capacitance than the sheet allows, and nothing else."""
    shunt = case.result.shunt
    line = case.unmet("most_capacitance")
    if line is None or shunt is None or plain_resistance(case.result) is None:
        return None
    c = shunt.c_farad
    return Match("screened_lead", (Clue("capacitance", {"farad": c.value, "u": c.u}),))
