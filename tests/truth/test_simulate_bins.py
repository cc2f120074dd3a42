"""Interpolation from the circuit grid to the bins, and the length of transforms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.simulate.bins import LOWEST_HZ, good_length, log_grid, to_bins


@given(st.integers(1, 3_000_000))
def test_good_lengths_are_even_smooth_and_close(n: int) -> None:
    """A good length has no factor but 2, 3 and 5, is even, and at most 12 % longer."""
    length = good_length(n)
    rest = length
    for factor in (2, 3, 5):
        while rest % factor == 0:
            rest //= factor
    assert rest == 1
    assert length % 2 == 0
    assert n <= length <= max(4, 1.12 * n)


def test_good_length_is_the_smallest() -> None:
    """No smaller even number with factors 2, 3 and 5 would do; by trying all."""
    smooth = sorted(
        2 ** (a + 1) * 3**b * 5**c for a in range(11) for b in range(8) for c in range(6)
    )
    for n in (1, 2, 3, 17, 97, 641, 1025, 1999):
        assert good_length(n) == next(length for length in smooth if length >= n)


@pytest.mark.parametrize("rate_hz", [44_100, 48_000, 192_000])
def test_grid_reaches_past_both_ends(rate_hz: int) -> None:
    """The interpolation never runs out of points between 0.5 Hz and half the sample rate."""
    grid = log_grid(rate_hz)
    bins = to_bins(good_length(rate_hz), rate_hz)
    assert grid[3] == pytest.approx(LOWEST_HZ, rel=1e-12)
    assert bins.first.min() == 0
    assert bins.first.max() + 7 < len(grid)
    assert np.allclose(np.sum(bins.weights, axis=0), 1.0, atol=1e-12)


@pytest.mark.parametrize(("q", "off"), [(0.5, 1e-10), (1.0, 1e-10), (3.0, 1e-7), (5.0, 1e-6)])
def test_resonances_are_met(q: float, off: float) -> None:
    """A resonance at 8 kHz, in closed form, is met at every bin to what is stated for its Q."""
    bins = to_bins(96_000, 48_000)
    closed = 1 / (1 - (bins.f_hz / 8000) ** 2 + 1j * bins.f_hz / 8000 / q)
    grid = log_grid(48_000)
    found = bins(1 / (1 - (grid / 8000) ** 2 + 1j * grid / 8000 / q))
    inside = bins.f_hz >= LOWEST_HZ
    assert np.max(np.abs(found / closed - 1)[inside]) < off
    assert np.all(found[~inside] == found[np.argmax(inside) - 1])


def test_nearest_takes_the_grid_as_it_is() -> None:
    """A density is taken from the point at or just below the bin."""
    bins = to_bins(48_000, 48_000)
    grid = log_grid(48_000)
    taken = bins.nearest(grid)
    above = bins.f_hz >= LOWEST_HZ
    ratio = bins.f_hz[above] / taken[above]
    assert np.all((ratio > 1 - 1e-9) & (ratio < 2 ** (1 / 64) * (1 + 1e-9)))
