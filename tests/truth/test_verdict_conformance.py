"""Probability of conformity and the statements made of it, against JCGM 106:2012."""

from __future__ import annotations

import math

import pytest

from loopback.identify.found import Network, Shunt
from loopback.quantity import Estimate
from loopback.verdict.conformance import all_kept, conformities, outcome_of
from loopback.verdict.limits import IN_TO_OUT_OHM, INSULATION_OHM, JOINT_OHM, WIRING_C, Limit
from loopback.verdict.probability import DECIDED, probability_below
from loopback.verdict.result import Result


def _result(
    pf: float, g: float, r: Estimate | None, u_pf: float = 0.4, network: Network | None = None
) -> Result:
    shunt = Shunt(
        Estimate(pf * 1e-12, u_pf * 1e-12, "farad"), Estimate(g, 3e-9, "siemens"), 0.0, 1e5, 4e-10
    )
    return Result(
        "loaded", (), "always", (), "a", 0.99, shunt, (), (), series_ohm=r, network=network,
        consistent=("shunt",), resistor=Estimate(1e5, 577.0, "ohm"),
        setup_c=Estimate(4e-10, 2e-12, "farad"),
    )  # fmt: skip


def test_breakdown_voltage_of_a_zener_diode() -> None:
    """One upper limit: -5.47 V, u = 0.05 V against -5.40 V conforms with 0.92 (JCGM 106, 7.3;
    from memory, and Φ(1.40) by the normal table).
    """
    assert probability_below(Estimate(-5.47, 0.05, "V"), -5.40) == pytest.approx(0.9192, abs=1e-4)


def test_viscosity_of_motor_oil() -> None:
    """Two limits: 13.6, u = 1.8 within 12.5 to 16.3 conforms with 0.66 (JCGM 106, 7.4; from
    memory, and Φ(1.50) - Φ(-0.61) by the normal table).
    """
    oil = Estimate(13.6, 1.8, "mm2/s")
    inside = probability_below(oil, 16.3) - probability_below(oil, 12.5)
    assert inside == pytest.approx(0.66, abs=0.005)


def test_a_guard_band_as_wide_as_the_expanded_uncertainty() -> None:
    """At a guarded limit of U = 2 u the risk left is 2.3 % (JCGM 106, 8.3.2; normal table)."""
    assert 1 - probability_below(Estimate(8.0, 1.0, ""), 10.0) == pytest.approx(0.0228, abs=1e-4)
    assert probability_below(Estimate(10.0 - 1.959964, 1.0, ""), 10.0) == pytest.approx(DECIDED)


@pytest.mark.parametrize(
    ("probability", "outcome"),
    [
        (1.0, "met"), (0.975, "met"), (0.974, "undecided"), (0.5, "undecided"),
        (0.026, "undecided"), (0.025, "not met"), (0.0, "not met"),
    ],
)  # fmt: skip
def test_a_statement_needs_the_guard(probability: float, outcome: str) -> None:
    """Met and not met lie beyond 97.5 % on either side; between them nothing is said."""
    assert outcome_of(probability) == outcome


@pytest.mark.parametrize(
    ("pf", "g", "r", "outcomes"),
    [
        (14.0, 0.0, Estimate(0.3, 2.0, "ohm"), ("met", "met", "met")),
        (14.0, 1e-6, Estimate(0.3, 2.0, "ohm"), ("met", "not met", "met")),
        (14.0, 0.2e-6, Estimate(9.0, 2.0, "ohm"), ("undecided", "undecided", "met")),
        (144.0, 0.0, Estimate(1e3, 30.0, "ohm"), ("not met", "met", "not met")),
        (60.3, 0.0, None, ("undecided", "met", "undecided")),
    ],
)
def test_limits_of_wiring(
    pf: float, g: float, r: Estimate | None, outcomes: tuple[str, ...]
) -> None:
    """In to out 10 Ω, tip to sleeve 5 MΩ and 60 pF (common practice), each by its interval."""
    found = conformities(_result(pf, g, r))
    assert [c.name for c in found] == ["in_to_out", "tip_to_sleeve_r", "tip_to_sleeve_c"]
    if r is not None:
        assert tuple(c.outcome for c in found) == outcomes
    else:
        assert (found[0].probability, found[0].outcome) == (None, "undecided")
        assert found[2].outcome == "undecided"


def test_the_whole_is_the_product() -> None:
    """Independent limits are kept together with the product of their probabilities."""
    result = _result(59.0, 0.0, Estimate(9.0, 1.0, "ohm"), u_pf=1.0)
    phi = 0.8413447  # Φ(1), normal table
    assert all_kept(result) == pytest.approx(phi * phi, abs=1e-6)


def test_what_lies_behind_a_capacitor_does_not_count_as_its_capacitance() -> None:
    """The limit of capacitance is held against what acts at all frequencies."""
    behind = Network(
        Estimate(1e5, 1e3, "ohm"), Estimate(1e-8, 1e-10, "farad"), Estimate(13e-12, 1e-12, "farad"),
        0.0,
    )  # fmt: skip
    assert conformities(_result(800.0, 1e-5, None, network=behind))[2].outcome == "met"


@pytest.mark.parametrize("limit", [IN_TO_OUT_OHM, INSULATION_OHM, WIRING_C, JOINT_OHM])
def test_every_limit_has_its_source(limit: Limit) -> None:
    """A limit is a number with a unit and with where it comes from."""
    assert limit.value > 0
    assert not math.isinf(limit.value)
    assert limit.unit in ("ohm", "farad")
    assert limit.source.startswith(("common practice", "computed"))
