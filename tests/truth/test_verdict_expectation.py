"""Expectation files: read strictly, compared line by line, told in fixed words."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from loopback.errors import ArgumentError
from loopback.identify.found import BufferInput, Shunt
from loopback.quantity import Estimate
from loopback.verdict.expectation import Expectation, parse_expectation, read_expectation
from loopback.verdict.expected import compare_expected, surely_not_met
from loopback.verdict.result import Result
from loopback.verdict.sentences_expected import expectation_sentence, expected_lines

SHEET = """
about = "build sheet, revision 3"
true_bypass = true
allow_pulldown = true
pulldown = "1M"
pulldown_tolerance = "5%"
least_resistance = "0.9M"
most_capacitance = "30p"
most_in_to_out = 10
passes_unpowered = true
"""


def _result(pf: float = 12.0, ohm: float = 1e12, **change: Any) -> Result:
    shunt = Shunt(
        Estimate(pf * 1e-12, 0.4e-12, "farad"), Estimate(1 / ohm, 3e-9, "siemens"), 0.0, 1e5, 4e-10
    )
    base = Result(
        "wired", (), "bypass_position", ("wire-like",), "a", 0.999, shunt, (), (),
        series_ohm=Estimate(0.5, 2.0, "ohm"), consistent=("wire",),
        resistor=Estimate(1e5, 577.0, "ohm"), setup_c=Estimate(4e-10, 2e-12, "farad"),
    )  # fmt: skip
    return replace(base, **change)


WIRED = _result()
PULLDOWN = _result(12.0, 1e6, path="loaded", consistent=("shunt",))
HALF = _result(14.0, 1e5, path="loaded", consistent=("bias",))
BUFFER = _result(
    path="buffered", power="never", shunt=None, series_ohm=None, consistent=("buffer",),
    buffer=BufferInput(
        Estimate(2e-6, 1e-8, "siemens"), Estimate(9e-12, 1e-12, "farad"), None, False
    ),
)  # fmt: skip
OPEN = _result(path="undecided", alternatives=("wired", "faulty"), series_ohm=None)
NONE = _result(path="none", shunt=None, series_ohm=None, consistent=())


def test_a_whole_sheet_is_read() -> None:
    """Values as people write them, in base units."""
    assert parse_expectation(SHEET, "sheet.toml") == Expectation(
        true_bypass=True, allow_pulldown=True, pulldown=1e6, pulldown_tolerance=0.05,
        least_resistance=0.9e6, most_capacitance=30e-12, most_in_to_out=10.0,
        passes_unpowered=True, about="build sheet, revision 3",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("pulldwn = '1M'", r'sheet.toml expects "pulldwn", which is not known'),
        ("true_bypass = 'yes'", r"true_bypass is 'yes'. Write true_bypass = true"),
        ("pulldown = true", r"pulldown is True. Write it like"),
        ("pulldown = '1,5M'", r"comma for a value in ohm"),
        ("pulldown = 'a lot'", r'"a lot" is not a number'),
        ("pulldown = '0'", r"It has to be above zero"),
        ("most_capacitance = -3e-12", r"It has to be above zero"),
        ("pulldown = '1M'\npulldown_tolerance = '120%'", r"below 100 %"),
        ("about = 3\npulldown = '1M'", r"about is 3. Write it in quotation marks"),
        ("allow_pulldown = true", r"sheet.toml expects nothing"),
        ("", r"sheet.toml expects nothing"),
        ("pulldown = ", r"sheet.toml cannot be read"),
        ("pulldown = ['1M']", r"pulldown is \['1M'\]"),
    ],
)
def test_mistakes_are_named(text: str, message: str) -> None:
    """What was found, and what to write instead."""
    with pytest.raises(ArgumentError, match=message):
        parse_expectation(text, "sheet.toml")


def test_files_that_are_none(tmp_path: Path) -> None:
    """A missing file, bytes that are no text, and far too many of them end in a sentence."""
    with pytest.raises(ArgumentError, match="cannot be read: No such file"):
        read_expectation(tmp_path / "no.toml")
    odd = tmp_path / "odd.toml"
    odd.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ArgumentError, match="not text in UTF-8"):
        read_expectation(odd)
    odd.write_bytes(b"#" * 70_000)
    with pytest.raises(ArgumentError, match="70000 bytes"):
        read_expectation(odd)


def test_a_byte_order_mark_does_no_harm(tmp_path: Path) -> None:
    """Editors on Windows write one."""
    file = tmp_path / "sheet.toml"
    file.write_text(SHEET, encoding="utf-8-sig")
    assert read_expectation(file).pulldown == 1e6


@pytest.mark.parametrize(
    ("text", "result", "outcomes"),
    [
        ("true_bypass = true", WIRED, ["met"]),
        ("true_bypass = true", PULLDOWN, ["not met"]),
        ("true_bypass = true\nallow_pulldown = true", PULLDOWN, ["met"]),
        ("true_bypass = true\nallow_pulldown = true", HALF, ["not met"]),
        ("true_bypass = true\nallow_pulldown = true", BUFFER, ["not met"]),
        ("true_bypass = true", OPEN, ["undecided"]),
        ("true_bypass = true", NONE, ["undecided"]),
        ("true_bypass = false", WIRED, ["not met"]),
        ("true_bypass = false", BUFFER, ["met"]),
        ("buffered = true", BUFFER, ["met"]),
        ("buffered = true", replace(BUFFER, alternatives=("converted",)), ["undecided"]),
        ("buffered = true", OPEN, ["not met"]),
        ("buffered = false", WIRED, ["met"]),
        # A colour band misread: 10 kΩ and 100 kΩ fitted for 1 MΩ.
        ("true_bypass = true\nallow_pulldown = true\npulldown = '1M'",
         _result(12.0, 1e5, path="loaded", consistent=("shunt",)), ["not met", "not met"]),
        ("pulldown = '1M'", PULLDOWN, ["met"]),
        ("pulldown = '1M'", WIRED, ["not met"]),
        ("pulldown = '500k'", BUFFER, ["met"]),
        ("pulldown = '1.1M'", PULLDOWN, ["met"]),
        ("pulldown = '1.11M'", PULLDOWN, ["undecided"]),
        ("least_resistance = '0.9M'", PULLDOWN, ["met"]),
        ("least_resistance = '1M'", PULLDOWN, ["undecided"]),
        ("least_resistance = '2M'", PULLDOWN, ["not met"]),
        ("most_capacitance = '30p'", WIRED, ["met"]),
        ("most_capacitance = '12p'", WIRED, ["undecided"]),
        ("most_capacitance = '10p'", WIRED, ["not met"]),
        ("most_capacitance = '30p'", NONE, ["undecided"]),
        ("most_in_to_out = '10'", WIRED, ["met"]),
        ("most_in_to_out = '10'", OPEN, ["undecided"]),
        ("most_in_to_out = '10'", BUFFER, ["not met"]),
        ("passes_unpowered = true", WIRED, ["met"]),
        ("passes_unpowered = true", BUFFER, ["not met"]),
        ("passes_unpowered = false", BUFFER, ["met"]),
        ("passes_unpowered = true", replace(WIRED, power="untested"), ["undecided"]),
        ("passes_unpowered = true",
         replace(WIRED, power="never", power_alternatives=("keeps_last",)), ["undecided"]),
        (SHEET, PULLDOWN, ["met"] * 6),
    ],
)  # fmt: skip
def test_line_by_line(text: str, result: Result, outcomes: list[str]) -> None:
    """Words by the path, values by their interval; what no run shows stays undecided."""
    lines = compare_expected(parse_expectation(text, "sheet.toml"), result)
    assert [line.outcome for line in lines] == outcomes
    assert surely_not_met(lines) is ("not met" in outcomes)


@pytest.mark.parametrize(
    ("text", "result", "words", "whole"),
    [
        (
            SHEET,
            PULLDOWN,
            (
                "true bypass: met, since a pulldown is allowed",
                "1.0 MΩ across the line: met",
                "at least 900 kΩ across the line: met",
                "at most 30 pF: met",
                "in to out at most 10 Ω: met",
                "passes without power: met",
            ),
            "As expected in every line.",
        ),
        (
            "true_bypass = true\nmost_capacitance = '12p'",
            PULLDOWN,
            (
                "true bypass: not met (met if a pulldown is allowed: allow_pulldown = true)",
                "at most 12 pF: undecided, 50 % inside the limit",
            ),
            "Not as expected: true bypass.",
        ),
        (
            "most_in_to_out = 1\npasses_unpowered = false\nbuffered = false",
            replace(OPEN, power="never"),
            (
                "not buffered: met",
                "in to out at most 1.0 Ω: cannot be told from these runs",
                "nothing passes without power: met",
            ),
            "As expected so far; these runs cannot tell: in to out at most 1.0 Ω.",
        ),
    ],
)
def test_words(text: str, result: Result, words: tuple[str, ...], whole: str) -> None:
    """The fixed sentences of an expectation, word for word."""
    lines = compare_expected(parse_expectation(text, "sheet.toml"), result)
    assert expected_lines(lines) == words
    assert expectation_sentence(lines) == whole
    assert all(line.isascii() for line in expected_lines(lines, plain=True))
