"""Each wiring fault that shows at the jacks is named right, with what else looks the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from loopback.facts import Analysis
from loopback.report.document import facts_of
from loopback.verdict.faults.signatures import SIGNATURES
from loopback.verdict.sentences_faults import NAMES, fault_words
from tests.reference.fault_table import CASES, Faulty, examine, line_of


def name_of(case: Faulty) -> str:
    """For the list of tests."""
    return "-".join(part for part in (case.pedal, case.sheet, case.watch) if part)


@pytest.mark.parametrize("number", range(len(CASES)), ids=[name_of(case) for case in CASES])
def test_fault_is_named_right(tmp_path: Path, number: int) -> None:
    """The fault comes first, its runners-up stand beside it, numbers and place are said."""
    case = CASES[number]
    analysis = examine(tmp_path, case.pedal, sheet=case.sheet, watch=case.watch, seed=number + 1)
    assert analysis.faults, case.pedal
    first = analysis.faults[0]
    assert first.code == case.named
    assert set(case.beside) <= set(first.consistent_with)
    assert first.expected is None or analysis.expected
    words = fault_words(analysis.faults)[0]
    design = "by design in a tuner or an A/B box, or " if first.by_design else ""
    assert words.rank == 1
    assert words.name.endswith(f"{design}{NAMES[case.named]}")
    assert all(any(c.isdigit() for c in text) for text in words.evidence[:1])
    assert "right" in line_of(case, analysis)
    facts = facts_of(analysis).faults
    assert [fact.code for fact in facts] == [fault.code for fault in analysis.faults]
    assert facts[0].where_to_look == words.where_to_look


def test_what_some_design_does_is_no_fault_without_a_sheet(tmp_path: Path) -> None:
    """2 MΩ, a screened lead, the effect's input left on: nobody expected anything else."""
    for pedal in ("kit-whisker", "kit-screened-lead", "kit-input-left", "kit-pulldown-board"):
        assert examine(tmp_path, pedal).faults == (), pedal


def test_a_sheet_that_is_met_makes_no_fault(tmp_path: Path) -> None:
    """1 MΩ where 1 MΩ belongs, and wiring where wiring belongs."""
    assert examine(tmp_path, "quarry-lamp", sheet="1M").faults == ()
    assert examine(tmp_path, "harbour-bell", sheet="wire").faults == ()


def test_a_fault_says_which_line_of_the_sheet_it_breaks(tmp_path: Path) -> None:
    """Expected 1 MΩ, found none: the line is named, and wanted and found are both said."""
    analysis: Analysis = examine(tmp_path, "harbour-bell", sheet="1M")
    (fault,) = analysis.faults
    assert (fault.code, fault.expected, fault.meant) == ("pulldown_missing", "pulldown", ())
    evidence = " ".join(fault_words(analysis.faults)[0].evidence)
    assert "expects 1.00 MΩ" in evidence
    assert "Nothing under" in evidence
    assert SIGNATURES["pulldown_missing"].weight == fault.weight
