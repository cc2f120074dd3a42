"""A writer killed at any instant: each recording is complete or absent, the earlier ones as before.

The killing needs a system with processes that fork; Windows has none.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from loopback.examination.atomic import PARTIAL_SUFFIX, sha256_of
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.examination.wav import read_header, write_wav24
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded
from loopback.signal.take import plan_signal

ROOT = Path(__file__).parent.parent.parent
KILLS = 50
LONGEST_S = 0.12


def new_examination(path: Path) -> ExaminationFolder:
    """An examination without runs."""
    return ExaminationFolder.create(
        path, Pedal("Quarry Lamp"), Setup("simulator"), plan_signal(48_000, 1.0)
    )


def kill_after(process: int, seconds: float) -> None:
    """Kill a process after a time, as surely as pulling the plug."""
    timer = threading.Timer(seconds, os.kill, (process, signal.SIGKILL))
    timer.start()
    timer.join()


def listed_files(folder: ExaminationFolder) -> dict[str, str]:
    """Every listed recording with its hash."""
    return {recording.file: recording.sha256 for recording in folder.document.recordings()}


if sys.platform != "win32":

    @pytest.fixture
    def writers(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
        """Start the process that forks writers."""
        folder = new_examination(tmp_path / "Quarry Lämp")
        folder.append_run_with(
            RunLabel("coupler", "resistor"), Recorded("sweep", 48_000, np.full((900, 2), 0.25))
        )
        lender = new_examination(tmp_path / "lender")
        for value in (0.1, 0.2):
            recorded = Recorded("sweep", 48_000, np.full((5_000, 2), value))
            if not lender.document.runs:
                lender.append_run_with(RunLabel("coupler", "resistor"), recorded)
            else:
                lender.append_recording("01", recorded)
        write_wav24(tmp_path / "imported.wav", np.full((8_000, 1), 0.5), 48_000)
        command = [sys.executable, "-m", "tests.recover.killed_writer"]
        command += [str(folder.path), str(tmp_path / "imported.wav"), str(lender.path)]
        with subprocess.Popen(
            command, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        ) as process:
            yield process
            assert process.stdin is not None
            process.stdin.close()

    def test_killed_at_fifty_moments(tmp_path: Path, writers: subprocess.Popen[str]) -> None:
        """After each kill: the folder opens, everything listed is there with its hash, everything
        that was acknowledged is listed, every earlier file is the same, strays are complete."""
        assert writers.stdin is not None
        assert writers.stdout is not None
        root = tmp_path / "Quarry Lämp"
        delays_s = np.random.default_rng(20).uniform(0.0, LONGEST_S, KILLS)
        known = listed_files(ExaminationFolder.open(root))
        caught_half_way = 0
        for number, delay_s in enumerate(delays_s):
            print(number, file=writers.stdin, flush=True)
            child = int(writers.stdout.readline().split()[1])
            assert writers.stdout.readline() == "ready\n"
            kill_after(child, delay_s)
            acknowledged = {}
            while (line := writers.stdout.readline()) != "gone\n":
                if line.endswith("\n") and len(line.split()) == 2:
                    file, sha256 = line.split()
                    acknowledged[file] = sha256

            folder = ExaminationFolder.open(root)
            listed = listed_files(folder)
            assert folder.missing == ()
            for recording in folder.document.recordings():
                assert folder.check_hash(recording), recording.file
            assert known.items() <= listed.items()
            assert acknowledged.items() <= listed.items()
            for stray in folder.strays:
                header = read_header(root / stray)
                assert header.frames == header.declared_frames
            known = listed
            partial = [p for p in root.rglob(f".*{PARTIAL_SUFFIX}") if p.is_file()]
            caught_half_way = max(caught_half_way, len(partial) + len(folder.strays))

        assert caught_half_way >= 5, "the kills came when nothing was being written"
        assert len(known) >= 20
        last = ExaminationFolder.open(root)
        run_id, recording = last.append_run_with(
            RunLabel("coupler", "plain"), Recorded("sweep", 48_000, np.zeros((10, 1)))
        )
        assert last.check_hash(recording), run_id
        assert sha256_of(root / "recordings" / "01-1.wav") == known["recordings/01-1.wav"]
