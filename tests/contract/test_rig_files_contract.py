"""The file rig does what every rig must."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from loopback.examination.signal_file import write_signal_file
from loopback.examination.wav import write_wav24
from loopback.plan.runs import RunLabel
from loopback.rig.files import FiledRun, FileRig
from loopback.rig.protocol import Rig, RunRequest
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal, render_take
from tests.contract.rig_contract import RigContract

SIGNAL = plan_signal(48_000, 1.0)
PEDAL = RunLabel(path="pedal", feed="resistor", power="on", position="a")
COUPLER = RunLabel(path="coupler", feed="plain")


class TestFolderOfNamedFiles(RigContract):
    """One file per take, as the simulator plays them, in a folder."""

    @pytest.fixture
    def rig(self, tmp_path: Path) -> Rig:
        """Return a rig on files recorded from the simulator."""
        played = simulated_rig("harbour-bell").play(RunRequest(PEDAL, SIGNAL, 2, 1.0))
        for number, recorded in enumerate(played, start=1):
            assert recorded.samples is not None
            what = "silence" if recorded.kind == "silence" else f"take{number}"
            path = tmp_path / f"pedal-on-a-resistor-{what}.wav"
            write_wav24(path, recorded.samples, recorded.rate_hz)
        return FileRig(tmp_path, SIGNAL)

    @pytest.fixture
    def asked(self) -> RunRequest:
        """The pedal through the resistor lead."""
        return RunRequest(PEDAL, SIGNAL, takes=2, silence_s=1.0)


class TestOneFileOfTwoTakes(RigContract):
    """The signal file itself, as a perfect lead would return it, with a handmade silence."""

    one_recording_per_take = False

    @pytest.fixture
    def rig(self, tmp_path: Path) -> Rig:
        """Return a rig on a file that holds both takes."""
        write_signal_file(tmp_path / "played.wav", SIGNAL)
        floor = np.random.default_rng(1).normal(0.0, 1e-5, 48_000)
        write_wav24(tmp_path / "nothing.wav", floor, 48_000)
        files = ((tmp_path / "played.wav",), (tmp_path / "nothing.wav",))
        return FileRig([FiledRun(COUPLER, *files)], SIGNAL, "a perfect lead")

    @pytest.fixture
    def asked(self) -> RunRequest:
        """A reference."""
        return RunRequest(COUPLER, SIGNAL, takes=2, silence_s=1.0)


def test_files_hold_what_was_played() -> None:
    """The signal that the second rig hands over is the one that is asked for."""
    assert np.max(np.abs(render_take(SIGNAL))) == pytest.approx(SIGNAL.amplitude, rel=1e-3)
