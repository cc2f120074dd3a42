"""On a real interface, named with ``--device``; output 1 is joined to input 1 by one lead.

Loudspeakers and headphones unplugged: the sweep is sudden. It is played at a low level here.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from loopback.quality.read_run import RunRead
from loopback.rig.device import DeviceRig
from loopback.rig.device_settings import DeviceSettings
from loopback.rig.protocol import Rig, RunRequest
from loopback.signal.take import plan_signal
from tests.contract.device_runs import COUPLER, kept
from tests.contract.rig_contract import RigContract

pytestmark = pytest.mark.hardware

SIGNAL = plan_signal(48_000, 1.0, level_dbfs=-30.0)


@pytest.fixture
def settings(request: pytest.FixtureRequest) -> DeviceSettings:
    """Choose the named interface, first sockets, nothing above -30 dBFS."""
    return DeviceSettings(request.config.getoption("--device"), ceiling_dbfs=-30.0)


class TestHardware(RigContract):
    """What every rig must do, the interface does."""

    @pytest.fixture
    def rig(self, settings: DeviceSettings) -> Rig:
        """Return the interface."""
        return DeviceRig(settings)

    @pytest.fixture
    def asked(self) -> RunRequest:
        """Two short takes and a short silence."""
        return RunRequest(COUPLER, SIGNAL, takes=2, silence_s=1.0)


def test_a_lead_gives_usable_takes(settings: DeviceSettings, tmp_path: Path) -> None:
    """Two takes through one lead are both usable; the examination stays in pytest's folder."""
    read: RunRead = kept(
        tmp_path / "hardware", DeviceRig(settings), RunRequest(COUPLER, SIGNAL, takes=2)
    )
    assert read.seen is not None, read.findings
    assert len(read.seen.takes) == 2
