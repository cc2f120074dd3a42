"""The device rig does what every rig must, on a real audio server with a pedal in its path."""

from __future__ import annotations

import pytest

from loopback.plan.runs import RunLabel
from loopback.rig.device import DeviceRig
from loopback.rig.device_settings import DeviceSettings
from loopback.rig.protocol import Rig, RunRequest
from loopback.signal.take import plan_signal
from tests.contract.audio_server import AudioServer, faster
from tests.contract.rig_contract import RigContract

pytestmark = pytest.mark.needs("jackd", "lib:portaudio")
LABEL = RunLabel(path="coupler", feed="plain")


class TestDeviceRig(RigContract):
    """With a check cable, at 48 kHz."""

    @pytest.fixture
    def rig(self, server: AudioServer) -> Rig:
        """Return the server's pedal with both pairs of sockets."""
        settings = DeviceSettings("pedal", check_output=2, check_input=2)
        return DeviceRig(settings, faster(server))

    @pytest.fixture
    def asked(self) -> RunRequest:
        """Two short takes and a short silence."""
        return RunRequest(LABEL, plan_signal(48_000, 1.0), takes=2, silence_s=1.0)

    def test_recordings_are_handed_over_one_by_one(
        self, server: AudioServer, asked: RunRequest
    ) -> None:
        """The first take can be used before the rest has been played, and the rest left out."""
        played: list[float] = []
        settings = DeviceSettings("pedal", check_output=2, check_input=2)
        recordings = DeviceRig(settings, lambda done, _peak: played.append(done)).play(asked)
        assert next(recordings).kind == "sweep"
        assert 0.4 < played[-1] < 0.6
        recordings.close()  # in mid stream, as Ctrl-C does
        settings_again = DeviceSettings("pedal")
        again = DeviceRig(settings_again, faster(server)).play(asked)
        assert [recorded.kind for recorded in again] == ["sweep", "sweep", "silence"]


class TestDeviceRigFast(RigContract):
    """Without a check cable, at 96 kHz."""

    @pytest.fixture
    def rig(self, server_96k: AudioServer) -> Rig:
        """Return the server's pedal with one pair of sockets."""
        return DeviceRig(DeviceSettings("pedal"), faster(server_96k))

    @pytest.fixture
    def asked(self) -> RunRequest:
        """Two short takes and a short silence."""
        return RunRequest(LABEL, plan_signal(96_000, 1.0), takes=2, silence_s=1.0)
