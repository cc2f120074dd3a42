"""Exported tables: every curve of every picture is in one, and each table says what it is."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.facts import Analysis
from loopback.guided.plan_runner import play_plan
from loopback.plan.plans import PLANS, TableFacts
from loopback.report.curve_columns import F_HZ, Columns, curves_of
from loopback.report.curve_source import insertion_sheet, zoom_sheet
from loopback.report.exports import export_texts, write_exports
from loopback.report.facts_schema import facts_schema
from loopback.report.figures.curves import Curve, Sheet
from loopback.report.harmonics_source import harmonics_sheet
from loopback.report.noise_source import noise_sheet
from loopback.report.player_source import player_sheet
from loopback.report.published import publication_of
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal

SHEETS = (insertion_sheet, zoom_sheet, noise_sheet, harmonics_sheet, player_sheet)


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> tuple[Analysis, Path]:
    """A pedal with a pulldown by the full plan."""
    rig = simulated_rig("quarry-lamp", 1)
    setup = Setup("simulator", resistor_ohm=100e3, resistor_tolerance=0.01)
    path = tmp_path_factory.mktemp("exports") / "lamp"
    folder = ExaminationFolder.create(path, Pedal("Lamp"), setup, plan_signal(48_000, 1.0))
    facts = TableFacts(bypass="a", resistor_ohm=100e3, resistor_tolerance=0.01)
    play_plan(folder, rig, next(p for p in PLANS.values() if p.name == "full"), facts)
    return analyse(path), path


def is_exported(curve: Curve, curves: dict[str, Columns]) -> bool:
    """Whether some column holds every drawn point of a curve, at its frequency."""
    drawn = np.isfinite(curve.level_db)
    assert drawn.any()
    for columns in curves.values():
        if F_HZ not in columns or columns[F_HZ].shape != curve.f_hz.shape:
            continue
        if np.array_equal(columns[F_HZ], curve.f_hz) and any(
            np.array_equal(column[drawn], curve.level_db[drawn])
            for name, column in columns.items()
            if name != F_HZ
        ):
            return True
    return False


@pytest.mark.parametrize("sheet_of", SHEETS)
def test_every_drawn_curve_is_in_a_table(
    sheet_of: Callable[[Analysis], Sheet], measured: tuple[Analysis, Path]
) -> None:
    """What a picture shows can be drawn again from the exported numbers, point by point."""
    curves = curves_of(measured[0])
    drawn = [c for c in sheet_of(measured[0]).curves if "the setup's own" not in c.label]
    assert drawn or sheet_of is harmonics_sheet
    assert [curve.label for curve in drawn if not is_exported(curve, curves)] == []


UNIT = re.compile(r".*\((Hz|dB|dBFS|dBFS/Hz|degree|ohm|S|V|FS|s|1)\)")


def _tables(folder: Path) -> Iterator[tuple[str, list[list[str]]]]:
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            yield path.name, list(csv.reader(file))


def test_every_column_has_its_unit(measured: tuple[Analysis, Path], tmp_path: Path) -> None:
    """Each heading of each table of numbers ends in a unit, and each cell is a number."""
    write_exports(export_texts(measured[0]), tmp_path)
    for name, (head, *rows) in _tables(tmp_path):
        if name == "contents.csv":
            continue
        assert all(UNIT.fullmatch(column) for column in head), (name, head)
        assert len(set(head)) == len(head)
        values = np.array(rows, dtype=np.float64)
        assert values.shape == (len(rows), len(head))
        assert np.isfinite(values[:, 0]).all()


def test_contents_name_every_table(measured: tuple[Analysis, Path], tmp_path: Path) -> None:
    """Whoever has only the tables learns from one of them what each of them is."""
    write_exports(export_texts(measured[0]), tmp_path)
    tables = dict(_tables(tmp_path))
    head, *rows = tables.pop("contents.csv")
    assert head == ["file", "what", "run", "hook-up", "pedal", "measured"]
    assert {row[0] for row in rows} == set(tables)
    assert all(row[1] and "{}" not in row[1] for row in rows)
    known = dict(zip((row[0] for row in rows), rows, strict=True))
    assert known["insertion-02.csv"][2] == "02"
    assert "100 kΩ" in known["insertion-02.csv"][3]
    assert known["matrix.csv"][1] == "chain matrix of the pedal"


def test_facts_are_exported_and_fit_the_schema(measured: tuple[Analysis, Path]) -> None:
    """facts.json of a full plan, with a chain matrix, is what the published schema says."""
    facts = json.loads(export_texts(measured[0])["facts.json"])
    assert facts["matrix"] is not None
    assert list(jsonschema.Draft202012Validator(facts_schema()).iter_errors(facts)) == []


def test_what_is_exported_is_what_is_published(measured: tuple[Analysis, Path]) -> None:
    """Each table has its hash in a publication, under the same name."""
    names = {curve.name for curve in publication_of(*measured).curves}
    texts = set(export_texts(measured[0])) - {"contents.csv"}
    assert {f"{name}.csv" for name in names} == {t for t in texts if t.endswith(".csv")}
