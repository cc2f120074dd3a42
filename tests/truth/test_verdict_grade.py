"""Grades, conformity and presence by hand-made values."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from loopback.identify.priors import DEFAULT_PRIORS
from loopback.plan.runs import RunLabel
from loopback.quantity import Estimate
from loopback.response.reading import Ratio
from loopback.verdict.evidence import Evidence
from loopback.verdict.grade import grade_load
from loopback.verdict.limits import GRADES
from loopback.verdict.presence import pedal_proven
from loopback.verdict.probability import CEILING, capped, probability_below
from loopback.verdict.result import GradeName

F_HZ = np.geomspace(10.0, 40e3, 200)


def _c(pf: float, u: float = 0.5) -> Estimate:
    return Estimate(pf * 1e-12, u * 1e-12, "farad")


def _g(ohm: float, u_ns: float = 3.0) -> Estimate:
    return Estimate(0.0 if math.isinf(ohm) else 1 / ohm, u_ns * 1e-9, "siemens")


@pytest.mark.parametrize(
    ("c", "g", "r", "grades"),
    [
        # The ends are common practice: 20, 60, 200 pF; 5, 0.9, 0.3 MΩ; 1, 10, 100 Ω.
        (_c(14), _g(math.inf), None, ("wire-like",)),
        (_c(19.5), _g(math.inf), None, ("wire-like", "light")),
        (_c(35), _g(math.inf), None, ("light",)),
        (_c(14), _g(1e6), None, ("light",)),
        (_c(14), _g(5e5), None, ("loading",)),
        (_c(14), _g(0.9e6, 10), None, ("light", "loading")),
        (_c(146), _g(math.inf), None, ("loading",)),
        (_c(14), _g(1e5), None, ("heavy",)),
        (_c(1144), _g(math.inf), None, ("heavy",)),
        (_c(14), _g(math.inf), Estimate(50.0, 3.0, "ohm"), ("loading",)),
        (_c(14), _g(math.inf), Estimate(2.0, 3.0, "ohm"), ("wire-like",)),
        (_c(14), _g(math.inf), Estimate(1e4, 3.0, "ohm"), ("heavy",)),
        (_c(20, 100.0), _g(math.inf), None, ()),
        (_c(-14), _g(math.inf), None, ("wire-like",)),
    ],
)
def test_a_grade_needs_the_whole_interval(
    c: Estimate, g: Estimate, r: Estimate | None, grades: tuple[GradeName, ...]
) -> None:
    """One grade inside, two adjacent ones across an end, none where more are possible."""
    assert grade_load(c, g, r) == grades


def test_grades_rise_in_every_quantity() -> None:
    """Each grade allows more than the one before it, and the last allows everything."""
    for lower, higher in itertools.pairwise(GRADES):
        assert lower.c_farad < higher.c_farad
        assert lower.g_siemens < higher.g_siemens
        assert lower.series_ohm < higher.series_ohm
    assert math.isinf(GRADES[-1].c_farad)


@pytest.mark.parametrize(
    ("z", "probability"), [(0.0, 0.5), (1.0, 0.8413447), (-1.959964, 0.025), (3.0, 0.9986501)]
)
def test_conformity_is_the_normal_distribution(z: float, probability: float) -> None:
    """Probability of conformity with one upper limit (JCGM 106:2012, 7.3.1; normal table)."""
    estimate = Estimate(10.0 - 2.0 * z, 2.0, "ohm")
    assert probability_below(estimate, 10.0) == pytest.approx(probability, abs=1e-6)


def test_a_value_without_doubt_is_inside_or_not() -> None:
    """With no uncertainty the probability is 0 or 1."""
    assert probability_below(Estimate(1.0, 0.0, "ohm"), 2.0) == 1.0
    assert probability_below(Estimate(3.0, 0.0, "ohm"), 2.0) == 0.0


def test_nothing_is_certain() -> None:
    """No certainty rises above the ceiling that models set."""
    assert capped(1.0) == CEILING < 1.0
    assert capped(-0.1) == 0.0


def _same(level_db: float = 0.0, *, treble_db: float = 0.0, u_gain_db: float = 0.002) -> Evidence:
    level = level_db + treble_db * (F_HZ > 5e3)
    ratio = Ratio(
        "x", ("r",), F_HZ, np.asarray(10 ** (level / 20), dtype=np.complex128),
        np.full(len(F_HZ), 1e-12), u_gain_db, 0.0, True, np.full(len(F_HZ), -120.0),
    )  # fmt: skip
    return Evidence("x", RunLabel("pedal", "resistor", "on", "a"), ratio, harmonics_db=-100.0)


@pytest.mark.parametrize(
    ("run", "proven"),
    [
        (_same(), False),
        (_same(0.005), False),  # gain drift
        (_same(treble_db=-0.02), False),  # a plug's scatter on 400 pF
        (_same(treble_db=-0.2), True),  # 10 pF
        (_same(-0.76), True),  # 1 MΩ
        (_same(14.0), True),  # an effect
        (_same(-70.0), True),  # nothing passes
        (replace(_same(), delay=Estimate(1e-3, 1e-9, "s")), True),
        (replace(_same(), harmonics_db=-30.0, harmonics_over_reference_db=60.0), True),
        (replace(_same(-0.76), refused=True), False),
    ],
)
def test_presence_needs_a_difference_beyond_repeatability(run: Evidence, proven: bool) -> None:
    """Drift and plugs prove nothing; a load, an effect, a dead path, a delay or dirt does."""
    assert pedal_proven([_same(), run], DEFAULT_PRIORS)[0] is proven
