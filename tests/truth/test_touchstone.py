"""Exported files, read back by an independent reader and held to the rules of the format."""

from __future__ import annotations

import csv
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
import skrf

from loopback.circuit.twoport import cascade, series_impedance, shunt_admittance
from loopback.errors import ArgumentError, FolderError
from loopback.identify.chain_found import ChainMatrix
from loopback.quantity import Estimate
from loopback.report.curve_columns import matrix_columns
from loopback.report.exports import write_exports
from loopback.report.tables import curve_table
from loopback.report.touchstone import touchstone_text

F_HZ = np.array([20.0, 1000.0, 20_000.0])
LADDER = cascade(
    series_impedance(np.full(3, 1e3 + 0j)),
    shunt_admittance(1e-6 + 2j * np.pi * F_HZ * 1e-9),
)
PUBLISHED = np.array(
    [
        [0.4544562366640 - 1.1206482310e-5j, 0.5452166311041 - 2.9883952827e-5j,
         0.4539110162776 - 7.9690540873e-5j],
        [0.4544547016892 - 5.6031990883e-4j, 0.5452125378380 - 1.4941864235e-3j,
         0.4539001009012 - 3.9844971294e-3j],
        [0.4538438368585 - 1.1172915970e-2j, 0.5435835649558 - 2.9794442587e-2j,
         0.4495561732155 - 7.9451846899e-2j],
    ]
)  # fmt: skip
"""S11, S21 = S12, S22 in 600 Ω of 1 kΩ in series, then 1 MΩ and 1 nF across: computed
independently with scikit-rf, ngspice and by hand."""


def _one_way() -> np.ndarray:
    """An asymmetric matrix that is not reciprocal: a stage with some feed-through."""
    rng = np.random.default_rng(9)
    m = rng.normal(size=(3, 2, 2)) + 1j * rng.normal(size=(3, 2, 2))
    m[:, 0, 1] *= 900.0
    m[:, 1, 0] /= 700.0
    return m


def _read(text: str, folder: Path) -> skrf.Network:
    (folder / "pedal.s2p").write_text(text, encoding="ascii")
    return skrf.Network(str(folder / "pedal.s2p"))


def test_another_reader_finds_the_same(tmp_path: Path) -> None:
    """scikit-rf reads S11, S21, S12 and S22 in their places: all four differ here."""
    m = _one_way()
    network = _read(touchstone_text(F_HZ, m, ["Ωmega", "two\nlines"]), tmp_path)
    expected = skrf.network.a2s(m, 600.0)
    np.testing.assert_allclose(network.s, expected, rtol=1e-10)
    assert np.min(np.abs(expected[:, 0, 1] - expected[:, 1, 0])) > 0.05
    np.testing.assert_array_equal(network.f, F_HZ)
    np.testing.assert_array_equal(network.z0, np.full((3, 2), 600.0))
    np.testing.assert_allclose(skrf.network.s2a(network.s, network.z0), m, rtol=1e-8)


def test_known_ladder() -> None:
    """The numbers of a known ladder stand in the columns of the format, to ten digits."""
    rows = [
        [float(x) for x in line.split()]
        for line in touchstone_text(F_HZ, LADDER).splitlines()
        if line[0] not in "!#"
    ]
    found = np.array([[complex(row[i], row[i + 1]) for i in (1, 3, 5, 7)] for row in rows])
    np.testing.assert_allclose(found[:, [0, 1, 3]], PUBLISHED, rtol=2e-9)
    np.testing.assert_allclose(found[:, 1], found[:, 2], rtol=1e-12)


def test_option_line_states_everything_once() -> None:
    """Comments, then one option line with unit, parameter, format and resistance; plain ASCII."""
    text = touchstone_text(F_HZ, LADDER, ["Harbour Bell, 100 kΩ ± 1 %"])
    lines = text.splitlines()
    assert text.isascii()
    assert [line for line in lines if line.startswith("#")] == ["# Hz S RI R 600"]
    first = next(i for i, line in enumerate(lines) if not line.startswith("!"))
    assert lines[first] == "# Hz S RI R 600"
    assert all(len(line.split()) == 9 for line in lines[first + 1 :])


def test_what_the_format_cannot_hold_is_refused() -> None:
    """Frequencies that stand still, and a matrix without bound, are refused."""
    with pytest.raises(ArgumentError, match="do not rise"):
        touchstone_text(np.array([20.0, 20.0, 30.0]), LADDER)
    with pytest.raises(ArgumentError, match="without bound"):
        touchstone_text(F_HZ, LADDER * np.nan)


def test_matrix_table_names_units_and_doubts() -> None:
    """Each part of A, B, C, D and AD - BC has its unit and its standard uncertainty in the head."""
    spread = np.zeros((1, 3, 2, 2), dtype=complex)
    spread[0, :, 0, 1] = 0.5
    noise = np.zeros((3, 4, 4), dtype=complex)
    noise[:, 2, 2] = 2e-18
    matrix = ChainMatrix(
        F_HZ, LADDER, spread, noise, "plug", Estimate(1e3, 1.0, "ohm"), "on", "a", ("02",), None
    )
    head, *rows = csv.reader(StringIO(curve_table(matrix_columns(matrix))))
    assert head[0] == "frequency (Hz)"
    column = {name: np.array([float(row[i]) for row in rows]) for i, name in enumerate(head)}
    np.testing.assert_allclose(column["Re B (ohm)"], 1000.0)
    np.testing.assert_allclose(column["u Re B (ohm)"], 0.5)
    np.testing.assert_allclose(column["u Im B (ohm)"], 0.0)
    np.testing.assert_allclose(column["u Re C (S)"], 1e-9)
    np.testing.assert_allclose(column["Re AD-BC (1)"], 1.0)
    # by hand: the spread of B moves AD - BC by C times it, the noise of C by B times it
    expected = np.hypot(0.5 * LADDER[:, 1, 0].real, 1000.0 * 1e-9)
    np.testing.assert_allclose(column["u Re AD-BC (1)"], expected, rtol=1e-6)


def test_nothing_is_overwritten_unless_named(tmp_path: Path) -> None:
    """A file of the same name stops the export before anything is written, unless named."""
    (tmp_path / "b.csv").write_text("mine")
    with pytest.raises(FolderError, match="exists already"):
        write_exports({"a.csv": "1", "b.csv": "2"}, tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["b.csv"]
    assert (tmp_path / "b.csv").read_text() == "mine"
    write_exports({"a.csv": "1", "b.csv": "2"}, tmp_path, replace=True)
    assert (tmp_path / "b.csv").read_text() == "2"
