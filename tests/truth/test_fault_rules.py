"""Rules and words of the wiring faults, one by one: tables complete, limits on the right side."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, get_args

import pytest

from loopback.quantity import Estimate
from loopback.switching.result import (
    Cause,
    CauseCode,
    DirectionFigures,
    Figure,
    PressFigures,
    TapEvent,
    TapFigures,
)
from loopback.verdict.expectation import Expectation
from loopback.verdict.expected import compare_expected
from loopback.verdict.faults.find import find_faults
from loopback.verdict.faults.line import bands_off
from loopback.verdict.faults.record import Case, Clue, ClueCode, Fault, FaultCode, MeantCode
from loopback.verdict.faults.signatures import SIGNATURES
from loopback.verdict.result import Result
from loopback.verdict.sentences_clues import CLUES
from loopback.verdict.sentences_faults import (
    MEANT,
    NAMES,
    WHERE,
    clue_sentence,
    fault_heading,
    fault_line,
    fault_words,
)
from tests.truth.test_sentences_result import PULLDOWN, WIRED

NUMBERS: dict[str, float | str] = {
    "place": "bypass", "db": -55.0, "u": 0.3, "ohm": 1.2e3, "farad": 3e-12, "u_farad": 1e-13,
    "order": 2, "wanted": 1e6, "bands": 1, "low_ohm": 2e6, "high_s": 1e-6, "key": "pulldown",
    "feed": "plain", "hz": 9.6e3, "dbfs": -97.0, "count": 2, "ratio": 50.0, "times": 4.0,
    "tail_s": 0.3, "at_s": 3.2, "median_s": 4e-3, "worst_s": 0.05,
}  # fmt: skip


def test_tables_hold_every_code() -> None:
    """Each fault has a signature, a name and a place; each clue and purpose its words."""
    codes = set(get_args(FaultCode))
    assert set(SIGNATURES) == set(NAMES) == set(WHERE) == codes
    assert set(CLUES) == set(get_args(ClueCode))
    assert set(MEANT) == set(get_args(MeantCode))


@pytest.mark.parametrize("code", get_args(ClueCode))
def test_every_clue_is_a_sentence(code: ClueCode) -> None:
    """Whole, short, without gaps in its numbers."""
    text = clue_sentence(Clue(code, NUMBERS))
    assert re.fullmatch(r"[A-Z0-9-].*\.", text)
    assert "nan" not in text
    assert len(text) < 200


@pytest.mark.parametrize("key", ["pulldown", "least_resistance", "most_capacitance",
                                 "most_in_to_out", "true_bypass", "passes_unpowered"])  # fmt: skip
def test_every_line_of_a_sheet_can_be_named(key: str) -> None:
    """What the sheet expects is said in its own unit."""
    text = clue_sentence(Clue("expected", {"key": key, "wanted": 1.0}))
    assert text.startswith("The build sheet expects ")


@pytest.mark.parametrize("code", get_args(FaultCode))
def test_where_to_look_is_one_sentence(code: FaultCode) -> None:
    """One sentence that says what to do; weights between 0 and 1; no fault beside itself."""
    signature = SIGNATURES[code]
    assert re.fullmatch(r"[A-Z].*\.", WHERE[code])
    assert ". " not in WHERE[code]
    assert len(WHERE[code]) < 200
    assert 0 < signature.weight < 1
    assert code not in signature.beside


def test_words_of_a_fault() -> None:
    """Rank, evidence, place, what looks the same and what is meant so; signs written out."""
    fault = Fault("pulldown_wrong", 0.7, (Clue("across", {"ohm": 1e5, "u": 500.0}),),
                  ("output_left",), ("fitted_across",))  # fmt: skip
    (words,) = fault_words([fault], plain=True)
    assert (words.rank, words.code, words.weight) == (1, "pulldown_wrong", 0.7)
    assert words.evidence == ("100 kohm +/- 1 lies across the line in bypass.",)
    assert words.consistent_with == (NAMES["output_left"],)
    assert "on purpose" in fault_line(words)
    assert "Also consistent with" in fault_line(words, whole=True)
    assert words.evidence[0] not in fault_line(words, short=True)
    assert fault_heading([fault]) == "Fault?"
    assert fault_heading([replace(fault, meant=())]) == "Fault"


@pytest.mark.parametrize(
    ("ohm", "wanted", "bands"),
    [(1e5, 1e6, 1), (1.02e4, 1e6, 2), (10e6, 1e6, -1), (1.3e5, 1e6, 0), (0.5e6, 1e6, 0),
     (220e3, 2.2e6, 1)],
)  # fmt: skip
def test_bands_of_the_colour_code(ohm: float, wanted: float, bands: int) -> None:
    """A tenth and a hundredth are one band off; half is none."""
    assert bands_off(ohm, wanted) == bands


def against(result: Result, **sheet: Any) -> tuple[Fault, ...]:
    """Faults of a result against a sheet, no runs at hand."""
    expectation = Expectation(**sheet)
    lines = compare_expected(expectation, result)
    return find_faults(Case(result, (), sheet=expectation, expected=lines))


def with_resistance(ohm: float) -> Result:
    """1 MΩ replaced by another, known to 1 %."""
    assert PULLDOWN.shunt is not None
    g = Estimate(1 / ohm, 0.005 / ohm, "siemens")
    return replace(PULLDOWN, shunt=replace(PULLDOWN.shunt, g_siemens=g))


@pytest.mark.parametrize(
    ("ohm", "named"),
    [
        (1e6, None),
        (1e5, "pulldown_wrong"),
        (500e3, "pulldown_twice"),
        (700e3, "leakage"),  # 2.3 MΩ beside it
        (35e3, "output_left"),  # a control beside it
        (2e6, "pulldown_wrong"),
        (10e6, "pulldown_wrong"),  # one band
    ],
)
def test_resistor_against_the_sheet(ohm: float, named: str | None) -> None:
    """The same line of the sheet, another value found, another fault."""
    found = against(with_resistance(ohm), pulldown=1e6)
    assert [fault.code for fault in found] == ([] if named is None else [named])
    assert all(fault.expected == "pulldown" and not fault.meant for fault in found)


def test_wire_against_a_sheet_that_wants_a_resistor() -> None:
    """Nothing there: missing, or where it does not stay in bypass."""
    assert WIRED.shunt is not None
    (fault,) = against(WIRED, pulldown=1e6)
    assert fault.code == "pulldown_missing"
    assert fault.clues[0].code == "across_over"


def test_a_resistor_the_sheet_asks_for_is_no_fault() -> None:
    """100 kΩ where 100 kΩ belongs."""
    assert against(with_resistance(1e5), pulldown=1e5) == ()


def figures(**change: Any) -> PressFigures:
    """Four presses either way that pop."""
    silence = DirectionFigures(4, 0, 1e-4)
    base = PressFigures("V", "level", silence, silence, (), (), 8, 100, (), None)
    return replace(base, **change)


def test_presses_name_their_cause() -> None:
    """Leakage, a tail, the lamp; a mute of a relay and a plain gap are no faults."""
    causes: dict[CauseCode, str | None] = {
        "leakage": "capacitor_leak",
        "electrolytic": "electrolytic",
        "lamp": "lamp_pop",
        "relay_mute": None,
    }
    for cause, named in causes.items():
        numbers = {"lit": 4.0, "tail_s": 0.3, "ratio": 50.0, "gap_s": 0.04}
        case = Case(WIRED, (), footswitch=figures(causes=(Cause(cause, numbers),)))
        codes = [fault.code for fault in find_faults(case)]
        assert codes == ([] if named is None else [named])


def test_a_switch_that_hangs_is_worn() -> None:
    """4 ms as a rule and 60 ms once; always 60 ms is a mute."""
    median, worst = Estimate(4e-3, 1e-5, "s"), Estimate(60e-3, 1e-5, "s")
    for one, codes in ((median, ["switch_burnt"]), (worst, [])):
        gap = Figure(one, worst)
        lit = DirectionFigures(4, 0, 1e-4, gap_s=gap)
        found = find_faults(Case(WIRED, (), footswitch=figures(lit=lit)))
        assert [fault.code for fault in found] == codes


def event(db: float, *, drops: bool = False) -> TapEvent:
    """One excursion."""
    return TapEvent(3.2, 0.04, Estimate(db, 0.01, "dB"), Estimate(0.0, 0.1, "deg"), drops)


@pytest.mark.parametrize(
    ("events", "crackles", "code"),
    [
        ((event(-60.0, drops=True),), 0, "joint_opens"),
        ((event(-1.0),), 2, "joint_opens"),
        ((), 3, "jack_dirty"),
        ((event(-0.05),), 0, None),  # a hand near the lead
        ((), 0, None),
    ],
)
def test_taps_name_what_moves(
    events: tuple[TapEvent, ...], crackles: int, code: str | None
) -> None:
    """Drop-outs and changes are joints, crackle alone is dirt, a hand is nothing."""
    case = Case(WIRED, (), taps=TapFigures(events, 20.0, 0.003, 0.02, crackles))
    assert [fault.code for fault in find_faults(case)] == ([] if code is None else [code])


def test_no_pedal_no_fault() -> None:
    """Where no pedal was proven to be in the path nothing is said about its wiring."""
    none = replace(WIRED, path="none")
    taps = TapFigures((event(-60.0, drops=True),), 20.0, 0.003, 0.02, 0)
    assert find_faults(Case(none, (), taps=taps)) == ()


@pytest.mark.parametrize("code", ["effect_dead", "effect_shorted"])
def test_a_position_that_is_silent_by_design_comes_before_the_fault(code: FaultCode) -> None:
    """A tuner or A/B box is as likely: the heading is neutral and the harmless reading first."""
    clue = Clue("open", {"place": "other", "db": -70.0, "farad": 1e-12})
    fault = Fault(code, SIGNATURES[code].weight, (clue,), (), SIGNATURES[code].meant)
    (words,) = fault_words([fault])
    assert fault_heading([fault]) == "Seen"
    assert words.name.index("by design") < words.name.index(NAMES[code])
    assert "If it should play:" in fault_line(words)
    assert fault.weight < 0.5
    (surely,) = fault_words([replace(fault, meant=())])  # the build sheet has an effect there
    assert (surely.name, fault_heading([replace(fault, meant=())])) == (NAMES[code], "Fault")
