"""Where several circuits describe the runs, the doubt about which one it is reaches the values."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.circuit.hypotheses import HYPOTHESES
from loopback.identify.joint import JointFit
from loopback.identify.readings import readings_of
from loopback.quantity import Estimate
from tests.reference.population_pedals import Truth, made_of
from tests.reference.population_study import pulls, study_one, study_pedal
from tests.reference.population_table import KINDS, Setup

HALF_SWITCHED = (0, 2, 19, 25, 35, 52, 55)
"""Pedals of seed 1 with an effect's input on the line in bypass."""


def test_half_switched_inputs_are_covered() -> None:
    """Coupled resistor or bias network: conductance and series R hold the truth at 95 %.

    Of fourteen intervals four misses have a chance of 0.4 %.
    """
    rows = [study_one(1, index, "standard") for index in HALF_SWITCHED]
    assert {row["family"] for row in rows} == {"half"}
    found = [pull for what in ("g", "r") for _, pull, _ in pulls(rows, what)]
    assert len(found) == 2 * len(HALF_SWITCHED)
    assert sum(abs(pull) > 1.96 for pull in found) <= 3
    assert np.max(np.abs(found)) < 4
    # It is found at all only from a start that is far: a near one leaves 700 Ω in line.
    stuck = next(row for row in rows if row["index"] == 19)
    assert stuck["consistent"] == ["bias"]


def test_a_bend_of_the_treble_leads_to_the_bias_network() -> None:
    """91 kilohm with 280 pF behind them, beside a bias resistor: once found as a shelf only.

    Counted among the conductance, that branch made nine times too much of it.
    """
    row = study_one(77, 20, "standard")
    assert (row["family"], row["consistent"]) == ("half", ["bias"])
    (pull,) = (p for _, p, _ in pulls([row], "g"))
    assert abs(pull) < 3
    assert row["stated"]["g"][1] < 0.05 * row["truth_g"]


def shelf(corner_hz: float) -> JointFit:
    """A shelf of 1 megohm beside 100 kilohm in series with a capacitor, 10 pF across all."""
    c_branch = 1 / (2 * np.pi * corner_hz * 100e3)
    values = {
        "r_series_ohm": 0.0, "c_farad": 10e-12, "g_siemens": 1e-6, "r_branch_ohm": 100e3,
        "c_branch_farad": c_branch,
    }  # fmt: skip
    unknowns = HYPOTHESES["shelf"].unknowns
    search = [np.log(values[u.name]) if u.log else values[u.name] / u.step for u in unknowns]
    made = {u.name: Estimate(values[u.name], 0.01 * values[u.name], u.unit) for u in unknowns}
    return JointFit(
        "shelf", tuple(values), made, np.array(search), 1e-4 * np.eye(5), 1.0, 0.1, 0.1, 0.0, 0.0,
        np.zeros(1),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("corner_hz", "g_us", "more_pf", "coupled"),
    [(100.0, 11.0, 0.0, True), (6e3, 1.0, 0.0, False), (80e3, 1.0, 19.9, False)],
)
def test_a_branch_counts_where_it_acts(
    corner_hz: float, g_us: float, more_pf: float, coupled: bool
) -> None:
    """In the middle of the band a conductance, in the treble neither, above it a capacitance."""
    found = readings_of(shelf(corner_hz))
    assert found.g_siemens.value == pytest.approx(g_us * 1e-6, rel=1e-6)
    assert found.c_farad.value == pytest.approx((10.0 + more_pf) * 1e-12, rel=1e-2)
    assert (found.coupling_farad is not None) is coupled


@pytest.mark.parametrize("kind", ["standard_check", "standard"])
@pytest.mark.parametrize(
    ("farad", "ohm"), [(20e-12, 100e3), (47e-12, 47e3), (470e-12, 1e3), (1e-9, 4.7e3)]
)
def test_a_capacitor_behind_a_resistor_is_told(farad: float, ohm: float, kind: str) -> None:
    """With its corner above the band it is a capacitance: no conductance, and nothing in line.

    Without starts of its own it read as up to a hundred ohm in line, told to an ohm.
    """
    lines = ["Cci IN 0 8p", "Cco OUT 0 8p", "Rsw IN OUT 0.05", f"Cx IN a {farad}", f"Rx a 0 {ohm}"]
    truth = Truth("lossy", "loaded", farad + 16e-12, 0.0, 0.05)
    rng = np.random.default_rng(9)
    row = study_pedal(made_of(truth, lines, rng), Setup(KINDS[kind], rng))
    assert row["consistent"] == ["coupled"]
    assert np.max(np.abs([pull for what in "gr" for _, pull, _ in pulls([row], what)])) < 3
    c, u = row["stated"]["c"]
    assert abs(c - truth.c_farad) < max(3 * u, 0.05 * c)
    assert row["stated"]["g"][1] > 1e-10


@pytest.mark.parametrize("kind", ["full", "standard"])
def test_a_bias_network_with_much_capacitance_behind_the_stopper_is_found(kind: str) -> None:
    """65 kilohm with 440 pF behind them bend the treble, and the coupling capacitor the bass.

    Found by neither, it was called a buffer: in closed form its capacitance lies far below zero.
    """
    row = study_one(80, 27, kind)
    assert (row["family"], row["path"], row["consistent"]) == ("half", "loaded", ["bias"])
    assert np.max(np.abs([pull for what in "gr" for _, pull, _ in pulls([row], what)])) < 3


def test_what_no_circuit_explains_is_a_load_of_another_kind() -> None:
    """A network outside the list is passive and loaded, and no circuit is named for it."""
    row = study_one(6, 115, "full")
    assert (row["family"], row["consistent"]) == ("outsider", [])
    assert row["path"] == "loaded"


def test_an_electronic_switch_between_two_capacitors_is_told() -> None:
    """Reversed and with a load plug: both capacitors and what biases them are in its circuit."""
    row = study_one(78, 12, "full")
    assert (row["family"], row["path"], row["winner"]) == ("cmos", "loaded", "switched")


def test_a_transformer_is_told_with_a_load_plug() -> None:
    """One that a load plug loads: the output impedance found with it must not disturb it."""
    row = study_one(1, 17, "full")
    assert (row["family"], row["path"], row["winner"]) == ("transformer", "loaded", "transformer")
