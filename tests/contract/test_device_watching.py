"""`press` and `tap` as typed, on the audio server: prompts on the stream's own clock."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from pathlib import Path

import pytest

from loopback.cli.level_meter import LevelMeter
from loopback.cli.watching import Prompter
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.examination.wav import read_samples
from loopback.plan.runs import RunLabel
from loopback.rig.device import DeviceRig
from loopback.rig.protocol import Recorded, RunRequest
from loopback.signal.take import plan_signal
from loopback.signal.watch import MARK_S, Watch
from loopback.switching.recorded import footswitch_of, taps_of
from tests.contract.audio_server import AudioServer, faster, reachable
from tests.contract.device_runs import NOISE
from tests.contract.hands import impulse_response
from tests.reference.command_line import here

pytestmark = pytest.mark.needs("jackd", "lib:portaudio")

RATE = 48_000
BYPASS = RunLabel("pedal", "resistor", "on", "a", None, 100e3, 0.01)


@pytest.fixture(scope="module")
def server() -> Generator[AudioServer]:
    """Give a server with long periods: faster, and nothing here depends on them."""
    with AudioServer(RATE, period=4096) as running, reachable(running):
        yield running


@pytest.fixture
def bench(server: AudioServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of a pedal beside an interface whose hands plug the pedal in, in bypass."""
    original = DeviceRig.play

    def plugged(self: DeviceRig, request: RunRequest) -> Iterator[Recorded]:
        server.use_filter(impulse_response(request.label, "harbour-bell", "", RATE), tmp_path)
        return original(self, request)

    quick = faster(server)
    monkeypatch.setattr(DeviceRig, "play", plugged)
    monkeypatch.setattr(LevelMeter, "__call__", lambda _self, done, peak: quick(done, peak))
    monkeypatch.chdir(tmp_path)
    server.tell("noise", NOISE)
    setup = Setup("device", "pedal", 100e3, 0.01, full_scale_dbu=10.0)
    ExaminationFolder.create(tmp_path / "bell", Pedal("Bell"), setup, plan_signal(RATE, 1.0))
    return tmp_path


def test_presses_are_asked_for_on_the_stream(
    bench: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One prompt for each press, in order, rests between; both recordings whole; nobody pressed."""
    call = ["press", "bell", "--device", "pedal", "--presses", "6", "--tone-presses", "4"]
    ended = here([*call, "--rest", "2", "--yes"], capsys)
    assert (ended.status, ended.err) == (0, "")
    lines = [line.strip() for line in ended.out.splitlines()]
    beats = [line for line in lines if line.startswith(("press  ", "hands off"))]
    silent = ["hands off, 2 s", *(f"press  {n}/6" for n in range(1, 7))]
    assert [b for b in beats[:8] if not b.startswith("hands")] == silent[1:]
    assert [b for b in beats[8:] if not b.startswith("hands")] == [
        f"press  {n}/4" for n in range(1, 5)
    ]
    assert beats[0] == silent[0]
    assert "0 of 6 presses heard" in ended.out
    folder = ExaminationFolder.open(bench / "bell")
    (run,) = folder.document.runs
    assert [r.kind for r in run.recordings] == ["presses", "presses"]
    for recording in run.recordings:
        samples, rate = read_samples(folder.path_of(recording))
        assert isinstance(recording.watch, Watch)
        assert len(samples) / rate > recording.watch.seconds
    figures = footswitch_of(folder)
    assert figures is not None
    assert (figures.presses, figures.contacts) == ((), ())


def test_hands_that_move_a_joint_are_seen(
    server: AudioServer,
    bench: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """When the prompt comes the joint opens, and closes again: one drop-out, after the prompt."""
    said = Prompter.__call__
    closed = impulse_response(BYPASS, "harbour-bell", "", RATE)
    moments: list[float] = []

    def tapping(self: Prompter, done: float, peak: float) -> None:
        before = len(self._moments)
        said(self, done, peak)
        if len(self._moments) < before:
            moments.append(done)
            server.use_filter(0.01 * closed, bench)
        elif moments and len(moments) == 1:
            moments.append(done)
            server.use_filter(closed, bench)

    monkeypatch.setattr(Prompter, "__call__", tapping)
    monkeypatch.setattr(LevelMeter, "__call__", lambda _self, _done, _peak: None)  # in real time
    ended = here(["tap", "bell", "--device", "pedal", "--seconds", "3", "--yes"], capsys)
    assert (ended.status, ended.err) == (0, "")
    assert "tap and bend now, 3 s" in ended.out
    assert len(moments) == 2
    figures = taps_of(ExaminationFolder.open(bench / "bell"))
    assert figures is not None
    drops = [event for event in figures.events if event.drops_out]
    assert len(drops) == 1
    assert -MARK_S < drops[0].at_s < 2.0
