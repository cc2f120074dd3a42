"""A small part of the population study: thirty-six examinations of invented pedals."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from tests.reference.population_report import write_report
from tests.reference.population_study import (
    Row,
    confusion,
    coverage,
    figures,
    in_rounds,
    pulls,
    study_one,
    wrong,
)

KINDS = ("standard_check", "casual")


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """Eighteen pedals, each on two kinds of setup."""
    return [study_one(11, index, kind) for index in range(18) for kind in KINDS]


def test_no_path_is_stated_wrongly(rows: list[Row]) -> None:
    """No stated path is wrong, and none at all is called wired that is not."""
    assert [r for r in rows if wrong(r) and r["path"] == "wired"] == []
    assert sum(wrong(r) for r in rows if r["kind"] != "casual") == 0


def test_intervals_hold_the_truth(rows: list[Row]) -> None:
    """Of the 95 % intervals of C and conductance at least 80 % hold the truth.

    Draws have heavy tails and setups twice the believed scatter; some twenty intervals know a
    coverage to 5 %.
    """
    for what in ("c", "g"):
        found = coverage(rows, what)
        assert found["n"] >= 15
        assert found["covered"] >= 0.8


def test_intervals_are_as_narrow_as_stated(rows: list[Row]) -> None:
    """Half the half-widths below 60 pF are under 1.3 pF on a standard plan with a check cable."""
    standard = [r for r in rows if r["kind"].startswith("standard")]
    light = [r for r in standard if (r["truth_c"] or 1.0) < 60e-12]
    widths = [w for _, _, w in pulls(light, "c")]
    assert np.median(widths) < 1.3e-12
    assert len(widths) >= 6


def test_circuits_are_told_active_from_passive(rows: list[Row]) -> None:
    """Once decided, a stage never wins on a passive pedal, nor a passive circuit on a stage."""
    for row in rows:
        if row["winner"] is None or row["path"] == "undecided":
            continue
        active = row["winner"] in ("buffer", "loaded_buffer")
        assert active == (row["truth"] in ("buffered", "converted")), row


def test_a_row_follows_from_its_seed(rows: list[Row]) -> None:
    """The same seed, number and setup give the same row, so that a study can be continued."""
    again = study_one(11, 4, "standard_check")
    kept = next(r for r in rows if (r["index"], r["kind"]) == (4, "standard_check"))
    assert json.dumps(again, sort_keys=True) == json.dumps(kept, sort_keys=True)


def test_any_beginning_of_a_study_is_balanced() -> None:
    """Each pedal once before any twice, setups in equal number; in the end each pedal on each."""
    kinds = ("a", "b", "c")
    order = in_rounds(7, kinds)
    assert [index for index, _ in order[:7]] == list(range(7))
    assert sorted(order) == [(index, kind) for index in range(7) for kind in kinds]
    for size in range(len(order) + 1):
        met = [sum(kind == one for _, kind in order[:size]) for one in kinds]
        assert max(met) - min(met) <= 2


def test_figures_count_what_they_say() -> None:
    """One wrong path among four stated ones is a share of a quarter; open ones do not count."""
    base: Row = {
        "kind": "standard", "family": "wired", "outside": False, "near_limit": False,
        "alternatives": [], "truth_c": 10e-12, "truth_g": 0.0, "truth_r": None, "index": 0,
    }  # fmt: skip
    said = ("wired", "wired", "wired", "loaded", "undecided")
    made = [{**base, "truth": "wired", "path": path} for path in said]
    made.append({**base, "truth": "loaded", "path": "wired", "kind": "casual"})
    found = figures(made)
    assert (found["examinations"], found["pedals"]) == (6, 1)
    assert found["examinations_on"] == {"casual": 1, "standard": 5}
    assert found["wrong_share"] == pytest.approx(2 / 5)
    assert found["wrong_wired"] == 1
    assert found["decided_standard"] == pytest.approx(4 / 5)
    assert confusion(made)["wired"] == {"wired": 3, "loaded": 1, "undecided": 1}


def test_coverage_counts_what_it_says() -> None:
    """Nine of ten errors inside 1.96 u are 90 %, and the width that they warrant follows."""
    errors = [0.1] * 9 + [3.0]
    made: list[Row] = [
        {
            "family": "wired", "truth": "wired", "outside": False, "truth_c": 1.0,
            "stated": {"c": (1.0 + e, 1.0)},
        }
        for e in errors
    ]  # fmt: skip
    found = coverage(made, "c")
    assert found["covered"] == pytest.approx(0.9)
    assert found["families"]["wired"]["n"] == 10
    assert found["stated_over_warranted"] == pytest.approx(1.96 / np.quantile(errors, 0.95))


def test_the_report_names_every_setup(rows: list[Row], tmp_path: Path) -> None:
    """The report holds each setup, the figures as JSON, and a picture beside it."""
    text = write_report(rows, tmp_path)
    assert text.startswith("36 examinations of 18 pedals")
    assert all(f"setup {kind}" in text for kind in KINDS)
    assert (tmp_path / "pulls.png").stat().st_size > 10_000
    assert (tmp_path / "report.txt").read_text(encoding="utf-8") == text
