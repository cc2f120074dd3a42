"""Where several circuits describe the runs, the doubt about which one it is reaches the values."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.identify.readings import Readings
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


def test_a_branch_of_the_treble_is_no_conductance() -> None:
    """80 kilohm with some hundred picofarad, beside a bias resistor, load the treble alone.

    Counted among the conductance, the branch made nine times too much of it.
    """
    row = study_one(77, 20, "standard")
    assert (row["family"], row["consistent"]) == ("half", ["shelf"])
    (pull,) = (p for _, p, _ in pulls([row], "g"))
    assert abs(pull) < 3
    assert row["stated"]["g"][1] < 0.05 * row["truth_g"]


def readings(c: float, u: float, series: Estimate | None) -> Readings:
    """Readings of one circuit, alike but for the capacitance."""
    g = Estimate(1e-6, 1e-9, "siemens")
    return Readings(Estimate(c, u, "farad"), g, g, series)


def test_another_circuit_widens_but_never_narrows() -> None:
    """3 pF apart with 0.4 pF of its own: 5² = 3² + 4² in tenths; alike, nothing changes."""
    series = Estimate(0.1, 0.5, "ohm")
    one = readings(10e-12, 0.2e-12, series)
    both = one.widened(readings(10.3e-12, 0.4e-12, None))
    assert both.c_farad.value == one.c_farad.value
    assert both.c_farad.u == pytest.approx(0.5e-12)
    assert both.g_siemens == one.g_siemens
    assert both.series_ohm == series
    assert one.widened(readings(10e-12, 0.1e-12, series)) == one


def test_behind_the_resistor_alone_nothing_in_line_is_read() -> None:
    """With no plain run series R is left out rather than stated with too small a doubt."""
    row = study_one(1, 34, "casual")
    assert row["family"] == "inline"
    assert "r" not in row["stated"]


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


def test_what_no_circuit_explains_is_a_load_of_another_kind() -> None:
    """An electronic switch with a capacitor at either end, reversed and with a load plug.

    One circuit comes close, and its small misfit left wiring open that was off by a decibel.
    """
    row = study_one(78, 12, "full")
    assert (row["family"], row["consistent"]) == ("cmos", [])
    assert row["path"] == "loaded"


def test_a_transformer_is_told_with_a_load_plug() -> None:
    """One that a load plug loads: the output impedance found with it must not disturb it."""
    row = study_one(1, 17, "full")
    assert (row["family"], row["path"], row["winner"]) == ("transformer", "loaded", "transformer")
