"""One line and a few lines: for a video, a forum, a ticket."""

from __future__ import annotations

from dataclasses import replace

import pytest

from loopback.quantity import Estimate
from loopback.report.short import MOST_LINE, line_form, short_form_text
from loopback.report.symbols import plain_signs
from loopback.verdict.expectation import Expectation
from loopback.verdict.expected import compare_expected
from loopback.verdict.result import GradeName, PathClass, PowerClass
from tests.reference.invented_analysis import LONG_NAME, analysis, pulldown_result

PATHS: tuple[PathClass, ...] = (
    "wired", "loaded", "buffered", "converted", "silent", "faulty", "undecided", "none",
)  # fmt: skip
POWERS: tuple[PowerClass, ...] = ("bypass_position", "always", "keeps_last", "never", "untested")


def test_line_says_what_matters() -> None:
    """Pedal, class, both values with their doubt, power, conditions, coverage and day."""
    assert line_form(analysis()) == (
        "Quarry Lamp: passive, loaded, 1.00 MΩ ± 0.01, 19.2 pF ± 0.7; passes unpowered in bypass. "
        "One unit, through 100 kΩ 1 %, setup 412 pF ± 5, ± 95 %, 25 Nov 2026."
    )


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("power", POWERS)
def test_line_is_never_longer(path: PathClass, power: PowerClass) -> None:
    """Whatever came out, and whatever the pedal is called: at most 280 characters, day and all."""
    grades: tuple[GradeName, ...] = ()
    result = replace(pulldown_result(), path=path, power=power, grades=grades)
    for name in ("X", LONG_NAME, "W" * 10_000):
        written = line_form(analysis(name, result))
        for line in (written, plain_signs(written)):
            assert len(line) <= MOST_LINE
            assert line.endswith("25 Nov 2026.")
            assert "\n" not in line


def test_short_form_stands_by_itself() -> None:
    """Each line is a statement with its heading; what ± means and what was not tested are in it."""
    text = short_form_text(analysis(maker="Kit", revision="b"))
    lines = text.split("\n")
    assert lines[0] == "Quarry Lamp (Kit, b) in bypass, measured 25 Nov 2026"
    assert "stay across the line in bypass" in lines[1]
    assert [line.split(":")[0] for line in lines[2:]] == [
        "Size", "As on a meter", "Not tested", "Measured with",
    ]  # fmt: skip
    assert lines[-1].endswith("± covers 95 %.")
    assert "One unit" in text


def test_short_form_holds_claim_and_expectation() -> None:
    """What the maker says and what a build sheet promises are compared in it."""
    source = analysis(claim="true bypass")
    sheet = Expectation(most_capacitance=30e-12)
    text = short_form_text(replace(source, expected=compare_expected(sheet, source.result)))
    assert 'Claim: "true bypass": does not agree' in text
    assert "Expectation: As expected in every line." in text


def test_bounds_stay_bounds() -> None:
    """What the setup does not resolve is "under" and "over" in the short forms too."""
    shunt = pulldown_result().shunt
    assert shunt is not None
    small = replace(shunt, g_siemens=Estimate(1e-10, 5e-9, "siemens"))
    line = line_form(analysis(result=replace(pulldown_result(), shunt=small)))
    assert "over " in line
