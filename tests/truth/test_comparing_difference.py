"""Differences against an independent library, and what counts as one setup."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from GTC import get_correlation, ureal
from hypothesis import given
from hypothesis import strategies as st

from loopback.comparing.changes import changes_of, outcome_of
from loopback.comparing.comparison import Examined, Pair
from loopback.comparing.difference import Difference, as_resistance, differences, less
from loopback.comparing.sentences import pair_sentences, result_change_sentences
from loopback.comparing.setups import one_setup, setup_numbers
from loopback.comparing.summarise import summary_of
from loopback.comparing.summary import Figure, Leads, Summary
from loopback.quantity import Estimate
from tests.reference.invented_analysis import analysis

SIZES = st.floats(0.01, 3.0)
SIGNED = st.floats(-3.0, 3.0).filter(lambda x: abs(x) > 0.01)


def _made(own: float, resistor: float, coupler: float, value: float = 20.0) -> Estimate:
    """A value with a doubt of its own and two causes that others share."""
    u = math.sqrt(own**2 + resistor**2 + coupler**2)
    return Estimate(value, u, "farad", common=(("resistor", resistor), ("coupler", coupler)))


@given(SIZES, SIZES, SIGNED, SIGNED, SIGNED, SIGNED)
def test_common_causes_cancel_as_another_library_has_it(
    own_a: float, own_b: float, ra: float, rb: float, ka: float, kb: float
) -> None:
    """The doubt of a difference is that of GTC, which follows each cause through the arithmetic."""
    resistor, coupler = ureal(0, 1), ureal(0, 1)
    a = ureal(20, own_a) + ra * resistor + ka * coupler
    b = ureal(26, own_b) + rb * resistor + kb * coupler
    difference = less(_made(own_b, rb, kb, 26.0), _made(own_a, ra, ka), shared=True)
    assert difference.value == pytest.approx(6.0)
    assert difference.u == pytest.approx((b - a).u, rel=1e-9)
    apart = less(_made(own_b, rb, kb, 26.0), _made(own_a, ra, ka), shared=False)
    assert apart.u == pytest.approx(math.hypot(a.u, b.u), rel=1e-9)
    assert get_correlation(a, b) == pytest.approx(
        (apart.u**2 - difference.u**2) / (2 * a.u * b.u), abs=1e-9
    )


def test_a_common_resistor_leaves_only_the_rest() -> None:
    """Two equal capacitances through one resistor differ by their own doubts alone."""
    one = Estimate(100e-12, 1.3e-12, "farad", common=(("resistor", 1.2e-12),))
    assert less(one, one, shared=True).u == pytest.approx(math.sqrt(2 * 0.25) * 1e-12)
    assert less(one, one, shared=True).common == (("resistor", 0.0),)


def test_a_cause_that_only_one_has_stays() -> None:
    """Nothing is taken off for a cause that the other value does not know."""
    one = Estimate(1.0, 0.5, "dB", common=(("feeding lead", 0.4),))
    other = Estimate(0.0, 0.5, "dB", common=(("resistor", 0.4),))
    assert less(one, other, shared=True).u == pytest.approx(math.sqrt(0.5))


def test_degrees_of_freedom_are_those_of_welch_and_satterthwaite() -> None:
    """Two equal doubts of 5 degrees of freedom leave 10 (JCGM 100:2008, G.4.1: equal terms add)."""
    a = Estimate(1.0, 0.2, "dB", 5)
    assert less(a, a, shared=False).dof == pytest.approx(10)


def test_the_inverse_carries_its_causes() -> None:
    """Of 1/G the relative doubt stays, and a larger G is a smaller R."""
    g = Estimate(1e-6, 1e-8, "siemens", common=(("resistor", 6e-9),))
    r = g.inverse("ohm")
    assert (r.value, r.u) == (pytest.approx(1e6), pytest.approx(1e4))
    assert r.common[0][1] == pytest.approx(-6e3)


def _summary(**changes: object) -> Summary:
    return msgspec.structs.replace(summary_of(analysis()), **changes)


def _with_leads(**changes: object) -> Summary:
    summary = _summary()
    return msgspec.structs.replace(summary, leads=msgspec.structs.replace(summary.leads, **changes))


@pytest.mark.parametrize(
    ("changes", "same"),
    [
        ({}, True),
        ({"setup_farad": 420e-12}, True),
        ({"setup_farad": 650e-12}, False),
        ({"resistors": ((220e3, 0.01, "pedal"),)}, False),
        ({"resistors": ((100e3, 0.001, "pedal"),)}, False),
        ({"resistors": ()}, True),
        ({"name": "another interface"}, False),
        ({"full_scale_dbu": 4.0}, False),
    ],
)
def test_what_makes_one_setup(changes: dict[str, object], same: bool) -> None:
    """Interface, level, resistor and setup capacitance have to be the same."""
    a, b = _with_leads(references=("aa",)), _with_leads(**({"references": ("bb",)} | changes))
    assert one_setup(a, b) is same
    assert one_setup(a, b, "one")
    assert not one_setup(a, b, "several")
    assert setup_numbers([a, b, a]) == ((1, 1, 1) if same else (1, 2, 1))


def test_an_interface_without_a_name_is_not_known_to_be_one() -> None:
    """Recordings made elsewhere are of one setup only where they share a reference."""
    a = _with_leads(rig="files", references=("aa",))
    assert not one_setup(a, _with_leads(rig="files", references=("bb",)))
    assert one_setup(a, _with_leads(rig="files", references=("bb", "aa")))


def test_levels_through_the_resistor_need_one_setup() -> None:
    """Between setups a pedal's own values are compared, not what leads and input make of them."""
    a = _summary()
    named = {d.quantity for d in differences(a, a, "one")}
    assert {"c", "g", "series", "level_resistor", "treble_resistor", "level_plain"} <= named
    apart = {d.quantity for d in differences(a, a, "several")}
    assert named - apart == {"level_resistor", "treble_resistor"}


def _difference(value: float, u: float = 1.0) -> Difference:
    zero = Estimate(0.0, u, "ohm")
    return Difference("series", zero, zero, Estimate(value, u, "ohm"), shared=False)


@pytest.mark.parametrize(
    ("value", "outcome"),
    [(1.9, "not_told"), (-1.9, "not_told"), (2.5, "likely"), (-3.5, "changed"), (3.5, "changed")],
)
def test_a_change_is_beyond_three_standard_uncertainties(value: float, outcome: str) -> None:
    """Inside 95 % nothing is told; up to three standard uncertainties it is only likely."""
    assert outcome_of(_difference(value)) == outcome


def test_a_bound_is_no_resistance() -> None:
    """A conductance that is not resolved is never turned into ohms."""
    resolved = Estimate(1e-6, 1e-8, "siemens")
    d = Difference("g", Estimate(1e-9, 3e-9, "siemens"), resolved, resolved, shared=True)
    assert as_resistance(d) is None
    both = as_resistance(replace(d, first=Estimate(2e-6, 1e-8, "siemens")))
    assert both is not None
    assert both.difference.value == pytest.approx(5e5)


def test_what_only_one_measured_is_named() -> None:
    """A quantity that the repair brought within reach, or out of it, is listed."""
    whole = _summary()
    figures = {k: v for k, v in whole.figures.items() if k != "series"}
    less_known = msgspec.structs.replace(whole, figures=figures)
    assert changes_of(whole, less_known, "one").lost == ("series",)
    assert changes_of(less_known, whole, "one").gained == ("series",)


def test_figures_keep_everything() -> None:
    """An estimate comes back from a summary with value, doubt, freedom and causes."""
    figure = Figure(1.0, 0.2, 7.0, (("resistor", 0.1),))
    back = msgspec.json.decode(msgspec.json.encode(figure), type=Figure)
    assert back.estimate("dB") == Estimate(1.0, 0.2, "dB", 7.0, (("resistor", 0.1),))
    assert isinstance(_summary().leads, Leads)


def test_a_repair_names_the_faults_that_went_stayed_and_came() -> None:
    """Each fault once, by what became of it; without any nothing is said about faults."""
    before = _summary(faults=("cold joint", "lamp"))
    after = _summary(faults=("lamp", "leakage"))
    said = result_change_sentences(changes_of(before, after, "one"))
    assert said[3:6] == (
        "Fault no longer found: cold joint.",
        "Fault still found: lamp.",
        "Fault found only after: leakage.",
    )
    whole = _summary()
    assert not any(
        "Fault" in line for line in result_change_sentences(changes_of(whole, whole, "one"))
    )


def test_no_grade_is_had_and_not_been() -> None:
    """A load that had no grade, and one that has none any more."""
    none, light = _summary(grades=()), _summary(grades=("light",))
    assert result_change_sentences(changes_of(none, light))[1] == "Load: had no grade, is light."
    assert result_change_sentences(changes_of(light, none))[1] == "Load: was light, has no grade."


def test_long_names_are_told_by_their_numbers() -> None:
    """A sentence that holds a name twice stays a sentence, whatever the pedal is called."""
    summary = _summary()
    short, long = (
        Examined(number, name, Path("x"), summary, 1, ())
        for number, name in ((1, "Quarry Lamp"), (2, "W" * 60))
    )
    told = replace(_difference(8e-12, 1e-12), quantity="c")
    lines = pair_sentences(Pair(short, long, (told,)))
    assert lines[0].startswith("Number 2 adds ")
    assert lines[0].endswith(" than Quarry Lamp.")
