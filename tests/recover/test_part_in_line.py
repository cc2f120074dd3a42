"""A part in line behind the resistor lead alone: C and conductance are as wide as they must be."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.circuit.hypotheses import HYPOTHESES
from loopback.identify.contact import CONTACT_OHM, may_hide_a_part, with_contacts
from loopback.identify.readings import Readings
from loopback.quantity import Estimate
from tests.reference.population_study import pulls, study_one

IN_LINE = {25: "inline", 40: "inline", 43: "inline", 129: "inline", 192: "volume", 255: "volume"}
"""Pedals of seed 77 with 1 to 400 kilohm in line at the pedal end, inputs of 1 megohm or more."""


def test_parts_in_line_are_covered_behind_the_resistor_alone() -> None:
    """Of twelve intervals of C and conductance none is off by three uncertainties.

    Read as a plain load, the conductance was off by ten of them and the capacitance by fourteen.
    """
    rows = [study_one(77, index, "casual") for index in IN_LINE]
    assert [row["family"] for row in rows] == list(IN_LINE.values())
    found = [pull for what in ("c", "g") for _, pull, _ in pulls(rows, what)]
    assert len(found) == 12
    assert np.max(np.abs(found)) < 3
    assert all("inline" in row["consistent"] for row in rows)


def test_contacts_leave_all_else_as_it_is() -> None:
    """Only what may take either sign in line is held to contacts."""
    shunt = with_contacts(HYPOTHESES["shunt"])
    assert [u.prior_u for u in shunt.unknowns if u.name == "r_series_ohm"] == [CONTACT_OHM]
    assert [u for u in shunt.unknowns if u.name != "r_series_ohm"] == [
        u for u in HYPOTHESES["shunt"].unknowns if u.name != "r_series_ohm"
    ]
    for name in ("inline", "blocked", "switched", "transformer", "buffer"):
        assert with_contacts(HYPOTHESES[name]).unknowns == HYPOTHESES[name].unknowns


@pytest.mark.parametrize(("pf", "hides"), [(20.0, False), (500.0, True)])
def test_wiring_hides_no_part(pf: float, hides: bool) -> None:
    """Twenty picofarad are wiring; half a nanofarad may be a filter with its resistor in line."""
    g = Estimate(1e-9, 1e-9, "siemens")
    assert may_hide_a_part(Readings(Estimate(pf * 1e-12, 1e-12, "farad"), g, g, None)) is hides
