"""Digits follow the doubt: JCGM 100:2008, 7.2.6."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.quantity import round_together

_VALUES = st.floats(-1e6, 1e6)
_DOUBTS = st.floats(1e-9, 1e6)


@given(_VALUES, _DOUBTS)
def test_doubt_has_at_most_two_digits(value: float, u: float) -> None:
    """One or two digits of the doubt, and the value to the same place."""
    written, doubt = round_together(value, u)
    assert len(doubt.replace(".", "").strip("0")) <= 2
    assert float(doubt) == pytest.approx(u, rel=0.34)
    assert len(written.partition(".")[2]) == len(doubt.partition(".")[2])
    assert float(written) == pytest.approx(value, abs=0.51 * 10 ** math.ceil(math.log10(u)))


@given(_VALUES, _DOUBTS)
def test_never_finer_than_said_nor_smaller_than_it_is(value: float, u: float) -> None:
    """With a finest place of a hundredth, what is written at that place is rounded up."""
    written, doubt = round_together(value, u, 0.01)
    assert len(doubt.partition(".")[2]) <= 2
    assert len(written.partition(".")[2]) == len(doubt.partition(".")[2])
    assert float(doubt) >= 0.01
    if u < 0.0295:
        assert float(doubt) >= u - 1e-9


def test_examples() -> None:
    """The example of the guide's 7.2.2 to two digits, and the absurd digits of a steady tone."""
    assert round_together(100.02147, 0.00035 * 1.96) == ("100.0215", "0.0007")
    assert round_together(-23.24071, 0.00011) == ("-23.24071", "0.00011")
    assert round_together(-23.24071, 0.00011, 0.01) == ("-23.24", "0.01")
    assert round_together(5.0, 0.0, 0.1) == ("5.0", "0.1")
