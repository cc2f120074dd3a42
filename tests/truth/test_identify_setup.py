"""The setup from reference runs made of known circuits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loopback.identify.setup import SetupFound, find_setup
from tests.reference.bench_runs import F_HZ, Bench, Table

BAND = (F_HZ > 30.0) & (F_HZ < 35e3)


def _setup(bench: Bench, *feeds: str) -> SetupFound:
    table = Table(bench)
    for feed in feeds:
        assert feed in ("plain", "resistor")
        table.reference(feed)
    found = table.setup()
    assert found is not None
    return found


QUIET = Bench(gain_u_db=0.0, shape_u_db=0.0, mating_f=0.0, noise=1e-9)


def test_both_references_give_the_load_as_a_measured_curve() -> None:
    """Two references of an ideal bench give back its load admittance to 0.1 % of the node."""
    found = _setup(QUIET, "plain", "resistor")
    truth = 1e-6 + 2j * np.pi * F_HZ * 400e-12
    assert found.basis == "both"
    assert np.max(np.abs(found.y_load - truth)[BAND] / np.abs(1e-5 + truth)[BAND]) < 1e-3
    assert found.node_c.value == pytest.approx(400e-12, rel=1e-3)
    assert found.load_r.value == pytest.approx(1e6, rel=5e-3)


@pytest.mark.parametrize(
    ("load_g", "load_f"), [(1e-6, 150e-12), (4.5e-6, 400e-12), (1e-7, 900e-12), (1e-4, 300e-12)]
)
def test_setup_values_lie_in_their_intervals(load_g: float, load_f: float) -> None:
    """Instrument inputs from 220 kΩ to 10 MΩ and a 10 kΩ line input are found within 3 u."""
    found = _setup(Bench(load_g=load_g, load_f=load_f, seed=3), "plain", "resistor")
    assert abs(found.node_c.value - (load_f + 2e-12)) < 3 * found.node_c.u
    assert abs(found.load_r.value - 1 / load_g) < 3 * found.load_r.u


def test_intervals_of_the_setup_cover_the_truth() -> None:
    """Of sixty resistors of 1 % nearly all 95 % intervals hold capacitance and input resistance.

    A tolerance is a limit, and 1.96 standard deviations of it are wider: more than 95 % is right.
    With a coverage of 0.95, 50 or fewer of 60 happen once in 1400 times (binomial distribution).
    """
    rng = np.random.default_rng(8)
    hits = np.zeros(2, dtype=int)
    for seed in range(60):
        true_ohm = float(rng.uniform(99e3, 101e3))
        found = _setup(Bench(seed=seed, resistor_true_ohm=true_ohm), "plain", "resistor")
        hits += [
            abs(found.node_c.value - 400e-12) <= found.node_c.half_width(),
            abs(found.load_r.value - 1e6) <= found.load_r.half_width(),
        ]
        assert found.node_c.u < 0.007 * found.node_c.value
    assert (hits >= 51).all(), hits


def test_a_free_delay_between_the_references_does_not_matter() -> None:
    """Opening the stream anew between the two references changes the capacitance by nothing."""
    found = _setup(Bench(delay_held=False, seed=5), "plain", "resistor")
    assert found.node_c.value == pytest.approx(400e-12, rel=5e-3)


@pytest.mark.parametrize("loss_tangent", [0.0, 0.05])
def test_a_lossy_lead_shows_as_misfit_and_is_carried_by_the_curve(loss_tangent: float) -> None:
    """No ideal capacitor has loss: the fit says so, and the curve keeps the magnitude to 2 %."""
    found = _setup(replace(QUIET, loss_tangent=loss_tangent), "plain", "resistor")
    truth = 1e-6 + 2j * np.pi * F_HZ * (2e-12 + 398e-12 * (1 - 1j * loss_tangent))
    assert (found.fit_excess > 3.0) == (loss_tangent > 0)
    assert np.max(np.abs(np.abs(found.y_load / truth) - 1)[F_HZ > 2e3]) < 0.02


def test_resistor_alone_finds_the_corner_and_says_how_little_that_is() -> None:
    """Without a plain reference the scale of the node is known to about 9 %, and says so."""
    both, alone = _setup(QUIET, "plain", "resistor"), _setup(QUIET, "resistor")
    assert alone.basis == "resistor"
    assert alone.node_c.value == pytest.approx(400e-12, rel=0.02)
    assert 0.07 < alone.u_scale < 0.12
    assert both.u_scale < 0.01


def test_a_220_kilohm_input_stays_inside_the_wider_scale() -> None:
    """The prior on the input is wide enough for the lowest instrument inputs there are."""
    bench = Bench(load_g=1 / 220e3, gain_u_db=0.0)
    alone = _setup(bench, "resistor")
    true_z = 1 / (1 / (100e3 + 150) + 1 / 220e3)
    found_z = float(np.abs(alone.z_node[0]))
    assert abs(found_z / true_z - 1) < 4 * alone.u_scale


def test_plain_alone_leaves_the_priors() -> None:
    """Without a resistor run nothing but the stated prior is known about the node."""
    found = _setup(QUIET, "plain")
    assert (found.basis, found.resistor) == ("plain", None)
    assert found.node_c.u > 0.3 * found.node_c.value


def test_no_reference_is_none() -> None:
    """Without any run through the coupler there is no setup."""
    assert find_setup([]) is None


def test_resistor_tolerance_is_a_rectangular_distribution() -> None:
    """A 1 % part counts with 1 %/√3 (JCGM 100:2008, 4.3.7)."""
    found = _setup(Bench(tolerance=0.01), "plain", "resistor")
    assert found.resistor is not None
    assert found.resistor.u == pytest.approx(1000 / np.sqrt(3))


def test_the_end_of_the_resistor_is_carried() -> None:
    """With the resistor at the interface end the feeding lead is part of the node."""
    found = _setup(Bench(resistor_end="interface", seed=2), "plain", "resistor")
    assert found.resistor_end == "interface"
    assert found.node_c.value == pytest.approx(700e-12, rel=0.01)
