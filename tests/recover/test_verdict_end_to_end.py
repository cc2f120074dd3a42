"""From sound to result: the demo's pedals played through the simulator, read, fitted and judged.

Everything imperfect is on: noise, hum, drift, plugs, crosstalk, a resistor off its stated value.
What the circuits hold is known from their files, and has to lie inside what the result states.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.facts import Analysis
from loopback.guided.plan_runner import play_plan
from loopback.plan.plans import FULL, NO_RESISTOR, STANDARD, Plan, TableFacts
from loopback.quantity import Estimate
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal
from loopback.verdict.conformance import conformities


def examined(
    place: Path, name: str, plan: Plan = STANDARD, *, seed: int = 1, check_cable: bool = False
) -> Analysis:
    """Play a plan with short sweeps and silences, and analyse what it left."""
    rig = simulated_rig(name, seed, check_cable=check_cable)
    quick = replace(
        plan, steps=tuple(replace(s, silence_s=min(s.silence_s, 1.0)) for s in plan.steps)
    )
    with_resistor = plan is not NO_RESISTOR
    setup = Setup(
        "simulator", resistor_ohm=100e3 if with_resistor else None,
        resistor_tolerance=0.01 if with_resistor else None,
    )  # fmt: skip
    path = place / name
    folder = ExaminationFolder.create(path, Pedal(name), setup, plan_signal(48_000, 1.0))
    facts = TableFacts(bypass="a", resistor_ohm=setup.resistor_ohm, resistor_tolerance=0.01)
    play_plan(folder, rig, quick, facts)
    return analyse(path)


def inside(estimate: Estimate | None, truth: float) -> bool:
    """Tell whether a truth lies in the stated 95 % interval, a fifth of it to spare."""
    assert estimate is not None
    return abs(estimate.value - truth) < 1.2 * estimate.half_width()


def test_hard_wired(tmp_path: Path) -> None:
    """12 pF and 0.05 Ω: true bypass, and all limits met, without any check cable."""
    result = examined(tmp_path, "harbour-bell").result
    assert (result.path, result.power, result.grades) == (
        "wired", "bypass_position", ("wire-like",),
    )  # fmt: skip
    assert result.shunt is not None
    assert inside(result.shunt.c_farad, 12e-12)
    assert inside(result.shunt.g_siemens, 0.0)
    assert inside(result.series_ohm, 0.05)
    assert result.shunt.c_farad.half_width() < 1.6e-12
    assert [c.outcome for c in conformities(result)] == ["met", "met", "met"]


def test_pulldown(tmp_path: Path) -> None:
    """12 pF and 1 MΩ at a jack."""
    result = examined(tmp_path, "quarry-lamp", seed=2).result
    assert (result.path, result.consistent, result.grades) == ("loaded", ("shunt",), ("light",))
    assert result.shunt is not None
    assert inside(result.shunt.c_farad, 12e-12)
    assert inside(result.shunt.g_siemens, 1e-6)
    assert inside(result.series_ohm, 0.05)


def test_half_switched(tmp_path: Path) -> None:
    """14 pF, and 101 kΩ behind 10 nF, of which an ohmmeter sees nothing."""
    result = examined(tmp_path, "tidal-clock", seed=3).result
    assert (result.path, result.grades) == ("loaded", ("heavy",))
    network = result.network
    assert network is not None
    assert inside(network.r_ohm, 101e3)
    assert inside(network.coupling_farad, 10e-9)
    assert inside(network.c_farad, 14e-12)


def test_buffered(tmp_path: Path) -> None:
    """1 MΩ beside 2.2 MΩ, 14 pF, gain 0 dB; a converter stays possible at 48 kHz."""
    result = examined(tmp_path, "salt-lantern", seed=4).result
    assert (result.path, result.power) == ("buffered", "never")
    stage = result.buffer
    assert stage is not None
    assert inside(stage.g_siemens, 1 / 1e6 + 1 / 2.2e6)
    assert inside(stage.c_farad, 14e-12)
    assert inside(stage.gain_db, 0.0)
    assert stage.output_ohm is None


def test_without_a_resistor(tmp_path: Path) -> None:
    """35 pF cannot be told by the plain lead: undecided, and nothing that is there is excluded."""
    result = examined(tmp_path, "drift-bottle", NO_RESISTOR, seed=5).result
    assert (result.path, result.alternatives) == ("undecided", ("wired", "loaded"))
    assert result.plain is not None
    assert result.plain.c_over_farad > 35e-12
    assert result.plain.series_over_ohm > 0.1


@pytest.mark.parametrize("check_cable", [True, False])
def test_a_cold_joint(tmp_path: Path, check_cable: bool) -> None:
    """1 kΩ in line is told from its delay: held by a check cable, or by the samples' clock."""
    result = examined(tmp_path, "kit-cold-joint", seed=6, check_cable=check_cable).result
    assert result.path == "faulty"
    assert inside(result.series_ohm, 1e3)
    assert result.series_ohm is not None
    assert result.series_ohm.half_width() < 40.0


def test_a_load_plug_shows_the_output_of_a_buffer(tmp_path: Path) -> None:
    """With a second load the 100 Ω at the output are told, and AD - BC is 0."""
    analysis = examined(tmp_path, "salt-lantern", FULL, seed=7, check_cable=True)
    result = analysis.result
    assert result.path == "buffered"
    assert result.buffer is not None
    assert inside(result.buffer.output_ohm, 100.0)
    assert any(r.code == "determinant_active" for r in result.reasons)
