"""Signs on consoles that lack them, and lines that keep their width."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.report.layout import INDENT, WIDTH, Row, columns, lay_out, two_ends
from loopback.report.symbols import encodable, plain_signs, shows_signs

ENCODINGS = ("ascii", "cp1252", "cp437", "cp850", "latin-1", "utf-8", "no-such-encoding", None)


def test_signs_are_written_out() -> None:
    """Ω is ohm, ± is +/-, µ is u, in either of the two code points of each."""
    assert plain_signs("1 M\u03a9 \u2126 ± 3 \u00b5s \u03bcs") == "1 Mohm ohm +/- 3 us us"


@pytest.mark.parametrize(
    ("encoding", "shown"),
    [("utf-8", True), ("cp1252", False), ("cp437", False), ("ascii", False), (None, False)],
)
def test_encodings_with_all_signs(encoding: str | None, shown: bool) -> None:
    """Only an encoding with every sign shows any, so that no line mixes both manners."""
    assert shows_signs(encoding) is shown


@given(st.text(max_size=60), st.sampled_from(ENCODINGS))
def test_anything_can_be_written(text: str, encoding: str | None) -> None:
    """Whatever a pedal is called, what comes out fits the encoding."""
    known = encoding if encoding not in (None, "no-such-encoding") else "ascii"
    written = encodable(text, encoding)
    assert written.encode(known).decode(known) == written


def test_accents_are_dropped_before_letters_are() -> None:
    """A name stays readable."""
    assert encodable("Café Ōkami", "ascii") == "Cafe Okami"
    assert encodable("Café", "cp1252") == "Café"
    assert encodable("雨", "ascii") == "?"


@given(st.lists(st.text("abcd Ω±-·", min_size=1, max_size=14), max_size=40), st.booleans())
def test_lines_keep_their_width(words: list[str], signs: bool) -> None:
    """Words shorter than the line never make it longer, before and after signs are written out."""
    text = " ".join(word.strip() or "x" for word in words)
    laid = lay_out([Row("Result", text)], signs=signs)
    longest = max((len(word) for word in plain_signs(text).split()), default=0)
    if longest <= WIDTH - INDENT - 8:
        assert all(len(line) <= WIDTH for line in laid.splitlines())
    assert laid.replace(" ", "").replace("\n", "") == (
        ("Result" + (text if signs else plain_signs(text))).replace(" ", "") if text else ""
    )


def test_number_and_doubt_stay_together() -> None:
    """A line is never broken between a number and what stands after ±."""
    text = " ".join(["filler"] * 9) + " 19.2 pF ± 0.7 and more"
    for signs in (True, False):
        lines = lay_out([Row("X", text)], signs=signs).splitlines()
        sign = "±" if signs else "+/-"
        assert any(f"pF {sign} 0.7" in line for line in lines)


def test_columns_are_set_after_signs_are_written_out() -> None:
    """Columns stay in line although ohm is longer than Ω."""
    table = (("a", "1 Ω", "x"), ("bb", "22 Mohm", "y"))
    lines = columns(table, signs=False).splitlines()
    assert lines == ["a   1 ohm    x", "bb  22 Mohm  y"]


def test_last_entry_gives_way() -> None:
    """What does not fit goes below, it is not broken into the next column."""
    lines = columns((("a" * 40, "b" * 20, "c" * 20),), signs=True).splitlines()
    assert lines == ["a" * 40 + "  " + "b" * 20, "  " + "c" * 20]


def test_two_ends_of_a_line() -> None:
    """Left and right stand at the ends of one line, or in two where they do not fit."""
    assert len(two_ends("LAMP in bypass", "10 runs", signs=True)) == WIDTH
    lines = two_ends("L" * 75, "10 runs", signs=True).splitlines()
    assert lines == ["L" * 75, "10 runs".rjust(WIDTH)]
