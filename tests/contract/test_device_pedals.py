"""A pedal through the real server, run by run with hands between them, ends in the right result."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from loopback.analysis import Analysis, analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.guided.plan_runner import play_plan
from loopback.plan.plans import PLANS, Plan, PlanStep, TableFacts
from loopback.signal.take import plan_signal
from tests.contract.audio_server import AudioServer, reachable
from tests.contract.hands import COUPLER_STAYS, HandsRig

pytestmark = pytest.mark.needs("jackd", "lib:portaudio")


@pytest.fixture(scope="module")
def server() -> Generator[AudioServer]:
    """Give a server with long periods: faster, and nothing here depends on them."""
    with AudioServer(48_000, period=4096) as running, reachable(running):
        yield running


def _eight_runs() -> Plan:
    """The quick plan, unpowered in the position found first, and the plain lead; no silences."""
    before, found, pressed, unpowered, after = PLANS["quick"].steps
    as_found = msgspec.structs.replace(unpowered.label, position="a")
    plain_before, _, plain, plain_after = PLANS["standard"].steps[6:]
    steps: tuple[PlanStep, ...] = (
        *(before, found, pressed, replace(unpowered, label=as_found), after),
        *(plain_before, plain, plain_after),
    )
    return replace(PLANS["standard"], steps=tuple(replace(step, silence_s=0.0) for step in steps))


def _examined(server: AudioServer, pedal: str, folder: Path) -> Analysis:
    rig = HandsRig(server, pedal, folder)
    facts = TableFacts(resistor_ohm=100e3, resistor_tolerance=0.01)
    setup = Setup("device", rig.facts().name, 100e3, 0.01)
    signal = plan_signal(server.rate_hz, 1.0)
    examination = ExaminationFolder.create(folder / "pedal", Pedal(pedal), setup, signal)
    play_plan(examination, rig, _eight_runs(), facts)
    return analyse(folder / "pedal")


def test_true_bypass(server: AudioServer, tmp_path: Path) -> None:
    """Wire with two jacks of 6 pF each reads wired, and 12 pF within its interval."""
    result = _examined(server, "harbour-bell", tmp_path).result
    assert (result.path, result.power) == ("wired", "bypass_position")
    assert result.grades == ("wire-like",)
    assert result.shunt is not None
    low, high = result.shunt.c_farad.interval()
    assert low < 12e-12 < high
    assert high - low < 6e-12


def test_loaded(server: AudioServer, tmp_path: Path) -> None:
    """One resistor of 1 MΩ left on the line reads loaded, and 1 µS within its interval."""
    result = _examined(server, "quarry-lamp", tmp_path).result
    assert (result.path, result.power) == ("loaded", "bypass_position")
    assert result.shunt is not None
    low, high = result.shunt.g_siemens.interval()
    assert low < 1e-6 < high
    assert high - low < 0.5e-6


def test_buffered(server: AudioServer, tmp_path: Path) -> None:
    """A stage that takes the return lead off the source and needs power reads buffered."""
    result = _examined(server, "salt-lantern", tmp_path).result
    assert (result.path, result.power) == ("buffered", "never")
    assert result.grades == ()


def test_coupler_left_in(server: AudioServer, tmp_path: Path) -> None:
    """Where nobody ever changed the leads no pedal is proven, whatever the labels say."""
    result = _examined(server, COUPLER_STAYS, tmp_path).result
    assert result.path == "none"
