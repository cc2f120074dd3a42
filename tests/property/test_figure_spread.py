"""Labels are moved apart by as little as possible."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.report.figures.labels import shortened, spread, width_in

POSITIONS = st.lists(st.floats(0, 100, allow_nan=False), min_size=0, max_size=30).map(sorted)


@given(POSITIONS, st.floats(0.1, 10))
def test_labels_keep_order_gap_and_bounds(wanted: list[float], gap: float) -> None:
    """Neighbours are a gap apart, or what is left of it where too many want in; all stay inside."""
    found = spread(wanted, gap, 0.0, 100.0)
    assert len(found) == len(wanted)
    least = min(gap, 100.0 / (len(wanted) - 1)) if len(wanted) > 1 else gap
    assert all(b - a >= least - 1e-9 for a, b in itertools.pairwise(found))
    assert all(-1e-9 <= place <= 100.0 + 1e-9 for place in found)


@given(POSITIONS)
def test_labels_with_room_stay_where_they_are(wanted: list[float]) -> None:
    """Nothing moves that need not move."""
    gap = min((b - a for a, b in itertools.pairwise(wanted)), default=1.0)
    if gap > 0:
        assert spread(wanted, gap * 0.999, 0.0, 100.0) == pytest.approx(wanted)


@given(st.lists(st.floats(30, 70), min_size=2, max_size=6).map(sorted), st.floats(0.5, 4))
def test_labels_move_least(wanted: list[float], gap: float) -> None:
    """No single shift of a label, nor of all from one on, brings the sum of squares down."""
    found = spread(wanted, gap, -1000.0, 1000.0)
    cost = sum((a - b) ** 2 for a, b in zip(found, wanted, strict=True))
    for first in range(len(found)):
        for last in range(first + 1, len(found) + 1):
            for step in (-0.01, 0.01):
                other = [p + step * (first <= i < last) for i, p in enumerate(found)]
                if all(b - a >= gap - 1e-12 for a, b in itertools.pairwise(other)):
                    assert (
                        sum((a - b) ** 2 for a, b in zip(other, wanted, strict=True)) >= cost - 1e-9
                    )


@given(st.text(st.characters(codec="latin-1", exclude_categories=["C"]), max_size=80))
def test_shortened_text_fits(text: str) -> None:
    """A text is cut until it fits, and left alone when it does."""
    cut = shortened(text, 8.0, 1.5)
    assert width_in(cut, 8.0) <= 1.5
    assert cut == text or cut.endswith("…")
