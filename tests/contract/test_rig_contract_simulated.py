"""The simulated rig does what every rig must."""

from __future__ import annotations

import pytest

from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Rig, RunRequest
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal
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
