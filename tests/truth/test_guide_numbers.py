"""The numbers that the guide prints: formulas against the solver, limits against results."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.circuit.twoport import cascade, series_impedance, shunt_admittance, voltage_ratio
from loopback.cli.guide import page
from loopback.facts import Analysis
from loopback.notebook.examinations import simulate_examination
from loopback.plan.plans import PlanName

F_HZ = np.array([20.0, 200.0, 1e3, 4.4e3, 10e3, 20e3])
S = 2j * np.pi * F_HZ
R_FEED, R_LOAD, C_LOAD = 100e3, 1e6, 400e-12
PARALLEL = R_FEED * R_LOAD / (R_FEED + R_LOAD)
Y_LOAD = 1 / R_LOAD + S * C_LOAD
TEXT = " ".join(page("arithmetic").split())


def test_admittance_follows_from_the_ratio() -> None:
    """The page's formula gives back what was put across the line, at every frequency."""
    across = 1 / 330e3 + S * 47e-12
    feed = np.full(len(F_HZ), R_FEED, dtype=complex)
    with_it = voltage_ratio(shunt_admittance(across), feed, Y_LOAD)
    without = voltage_ratio(shunt_admittance(0 * across), feed, Y_LOAD)
    ratio = with_it / without
    np.testing.assert_allclose((1 / ratio - 1) * (1 / R_FEED + Y_LOAD), across, rtol=1e-12)


def test_load_follows_from_two_references() -> None:
    """The page's formula gives back the load from references through two feeds."""
    z1 = 150.0
    q = (1 + z1 * Y_LOAD) / (1 + (R_FEED + z1) * Y_LOAD)
    np.testing.assert_allclose((1 - q) / (q * (R_FEED + z1) - z1), Y_LOAD, rtol=1e-9)


@pytest.mark.parametrize(
    ("said", "value", "places"),
    [
        ("20 log10(1 + 1 pF / 400 pF) = {} dB", 20 * math.log10(1 + 1 / 400), 3),
        ("91 kΩ x 1 pF = {} ns", PARALLEL * 1e-12 * 1e9, 0),
        ("20 log10(1 + 91 kΩ / 1 MΩ) = {} dB", 20 * math.log10(1 + PARALLEL / R_LOAD), 2),
        ("(2 pi 91 kΩ 400 pF) = {} kHz", 1e-3 / (2 * math.pi * PARALLEL * C_LOAD), 1),
        ("(1 kΩ: −{} dB)", 20 * math.log10(1 + 1e3 / R_LOAD), 3),
        ("5 Ω and 400 pF are {} ns", 5 * C_LOAD * 1e9, 0),
        ("is also {} pF beside", (10 ** (0.01 / 20) - 1) * C_LOAD * 1e12, 2),
        ("pF beside {} MΩ", 1e-6 * PARALLEL / (10 ** (0.01 / 20) - 1), 0),
        ("(1/2 + 1/2)) pF = {} pF", 1.96 * math.sqrt(2 * 0.3**2 + 0.09**2), 2),
        ("where {} pF is what 0.002 dB", (10 ** (0.002 / 20) - 1) * C_LOAD * 1e12, 2),
        ("sqrt(4 k T R): {} nV", 1e9 * math.sqrt(4 * 1.380649e-23 * 293.15 * PARALLEL), 0),
    ],
)
def test_printed_number_is_that_of_its_formula(said: str, value: float, places: int) -> None:
    """Each number on the page of the arithmetic comes out as printed."""
    assert said.format(f"{value:.{places}f}") in TEXT


def test_losses_of_the_table_are_those_of_the_circuit() -> None:
    """10 MΩ, 1 MΩ and 100 kΩ in the bass, and 100 kΩ from a plain lead of 150 Ω."""
    low = np.array([20.0])
    load = 1 / R_LOAD + 2j * np.pi * low * C_LOAD

    def loss_db(ohm: float, feed: float) -> float:
        source = np.full(1, feed, dtype=complex)
        both = [voltage_ratio(shunt_admittance(np.full(1, y + 0j)), source, load)
                for y in (1 / ohm, 0.0)]  # fmt: skip
        return float(20 * np.log10(np.abs(both[0] / both[1]))[0])

    told = ", ".join(f"−{-loss_db(ohm, R_FEED):.{n}f}"
                     for ohm, n in ((10e6, 2), (1e6, 2), (100e3, 1)))  # fmt: skip
    assert f"{told} dB in the bass" in TEXT
    assert f"−{-loss_db(100e3, 150.0):.2f} dB: nothing to see" in TEXT


def test_determinant_tells_passive_from_one_way() -> None:
    """AD - BC is 1 for any cascade of passive parts, and 0 for a stage that passes one way."""
    passive = cascade(series_impedance(1e3 + 1 / (S * 22e-9)), shunt_admittance(1e-5 + S * 1e-10))
    determinant = passive[:, 0, 0] * passive[:, 1, 1] - passive[:, 0, 1] * passive[:, 1, 0]
    np.testing.assert_allclose(determinant, 1, rtol=1e-9)
    z_in, z_out, gain = 1e6, 100.0, 0.98
    a, b, c, d = 1 / gain, z_out / gain, 1 / (gain * z_in), z_out / (gain * z_in)
    assert a * d - b * c == pytest.approx(0, abs=1e-15)


ROW = re.compile(r"\| (\w+) \| ± ([\d.]+) pF \| ± ([\d.]+) % \| over (\d+) MΩ \| (.+) \|")


@pytest.mark.parametrize("plan", ["quick", "standard", "full"])
def test_stated_limits_are_those_of_results(plan: PlanName, tmp_path: Path) -> None:
    """The ± and the bounds on the page are what each plan gives, within a fifth."""
    rows = {m[1]: m for m in map(ROW.fullmatch, page("limits").splitlines()) if m}
    lamp = _examined(tmp_path / "lamp", "quarry-lamp", plan)
    bell = _examined(tmp_path / "bell", "harbour-bell", plan)
    shunt, wire = lamp.result.shunt, bell.result.shunt
    assert shunt is not None
    assert wire is not None
    row = rows[plan]
    assert shunt.c_farad.half_width() * 1e12 == pytest.approx(float(row[2]), rel=0.2)
    part = shunt.g_siemens.half_width() / shunt.g_siemens.value
    assert 100 * part == pytest.approx(float(row[3]), rel=0.2)
    bound = 1e-6 / max(wire.g_siemens.interval(0.95)[1], 1e-12)
    assert bound > 0.8 * float(row[4])
    series = bell.result.series_ohm
    if row[5] == "not resolved":
        assert series is None or series.half_width() > 1e3
    else:
        most = float(re.findall(r"[\d.]+", row[5])[0])
        assert series is not None
        assert 0.5 * most < max(series.interval(0.95)[1], 0.0) < 1.25 * most


def _examined(path: Path, circuit: str, plan: PlanName) -> Analysis:
    return analyse(simulate_examination(path, circuit, plan=plan))
