"""A healthy pedal has no wiring fault, whatever kind of bypass it has."""

from __future__ import annotations

from pathlib import Path

import pytest

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.pedal import load_pedal, pedal_names
from loopback.simulate.scenario import Scenario
from tests.property.test_quality_false_alarms import RUNS
from tests.reference.damaged_examinations import SIGNAL
from tests.reference.fault_table import CASES, examine

HEALTHY = tuple(
    name
    for name in pedal_names()
    if load_pedal(name).family != "wiring fault"
    and name not in {case.pedal for case in CASES if not case.sheet}
)


def test_every_family_is_among_them() -> None:
    """Wire, loads, stages, converters, transformer, boxes and mutes: all but broken pedals."""
    assert len(HEALTHY) >= 24
    assert {"slow-canal", "iron-bridge", "far-shore", "still-pond", "garden-tap"} <= set(HEALTHY)


@pytest.mark.parametrize("pedal", HEALTHY)
def test_no_healthy_pedal_has_a_fault(tmp_path: Path, pedal: str) -> None:
    """The standard plan, everything imperfect on."""
    seed = 11 + HEALTHY.index(pedal)
    assert examine(tmp_path, pedal, seed=seed).faults == ()


def sitting(place: Path, scenario: Scenario, labels: tuple[RunLabel, ...]) -> Path:
    """Play some runs into a folder."""
    rig = SimulatedRig(scenario)
    facts = rig.facts()
    setup = Setup("simulator", resistor_ohm=100e3, resistor_tolerance=0.01)
    folder = ExaminationFolder.create(place / "pedal", Pedal("pedal"), setup, SIGNAL)
    for label in labels:
        run_id = folder.append_run(label)
        for recorded in rig.play(RunRequest(label, SIGNAL, 2)):
            folder.append_recording(run_id, recorded, "", facts.path_channel, facts.check_channel)
    return folder.path


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("pedal", ["harbour-bell", "quarry-lamp"])
def test_clean_sitting_has_no_fault(tmp_path: Path, pedal: str, seed: int) -> None:
    """The sittings of the gates, with check cable and without."""
    path = sitting(tmp_path, Scenario(pedal, seed=seed, check_cable=bool(seed % 2)), RUNS)
    assert analyse(path).faults == ()


def test_hum_of_the_whole_table_is_no_fault_of_the_pedal(tmp_path: Path) -> None:
    """Hum at -60 dBFS with cable and pedal alike says nothing about a screen inside."""
    loud = InterfaceModel(hum_dbfs=(-60.0, -75.0, -65.0, -80.0, -70.0))
    path = sitting(tmp_path, Scenario("quarry-lamp", seed=3, interface=loud), RUNS)
    assert analyse(path).faults == ()
