"""Pedals of the simulator are identified: which circuit, which values, and with what doubt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loopback.circuit.hypotheses import HypothesisName
from loopback.identify.data import PedalRun
from loopback.identify.identify import Identified, identify
from loopback.identify.loads import find_setups
from loopback.simulate.pedal import load_pedal
from loopback.verdict.judge import judge
from tests.reference.bench_runs import Bench, Table, examine
from tests.reference.bypass_circuits import KNOWN


def identified(name: str, bench: Bench | None = None, *, unpowered: bool = True) -> Identified:
    """Fit the bypass runs of a standard plan."""
    evidence, setup = examine(load_pedal(name), bench or Bench(seed=3))
    assert setup is not None
    position = judge(evidence, setup).bypass_position
    runs = [
        PedalRun(e.label, e.ratio, i + 2)
        for i, e in enumerate(evidence)
        if e.ratio is not None and e.usable and e.label.position == position
        and (unpowered or e.label.power != "off")
    ]  # fmt: skip
    found = identify(runs, {"instrument": setup})
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("name", "winner"),
    [
        ("harbour-bell", "wire"),
        ("drift-bottle", "wire"),
        ("field-gate", "wire"),
        ("quiet-valley", "wire"),
        ("quarry-lamp", "shunt"),
        ("twin-anchor", "shunt"),
        ("garden-tap", "shunt"),
        ("garden-tap-low", "inline"),
        ("wool-blanket", "inline"),
        ("amber-dial", "coupled"),
        ("tidal-clock", "bias"),
        ("iron-bridge", "transformer"),
        ("paper-kite", "buffer"),
        ("salt-lantern", "buffer"),
        ("chalk-path", "buffer"),
        ("long-meadow", "buffer"),
        ("river-lock", "loaded_buffer"),
    ],
)
def test_the_right_circuit_wins(name: str, winner: HypothesisName) -> None:
    """Each bypass circuit of common practice is told from all others."""
    found = identified(name)
    assert found.comparison.winner == winner
    fit = found.fit(winner)
    assert fit is not None
    assert fit.excess < 0.5  # no discrepancy is simulated, so less is left than was allowed for


@pytest.mark.parametrize("name", ["harbour-bell", "quarry-lamp", "twin-anchor", "drift-bottle"])
def test_values_are_those_of_the_circuit(name: str) -> None:
    """C and conductance lie within their intervals, and in to out is a contact."""
    elements = KNOWN[f"{name} bypass"].elements
    c = sum(e.value for e in elements if e.kind == "C")
    g = sum(1 / e.value for e in elements if e.kind == "R" and "0" in e.nodes)
    readings = identified(name).readings
    assert readings is not None
    assert readings.series_ohm is not None
    assert abs(readings.c_farad.value - c) < 1.96 * readings.c_farad.u
    assert abs(readings.g_siemens.value - g) < 2.5 * readings.g_siemens.u
    assert abs(readings.series_ohm.value) < 1.96 * readings.series_ohm.u
    assert readings.c_farad.half_width() < 1.2e-12


def test_a_coupling_capacitor_blocks_an_ohmmeter() -> None:
    """Behind a capacitor the resistor is read, and an ohmmeter would find nothing."""
    readings = identified("amber-dial").readings
    assert readings is not None
    assert readings.coupling_farad is not None
    assert readings.coupling_farad.value == pytest.approx(10e-9, rel=0.02)
    assert 1 / readings.g_siemens.value == pytest.approx(100e3, rel=0.02)
    assert readings.direct_g_siemens.value == 0


def test_input_gain_and_output_of_a_follower() -> None:
    """A source follower: 14 pF and 1 MΩ in front, 0.92 times, some 700 Ω behind."""
    readings = identified("long-meadow").readings
    assert readings is not None
    assert readings.gain_db is not None
    assert readings.output_ohm is not None
    assert readings.c_farad.value == pytest.approx(14e-12, abs=2.5 * readings.c_farad.u)
    assert 1 / readings.g_siemens.value == pytest.approx(1e6, rel=0.03)
    # 0.92 times, and 700 Ω into the 100 kΩ behind the output.
    assert readings.gain_db.value == pytest.approx(-0.785, abs=0.02)
    assert readings.output_ohm.value == pytest.approx(700, abs=2.5 * readings.output_ohm.u)


def test_one_load_leaves_wire_and_buffer_together() -> None:
    """Without an unpowered or reversed run a wire and an ideal buffer are named together."""
    found = identified("harbour-bell", unpowered=False)
    assert found.passivity == "open"
    assert found.comparison.winner is None
    assert set(found.comparison.consistent) == {"wire", "buffer"}
    assert "unpowered_bypass" in found.would_tell
    assert "reversed" in found.would_tell


def test_coverage_over_seeds() -> None:
    """Of thirty setups the 95 % interval of C holds the truth in 90 to 100 %, and is no wider.

    The bench scatters as the priors say, so that a stated width and the scatter agree.
    """
    errors, stated = [], []
    elements = KNOWN["quarry-lamp bypass"].elements
    c = sum(e.value for e in elements if e.kind == "C")
    for seed in range(30):
        coupler = 2e-12 + 0.3e-12 * float(np.random.default_rng(seed).standard_normal())
        bench = replace(Bench(seed=seed), coupler_f=coupler)
        readings = identified("quarry-lamp", bench).readings
        assert readings is not None
        errors.append(readings.c_farad.value - c)
        stated.append(readings.c_farad.u)
    inside = np.mean(np.abs(errors) < 1.96 * np.array(stated))
    assert 26 / 30 <= inside <= 1.0  # fewer have a chance of 1 %
    assert 0.6 < np.std(errors) / np.mean(stated) < 1.25


def test_setups_of_all_loads_are_found() -> None:
    """Without a load plug only the instrument load is there, with the priors' source."""
    table = Table(Bench(seed=5))
    for _ in range(2):
        table.reference("plain")
        table.reference("resistor")
    references = [(table.labels[feed], r) for feed, runs in table.references.items() for r in runs]
    setups, priors = find_setups(references)
    assert set(setups) == {"instrument"}
    assert priors.source_ohm == 150.0
    assert setups["instrument"].node_c.value == pytest.approx(400e-12, rel=0.01)
