"""Coverage factors against the published table of Student's t."""

from __future__ import annotations

import math

import pytest

from loopback.quantity import Estimate, coverage_factor

TABLE = [
    (0.95, 1, 12.71),
    (0.95, 2, 4.30),
    (0.95, 5, 2.57),
    (0.95, 10, 2.23),
    (0.95, 20, 2.09),
    (0.95, 50, 2.01),
    (0.99, 5, 4.03),
    (0.99, 20, 2.85),
    (0.6827, 3, 1.20),
]
"""JCGM 100:2008, table G.2: fraction, degrees of freedom, t."""


@pytest.mark.parametrize(("coverage", "dof", "factor"), TABLE)
def test_factor_is_that_of_the_table(coverage: float, dof: int, factor: float) -> None:
    """To the digits printed there."""
    assert coverage_factor(coverage, dof) == pytest.approx(factor, abs=0.0051)


def test_many_degrees_of_freedom_are_the_normal_distribution() -> None:
    """1.960 and 2.576 (same table, last line), and t falls to them from above."""
    assert coverage_factor(0.95) == pytest.approx(1.960, abs=5e-4)
    assert coverage_factor(0.99) == pytest.approx(2.576, abs=5e-4)
    assert coverage_factor(0.95, 1e7) == pytest.approx(coverage_factor(0.95), abs=1e-5)


def test_interval_of_an_estimate_uses_its_degrees_of_freedom() -> None:
    """Half of it is t times u, on both sides of the value."""
    estimate = Estimate(10.0, 2.0, "dB", 5.0)
    low, high = estimate.interval()
    assert high - 10.0 == pytest.approx(10.0 - low) == pytest.approx(2.0 * 2.57, abs=0.011)
    assert Estimate(0.0, 1.0, "dB", math.inf).half_width() == pytest.approx(1.960, abs=5e-4)
