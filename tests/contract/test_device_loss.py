"""The server gone, or samples converted on their way: in processes of their own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Generator
from pathlib import Path

import pytest

from loopback.examination.folder import ExaminationFolder
from loopback.quality.read_run import RunRead, read_run
from tests.contract.audio_server import AudioServer
from tests.contract.device_runs import NOISE

pytestmark = pytest.mark.needs("jackd", "lib:portaudio")

ROOT = Path(__file__).parent.parent.parent

ALSA_CONFIG = """
<confdir:alsa.conf>
defaults.pcm.rate_converter "samplerate"
pcm.jk {
    type jack
    playback_ports { 0 pedal:in_1  1 pedal:in_2 }
    capture_ports { 0 pedal:out_1  1 pedal:out_2 }
}
pcm.resampled {
    type plug
    slave { pcm jk rate 48000 format FLOAT }
    hint { show on description "a path that converts unseen" }
}
"""


@pytest.fixture
def fresh() -> Generator[AudioServer]:
    """Give a server that a test may kill."""
    with AudioServer(48_000) as running:
        running.tell("noise", NOISE)
        yield running


def _play(server: AudioServer, *arguments: object, **environment: str) -> subprocess.Popen[str]:
    code = f"import sys; sys.path.insert(0, {str(ROOT)!r})\n"
    code += "import runpy; runpy.run_module('tests.contract.play_process', run_name='__main__')"
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=server.environment | environment,
    )


def test_server_killed_in_mid_take(fresh: AudioServer, tmp_path: Path) -> None:
    """The program ends by itself with one clear error; runs before are whole, the take is kept."""
    folder = tmp_path / "wire"
    playing = _play(fresh, folder, "pedal", 48_000, 2)
    assert playing.stdout is not None
    runs = 0
    for line in playing.stdout:  # a busy machine may add flags to the line
        runs += line.startswith("kept")
        if (runs == 1 and line.startswith("at 0.4")) or line.startswith("done"):
            fresh.kill()
            break
    said, complaints = playing.communicate(timeout=30)
    assert playing.returncode == 1
    assert "InterruptedTakeError The sound stopped" in said
    assert "Traceback" not in complaints
    examination = ExaminationFolder.open(folder)
    assert examination.missing == ()
    first, second = examination.document.runs
    assert all(examination.check_hash(r) for run in (first, second) for r in run.recordings)
    assert len(read_run(examination, first).seen.takes) == 1
    (partial,) = second.recordings
    assert any(flag.startswith("sound stopped at") for flag in partial.flags)
    assert 48_000 < partial.frames < first.recordings[0].frames
    assert read_run(examination, second).seen is None


def test_server_gone_before_the_run(fresh: AudioServer, tmp_path: Path) -> None:
    """Without a server there is no such interface, and the error says so at once."""
    fresh.kill()
    playing = _play(fresh, tmp_path / "wire", "pedal", 48_000, 1)
    said, _ = playing.communicate(timeout=30)
    assert playing.returncode == 1
    assert said.startswith("RigError No ")


def test_server_gone_after_the_run(fresh: AudioServer, tmp_path: Path) -> None:
    """A server that goes once all is recorded does no harm: the program ends as it should."""
    playing = _play(fresh, tmp_path / "wire", "pedal", 48_000, 1)
    assert playing.stdout is not None
    assert any(line == "done\n" for line in playing.stdout)
    fresh.kill()
    _, complaints = playing.communicate(timeout=30)
    assert playing.returncode == 0, complaints


@pytest.mark.needs("alsa:jack")
@pytest.mark.parametrize("rate_hz", [48_000, 96_000])
def test_a_path_that_resamples_is_seen(tmp_path: Path, rate_hz: int) -> None:
    """A stream at twice the server's rate opens without a word; the recording shows it.

    At the server's own rate the same path is exact and nothing of the kind is found.
    """
    config = tmp_path / "alsa.conf"
    config.write_text(ALSA_CONFIG, encoding="utf-8")
    read = _undisturbed(tmp_path, rate_hz, str(config))
    found = {finding.code for finding in read.findings}
    assert ("resampled" in found) == (rate_hz != 48_000), read.findings


def _undisturbed(place: Path, rate_hz: int, config: str) -> RunRead:
    """One run through the converting path; again where sound was lost, as the tool asks for.

    This chain of three programs loses sound now and then on a busy machine.
    """
    for attempt in range(5):
        folder = place / f"wire{attempt}"
        with AudioServer(48_000) as server:
            server.tell("noise", NOISE)
            playing = _play(server, folder, "resampled", rate_hz, 1, ALSA_CONFIG_PATH=config)
            said, complaints = playing.communicate(timeout=60)
        assert playing.returncode == 0, said + complaints
        examination = ExaminationFolder.open(folder)
        (run,) = examination.document.runs
        read = read_run(examination, run)
        if not {"interrupted", "samples_lost"} & {finding.code for finding in read.findings}:
            return read
    raise AssertionError("sound was lost five times in a row")
