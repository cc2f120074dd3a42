"""Electronic switches between capacitors: no stage, though without power nothing passes."""

from __future__ import annotations

import numpy as np

from loopback.circuit.hypotheses import HYPOTHESES
from loopback.identify.switch_starts import PARTS, switch_starts
from tests.reference.population_study import pulls, study_one


def test_open_switch_that_no_stage_explains_is_a_load() -> None:
    """It is dead without power, but its capacitors stand between source and load."""
    row = study_one(5, 111, "standard_check")
    assert (row["family"], row["path"], row["consistent"]) == ("cmos", "loaded", ["blocked"])
    assert all(abs(pull) < 3 for _, pull, _ in pulls([row], "c"))


def test_switch_that_a_stage_explains_too_is_left_open() -> None:
    """Two small capacitors with bias between them: one capacitor did not describe it."""
    row = study_one(5, 92, "standard")
    assert row["path"] == "undecided"
    assert row["alternatives"] == ["loaded", "buffered"]
    assert row["consistent"] == ["switched"]


def test_starts_keep_the_capacitor_and_the_load_already_found() -> None:
    """Each start splits them; in series and in sum they are the same."""
    blocked = {
        "c_farad": 12e-12, "g_siemens": 1e-6, "r_series_ohm": 90.0, "c_series_farad": 1e-7,
        "c_output_farad": 18e-12, "g_output_siemens": 2e-6,
    }  # fmt: skip
    made = switch_starts(HYPOTHESES["switched"], blocked)
    assert len(made) == len(PARTS)
    for start in made:
        values = dict(zip(HYPOTHESES["switched"].names, start, strict=True))
        one = 1 / (1 / values["c_first_farad"] + 1 / values["c_series_farad"])
        assert np.isclose(one, 1e-7, rtol=0.05)
        across = sum(values[f"g_{end}siemens"] for end in ("", "bias_", "output_"))
        assert np.isclose(across, 3e-6)
