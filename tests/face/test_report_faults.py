"""Faults on page and ticket, ranked, with where to look; what is folded; how fine numbers are."""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np
import pytest

from loopback.facts import Analysis
from loopback.quantity import Estimate
from loopback.report.harmonic_lines import over_signal
from loopback.report.page_faults import fault_answer, faults_section
from loopback.report.page_numbers import interval_text
from loopback.report.page_records import Table
from loopback.report.report_page import report_page, ticket_page
from loopback.verdict.faults.record import Clue, Fault
from loopback.verdict.sentences_faults import NAMES, WHERE, fault_words
from tests.reference.invented_analysis import analysis
from tests.reference.page_reader import Page

ISSUED = "2026-11-25T20:00:00+01:00"
LAMP = Fault("lamp_pop", 0.6, (Clue("pop_once", {"times": 60.0}),), ("effect_gain",))
JOINT = Fault(
    "weak_joint", 0.9, (Clue("in_line", {"ohm": 1000.0, "u": 8.0}),), (), ("fitted_in_line",)
)


@pytest.fixture(scope="module")
def healthy() -> Analysis:
    """Nothing wrong; its runs say what they let through, and nobody pressed or tapped."""
    made = analysis()
    runs = tuple(replace(facts, state="passes") for facts in made.pedal_runs)
    return replace(made, pedal_runs=runs)


@pytest.fixture(scope="module")
def faulty(healthy: Analysis) -> Analysis:
    """Two faults, the graver one first."""
    return replace(healthy, faults=(JOINT, LAMP))


def test_faults_are_ranked_with_evidence_and_where_to_look(faulty: Analysis) -> None:
    """One row each: name, every piece of evidence, where to look, what looks the same."""
    page = Page(report_page(faulty, issued=ISSUED))
    text = page.section("faults").text
    for words in fault_words(faulty.faults):
        assert f"{words.rank}. {words.name[0].upper()}{words.name[1:]}" in text
        assert words.evidence
        for sentence in (*words.evidence, words.where_to_look):
            assert sentence in text
    assert text.index("1. Cold joint") < text.index("2. Pop of the lamp")
    assert f"Also consistent with: {NAMES['effect_gain']}." in text
    assert "On purpose it would be a resistor fitted in line on purpose." in text
    assert "not a probability" in text
    assert "None found" not in text


def test_first_fault_stands_in_the_result_of_page_and_ticket(faulty: Analysis) -> None:
    """Name, where to look, and the names of the others; a question mark where it may be meant."""
    for html in (report_page(faulty, issued=ISSUED), ticket_page(faulty)):
        text = Page(html).section("result").text
        assert "Fault?Cold joint or worn contact in the bypass path." in text
        assert WHERE["weak_joint"] in text
        assert f"Also: {NAMES['lamp_pop']}." in text
    only = fault_answer(replace(faulty, faults=(LAMP,)))
    assert only is not None
    assert only.question == "Fault"
    assert "Also:" not in only.certainty


def test_ticket_says_what_came_of_the_claim_and_what_would_tell(healthy: Analysis) -> None:
    """Whoever files it reads on half a page what was promised, and which run is missing."""
    pedal = msgspec.structs.replace(healthy.examination.pedal, claim="true bypass")
    document = msgspec.structs.replace(healthy.examination, pedal=pedal)
    result = replace(healthy.result, would_tell=("reversed",))
    made = replace(healthy, examination=document, result=result)
    text = Page(ticket_page(made)).section("result").text
    assert '"true bypass": does not agree' in text
    assert "one run through the resistor with in and out of the pedal exchanged" in text


def test_none_found_says_what_was_checked_and_what_not(healthy: Analysis) -> None:
    """What no run, press or tap showed is listed with the verb that would show it."""
    section = faults_section(healthy)
    rows = {row.heading: row.text for row in section.rows}
    assert section.lead == ("None found.",)
    assert "an open path" in rows["Looked for"]
    assert "resistance in line" in rows["Looked for"]
    assert "loopback press" in rows["Not looked for"]
    assert "loopback tap" in rows["Not looked for"]
    assert "build sheet" in rows["Not looked for"]
    assert "loopback press" not in rows["Looked for"]
    assert fault_answer(healthy) is None
    for html in (report_page(healthy, issued=ISSUED), ticket_page(healthy)):
        assert "Fault" not in Page(html).section("result").text


def test_without_a_pedal_in_the_path_nothing_was_looked_for(healthy: Analysis) -> None:
    """Silence about faults is then no statement that there are none."""
    nothing = replace(healthy, result=replace(healthy.result, path="none"))
    section = faults_section(nothing)
    assert section.missing.startswith("Not looked for")
    assert section.lead == ()
    assert section.rows == ()


def test_every_number_is_folded_and_stays_off_the_paper(healthy: Analysis) -> None:
    """On a screen it is one touch away; on paper stands where it is."""
    page = Page(report_page(healthy, issued=ISSUED))
    section = page.section("numbers")
    folded = [e for e in page.elements if e.tag == "details"]
    assert [e.attributes for e in folded] == [{"class": "screen-only"}]
    assert "tip to sleeve" in folded[0].text
    told = [e for e in page.elements if e.attributes.get("class") == "paper-only"]
    assert len(told) == 1
    assert "loopback show FOLDER --json" in told[0].text
    assert told[0].text in section.text


def test_noise_stands_in_numbers_beside_its_picture(healthy: Analysis) -> None:
    """Each level with unit and doubt, of the runs in bypass and of what they are held to."""
    lines = Page(report_page(healthy, issued=ISSUED)).table("Noise while nothing is played")
    assert len(lines) > 2
    for line in lines[1:]:
        assert "dBFS ± " in line[1]
    assert any("*" in line[0] for line in lines[1:])


def test_a_name_as_long_as_a_hash_is_no_hash() -> None:
    """What is set small and unbroken, as a hash is, would run off the paper."""
    assert Table.is_hash("0f" * 32)
    assert not Table.is_hash("W" * 64)
    assert not Table.is_hash("0f" * 31)


def test_tables_of_many_wide_columns_become_blocks_on_a_telephone() -> None:
    """Nine columns of short numbers fit as they are; five with words in them do not."""
    numbers = Table("", tuple("123456789"), (("single coil", *["-0.1"] * 8),))
    words = Table("", tuple("12345"), (("in to out", "under 6.9 Ω", "-7 to 8 Ω", "10 Ω", "met"),))
    assert not numbers.stacks()
    assert words.stacks()
    assert not Table("", tuple("12"), (("a", "x" * 100),)).stacks()


def test_levels_are_no_finer_than_they_mean() -> None:
    """A ratio of harmonics to a hundredth, an interval of levels to a thousandth of a decibel."""
    assert over_signal(Estimate(-23.24071, 0.00006, "dB")) == "-23.24 dB ± 0.01"
    assert over_signal(Estimate(-104.3, 0.8, "dB")) == "-104.3 dB ± 1.6"
    assert interval_text(Estimate(1.41045, 0.0011, "dB"), "dB") == "1.408 to 1.413 dB"
    assert np.isfinite(float(interval_text(Estimate(0.0, 0.0, "dB"), "dB").split()[0]))
