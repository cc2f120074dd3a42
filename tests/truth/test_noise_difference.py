"""The difference of two noise levels: its uncertainty, and the degrees of freedom of that."""

from __future__ import annotations

import math

import pytest

from loopback.noise.figures import NoiseFigures, noise_difference
from loopback.quantity import Estimate


def figures(level: Estimate) -> NoiseFigures:
    """A run of which only the A-weighted level is looked at."""
    return NoiseFigures(Estimate(-90.0, 0.1, "dB"), level, None, -math.inf)


def test_degrees_of_freedom_after_welch_and_satterthwaite() -> None:
    """JCGM 100:2008, equation G.2b, worked by hand for 0.3 dB with 10 and 0.4 dB with 20."""
    pedal, reference = (
        figures(Estimate(-97.0, 0.3, "dB", 10.0)),
        figures(Estimate(-100.0, 0.4, "dB", 20.0)),
    )
    difference = noise_difference(pedal, reference, u_repeat_db=0.0)
    assert difference.value == pytest.approx(3.0)
    assert difference.u == pytest.approx(0.5)
    assert difference.dof == pytest.approx(0.5**4 / (0.3**4 / 10 + 0.4**4 / 20))
    assert difference.dof == pytest.approx(29.904, abs=1e-3)


def test_repeatability_adds_to_the_uncertainty_and_to_the_freedom() -> None:
    """What is stated without degrees of freedom counts as well known."""
    one = figures(Estimate(-97.0, 0.3, "dB", 10.0))
    alone, with_it = (noise_difference(one, one, u_repeat_db=u) for u in (0.0, 1.0))
    assert with_it.u == pytest.approx(math.sqrt(2 * 0.3**2 + 1.0))
    assert with_it.dof > alone.dof == pytest.approx(20.0)


def test_digital_silence_leaves_nothing_to_compare() -> None:
    """No finite difference is claimed."""
    silent, noisy = figures(Estimate(-math.inf, 0.0, "dB")), figures(Estimate(-97.0, 0.3, "dB"))
    assert noise_difference(silent, noisy).u == math.inf
    assert noise_difference(silent, silent).value == 0.0
