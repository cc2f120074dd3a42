"""Sound that was lost on its way, on a real audio server: by flag where there is one, else by data.

What each fault does to flags and samples on such a server was measured before these tests were
written: a late callback is flagged whether or not samples were lost, a muted or slipped period is
not flagged at all.
"""

from __future__ import annotations

from collections.abc import Generator
from pathlib import Path

import numpy as np
import pytest

from loopback.examination.wav import read_samples
from loopback.rig.device import DeviceRig
from loopback.rig.device_settings import DeviceSettings
from loopback.signal.take import render_take
from tests.contract.audio_server import AudioServer, faster, late_once
from tests.contract.device_runs import NOISE, asked, kept

pytestmark = pytest.mark.needs("jackd", "lib:portaudio")

WITH_CHECK = DeviceSettings("pedal", check_input=2, check_output=2)
IN_UP_SWEEP, IN_DOWN_SWEEP = 45, 115
"""Periods of 1024 samples with sound, counted from the first check tone."""


@pytest.fixture
def pedal(server: AudioServer) -> Generator[AudioServer]:
    """Give the server with the noise of an ordinary interface in it, and no fault left behind."""
    server.tell("noise", NOISE)
    yield server
    server.tell("heal")
    server.tell("noise", 0)


def test_nothing_is_found_when_nothing_happens(pedal: AudioServer, tmp_path: Path) -> None:
    """A take without a fault has no finding and is used."""
    read = kept(tmp_path / "wire", DeviceRig(WITH_CHECK, faster(pedal)), asked())
    assert read.findings == ()
    assert read.seen is not None
    assert len(read.seen.takes) == 1


@pytest.mark.parametrize("settings", [WITH_CHECK, DeviceSettings("pedal")], ids=["check", "bare"])
@pytest.mark.parametrize("period", [IN_UP_SWEEP, IN_DOWN_SWEEP], ids=["up", "down"])
@pytest.mark.parametrize("fault", ["mute", "slip"])
def test_what_no_flag_tells_the_data_do(
    pedal: AudioServer, tmp_path: Path, fault: str, period: int, settings: DeviceSettings
) -> None:
    """A muted period or a slipped sample in one sweep of the first take is not flagged, is found,
    and only the other take is used."""
    pedal.tell(fault, period)
    read = kept(tmp_path / "faulty", DeviceRig(settings, faster(pedal)), asked(takes=2))
    assert all(recording.flags == () for recording in read.run.recordings)
    assert "01/1" in {finding.where for finding in read.findings if finding.grade == "refuse"}
    assert read.seen is not None
    assert [take.number for take in read.seen.takes] == [2]


def test_a_dropout_is_flagged_and_refused(
    losing_server: AudioServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the computer comes too late and a period is lost, both flag and data say so.

    The take after it is sound.
    """
    losing_server.tell("noise", NOISE)
    for attempt in range(5):
        with monkeypatch.context() as patch:
            late_once(patch, block=110, seconds=0.1)  # in the upward sweep of the first take
            read = kept(tmp_path / f"{attempt}", DeviceRig(WITH_CHECK), asked(takes=2))
        if not read.run.recordings[1].flags:
            break  # else this machine was too busy by itself
    flagged = read.run.recordings[0].flags
    assert any("overflow" in flag or "underflow" in flag for flag in flagged)
    assert "interrupted" in {finding.code for finding in read.findings}
    assert "01/1" in {finding.where for finding in read.findings if finding.grade == "refuse"}
    assert read.seen is not None
    assert [take.number for take in read.seen.takes] == [2]


def test_late_without_loss_is_told_and_used(pedal: AudioServer, tmp_path: Path) -> None:
    """On a server that waits, a late period is flagged, every sample is right, the take counts."""
    pedal.tell("late", IN_UP_SWEEP, 0.1)
    request = asked()
    read = kept(tmp_path / "late", DeviceRig(WITH_CHECK), request)
    assert {(finding.code, finding.grade) for finding in read.findings} == {("interrupted", "look")}
    assert read.seen is not None
    samples, _ = read_samples(tmp_path / "late" / read.run.recordings[0].file)
    played = render_take(request.signal)
    start = read.seen.takes[0].start
    heard = samples[start : start + played.size, 1]
    np.testing.assert_allclose(heard, played, atol=2.0**-23)  # one step of 24 bits
