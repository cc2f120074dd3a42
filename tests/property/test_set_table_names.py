"""Names in a table of fixed width: never too wide, and different ones stay different."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from loopback.report.set_table import columns_of, set_table, told_apart

LETTERS = st.text("abc XYZ019", min_size=1, max_size=6).map(str.strip).filter(bool)


@given(st.text("abc あ", max_size=60), st.lists(LETTERS, min_size=2, max_size=4, unique=True))
def test_names_that_begin_alike_are_told_apart(start: str, ends: list[str]) -> None:
    """Names equal but for their last letters fill the width and keep what tells them apart."""
    names = [start.strip() + "x" + end for end in ends]
    shown = told_apart(names, 28)
    assert {columns_of(text) for text in shown} == {28}
    assert len(set(shown)) == len(names)


@given(st.lists(st.text(max_size=80), max_size=5), st.integers(10, 40))
def test_any_names_fit(names: list[str], width: int) -> None:
    """Whatever is typed, the column has its width, equal names stay equal, and it ends."""
    shown = told_apart(names, width)
    assert all(columns_of(text) == width for text in shown)
    assert all(a != b or s == t for a, s in zip(names, shown, strict=True)
               for b, t in zip(names, shown, strict=True))  # fmt: skip


def test_a_short_name_is_left_alone() -> None:
    """Only what does not fit is cut, and a point says so."""
    lines = [["", "pedal", "bypass"], ["1", "Harbour Bell", "true bypass"]]
    assert "Harbour Bell" in set_table(lines, signs=True)
    assert told_apart(["Harbour Bell", "Quarry"], 11) == ["Harbour Be.", "Quarry     "]
    twins = [f"Harbour Bell, mark one, by the sea, unit {unit}" for unit in "AB"]
    assert told_apart(twins, 16) == ["Harbour Bell,..A", "Harbour Bell,..B"]
