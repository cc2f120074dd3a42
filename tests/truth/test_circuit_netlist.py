"""Element lines: what they mean, and the message for each way to get one wrong."""

from __future__ import annotations

import pytest

from loopback.circuit.netlist import Element, parse_elements
from loopback.errors import NetlistError


def _read(*lines: str) -> tuple[Element, ...]:
    return parse_elements(enumerate(lines, start=1), "mine.cir")


def test_every_kind_of_element() -> None:
    """Each kind has its nodes and its value in base units; M is mega, m is milli."""
    assert _read(
        "Rpd IN 0 1M",
        "Cci IN 0 6p",
        "Llk a b 15m",
        "E1 e 0 b 0 -0.985",
        "G1 c 0 b 0 20m",
        "T1 b 0 s 0 2",
    ) == (
        Element("R", "Rpd", ("IN", "0"), 1e6),
        Element("C", "Cci", ("IN", "0"), 6e-12),
        Element("L", "Llk", ("a", "b"), 15e-3),
        Element("E", "E1", ("e", "0", "b", "0"), -0.985),
        Element("G", "G1", ("c", "0", "b", "0"), 20e-3),
        Element("T", "T1", ("b", "0", "s", "0"), 2.0),
    )


def test_comments_and_empty_lines() -> None:
    """A star at the start of a line, and a semicolon anywhere, begin a comment."""
    assert _read("* head", "", "  R1 a 0 2.2k ; a note", " ; only a note", "\tC1 a 0 1n\t") == (
        Element("R", "R1", ("a", "0"), 2.2e3),
        Element("C", "C1", ("a", "0"), 1e-9),
    )


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("Q1 a b c 100", 'line 2: "Q1" is no element'),
        ("r1 a 0 1k", 'line 2: "r1" is no element'),
        ("R1 a 0", r"line 2: R1 is followed by 2 words\. R takes 2 nodes"),
        ("R1 a 0 1k extra", "line 2: R1 is followed by 4 words"),
        ("E1 a 0 1", r"line 2: E1 is followed by 3 words\. E takes 4 nodes"),
        ("R1 a 0 many", 'line 2: "many" is not a number for a value in ohm'),
        ("C1 a 0 4,7n", 'line 2: "4,7n" has a comma'),
        ("R1 a 0 0", "line 2: R1 has the value 0"),
        ("C1 a 0 -1p", "line 2: C1 has the value -1e-12"),
        ("L1 a 0 1e999", "line 2: L1 has the value inf"),
        ("T1 a 0 b 0 0", "line 2: T1 has a turns ratio of zero"),
        ("R1 a a 1k", "line 2: both ends of R1 are at a"),
        ("R1 a-b 0 1k", 'line 2: "a-b" is no name'),
        ("R0 x 0 1k", "line 2: R0 stands already on line 1"),
    ],
)
def test_wrong_line_is_named(line: str, message: str) -> None:
    """The message names file, line and what was found there."""
    with pytest.raises(NetlistError, match=f"^mine.cir, {message}"):
        _read("R0 a 0 1k", line)
