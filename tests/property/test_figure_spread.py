"""Labels are moved apart by as little as possible, and words fit where they are put."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.report.figures.spread import spread
from loopback.report.figures.words import shortened, width_in, wrapped

POSITIONS = st.lists(st.floats(0, 100, allow_nan=False), min_size=0, max_size=30).map(sorted)
SIZES = st.lists(st.floats(0.1, 10), min_size=30, max_size=30)
TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=["C", "Z"]) | st.just(" "), max_size=80
)


@given(POSITIONS, SIZES)
def test_labels_keep_order_room_and_bounds(wanted: list[float], sizes: list[float]) -> None:
    """None touches its neighbour or sticks out; where too many want in, all shrink alike."""
    sizes = sizes[: len(wanted)]
    found = spread(wanted, sizes, 0.0, 100.0)
    assert len(found) == len(wanted)
    shrink = min(1.0, 100.0 / sum(sizes)) if sizes else 1.0
    for (a, size_a), (b, size_b) in itertools.pairwise(zip(found, sizes, strict=True)):
        assert b - a >= shrink * (size_a + size_b) / 2 - 1e-9
    for place, size in zip(found, sizes, strict=True):
        assert shrink * size / 2 - 1e-9 <= place <= 100.0 - shrink * size / 2 + 1e-9


@given(POSITIONS)
def test_labels_with_room_stay_where_they_are(wanted: list[float]) -> None:
    """Nothing moves that need not move."""
    gap = min((b - a for a, b in itertools.pairwise(wanted)), default=1.0)
    if gap > 0:
        sizes = [gap * 0.999] * len(wanted)
        assert spread(wanted, sizes, -100.0, 200.0) == pytest.approx(wanted)


@given(
    st.lists(st.floats(30, 70), min_size=2, max_size=6).map(sorted),
    st.lists(st.floats(0.5, 4), min_size=6, max_size=6),
)
def test_labels_move_least(wanted: list[float], sizes: list[float]) -> None:
    """No single shift of a label, nor of all from one on, brings the sum of squares down."""
    sizes = sizes[: len(wanted)]
    gaps = [(a + b) / 2 for a, b in itertools.pairwise(sizes)]
    found = spread(wanted, sizes, -1000.0, 1000.0)
    cost = sum((a - b) ** 2 for a, b in zip(found, wanted, strict=True))
    for first in range(len(found)):
        for last in range(first + 1, len(found) + 1):
            for step in (-0.01, 0.01):
                other = [p + step * (first <= i < last) for i, p in enumerate(found)]
                pairs = zip(itertools.pairwise(other), gaps, strict=True)
                if all(b - a >= gap - 1e-12 for (a, b), gap in pairs):
                    assert (
                        sum((a - b) ** 2 for a, b in zip(other, wanted, strict=True)) >= cost - 1e-9
                    )


@given(TEXT)
def test_shortened_text_fits(text: str) -> None:
    """What does not fit loses its middle and keeps its ends; what fits is left alone."""
    cut = shortened(text, 8.0, 1.5)
    assert width_in(cut, 8.0) <= 1.5
    if cut != text:
        begin, _, end = cut.partition("…") if "…" not in text else (text, "", "")
        assert text.startswith(begin)
        assert text.endswith(end)


@given(TEXT, st.integers(1, 4))
def test_wrapped_text_fits_and_says_everything(text: str, most: int) -> None:
    """Lines fit; without a limit no letter is lost, with one there are no more lines than that."""
    lines = wrapped(text, 8.0, 1.5)
    assert all(width_in(line, 8.0) <= 1.5 for line in lines)
    assert "".join(lines).replace(" ", "") == "".join(text.split())
    few = wrapped(text, 8.0, 1.5, most)
    assert len(few) <= most
    assert all(width_in(line, 8.0) <= 1.5 for line in few)
