"""The simulated rig does what every rig must."""

from __future__ import annotations

from dataclasses import replace

import pytest

from loopback.errors import ArgumentError, RigError
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Rig, RunRequest
from loopback.rig.simulated import SimulatedRig, WiggledRig, simulated_part, simulated_rig
from loopback.signal.take import plan_signal
from loopback.simulate.parts import loose_part
from loopback.simulate.scenario import Scenario
from tests.contract.rig_contract import RigContract


class TestSimulatedRig(RigContract):
    """With a pedal, through the resistor lead."""

    @pytest.fixture
    def rig(self) -> Rig:
        """Return an ordinary setup with check cable."""
        return simulated_rig("harbour-bell", check_cable=True)

    @pytest.fixture
    def asked(self) -> RunRequest:
        """Two short takes and a short silence."""
        label = RunLabel(path="pedal", feed="resistor", power="on", position="a")
        return RunRequest(label, plan_signal(48_000, 1.0), takes=2, silence_s=1.0)


class TestSimulatedRigPlain(RigContract):
    """A reference run without check cable, at another rate."""

    @pytest.fixture
    def rig(self) -> Rig:
        """Return an ordinary setup without check cable."""
        return simulated_rig("harbour-bell", seed=7)

    @pytest.fixture
    def asked(self) -> RunRequest:
        """Two short takes and a short silence."""
        label = RunLabel(path="coupler", feed="plain")
        return RunRequest(label, plan_signal(44_100, 1.0), takes=2, silence_s=1.0)


class TestWiggledRig(RigContract):
    """A loose part that comes and goes."""

    @pytest.fixture
    def rig(self) -> Rig:
        """Return an ordinary setup without check cable."""
        return simulated_part("wiggle", seed=3)

    @pytest.fixture
    def asked(self) -> RunRequest:
        """Two short takes and a short silence."""
        label = RunLabel(path="pedal", feed="resistor")
        return RunRequest(label, plan_signal(48_000, 1.0), takes=2, silence_s=1.0)


@pytest.mark.parametrize("kind", [SimulatedRig, WiggledRig])
def test_what_cannot_be_played_is_refused_before_the_first_take(kind: type[SimulatedRig]) -> None:
    """A wrong rate or number is an error of `play` itself, not of the first recording."""
    rig = kind(Scenario(loose_part("wiggle"), rate_hz=48_000))
    label = RunLabel(path="pedal", feed="resistor")
    fine = RunRequest(label, plan_signal(48_000, 1.0), takes=1, silence_s=0.0)
    with pytest.raises(RigError, match="runs at 48000 Hz"):
        rig.play(replace(fine, signal=plan_signal(96_000, 1.0)))
    for wrong in (replace(fine, takes=-1), replace(fine, silence_s=-1.0)):
        with pytest.raises(ArgumentError, match="were asked for"):
            rig.play(wrong)
