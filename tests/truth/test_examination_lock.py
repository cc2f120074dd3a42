"""One writer at a time, and a lock that never outlives its process."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from loopback.errors import FolderError
from loopback.examination import writable as writable_module
from loopback.examination.folder import ExaminationFolder
from loopback.examination.lock import LOCK_NAME, writer_lock
from loopback.examination.records import Pedal, Setup
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded
from loopback.signal.take import plan_signal

ROOT = Path(__file__).parent.parent.parent
HOLDER = """
import sys
from pathlib import Path
from loopback.examination.lock import writer_lock
with writer_lock(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def holder(tmp_path: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that holds the lock of the folder until its input is closed."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(tmp_path)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "held\n"
        yield process
        process.kill()


def test_a_second_writer_is_told(tmp_path: Path, holder: subprocess.Popen[str]) -> None:
    """Found, meaning and action, after the time that one is willing to wait."""
    with (
        pytest.raises(FolderError, match="Another program has been writing") as caught,
        writer_lock(tmp_path, wait_s=0.05),
    ):
        pass
    assert "0.05 s" in caught.value.found
    assert caught.value.action


def test_the_lock_ends_with_its_process(tmp_path: Path, holder: subprocess.Popen[str]) -> None:
    """Killed, not closed: the next writer gets it at once; the file that stays means nothing."""
    holder.kill()
    holder.wait()
    with writer_lock(tmp_path, wait_s=0.0):
        assert (tmp_path / LOCK_NAME).exists()


def test_a_writer_waits_for_another(tmp_path: Path, holder: subprocess.Popen[str]) -> None:
    """When the other lets go in time, there is no complaint."""
    assert holder.stdin is not None
    holder.stdin.close()
    with writer_lock(tmp_path, wait_s=30.0):
        pass


def test_the_lock_is_given_back_after_an_error(tmp_path: Path) -> None:
    """Also within the same process."""
    with pytest.raises(ZeroDivisionError), writer_lock(tmp_path):
        raise ZeroDivisionError
    with (
        writer_lock(tmp_path, wait_s=0.0),
        pytest.raises(FolderError, match="Another program"),
        writer_lock(tmp_path, wait_s=0.0),
    ):
        pass


def test_appending_needs_the_lock_and_reading_does_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While another writes, an examination can be opened and hashed, not extended."""
    folder = ExaminationFolder.create(
        tmp_path / "x", Pedal("x"), Setup("files"), plan_signal(48_000, 1.0)
    )
    recorded = Recorded("sweep", 48_000, np.zeros((10, 1)))
    _, recording = folder.append_run_with(RunLabel("coupler", "plain"), recorded)
    monkeypatch.setattr(writable_module, "writer_lock", lambda root: writer_lock(root, 0.0))
    with writer_lock(folder.path):
        again = ExaminationFolder.open(folder.path)
        assert again.check_hash(recording)
        for act in (
            lambda: again.append_run(RunLabel("coupler", "plain")),
            lambda: again.append_recording("01", recorded),
            lambda: again.copy_run_from(folder, "01"),
            lambda: again.describe({"serial": "0042"}),
        ):
            with pytest.raises(FolderError, match="Only one may write at a time"):
                act()
    assert ExaminationFolder.open(folder.path).document == folder.document


def test_a_folder_that_is_not_there_cannot_be_locked(tmp_path: Path) -> None:
    """The system's reason is passed on."""
    with (
        pytest.raises(FolderError, match="No such file or directory"),
        writer_lock(tmp_path / "none"),
    ):
        pass


def test_a_file_system_without_locks_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Then two writers could harm each other, so there is none."""

    def refuse(_file: object) -> bool:
        raise OSError(37, "No locks available")

    monkeypatch.setattr("loopback.examination.lock._try_lock", refuse)
    with pytest.raises(FolderError, match=r"No locks available.*local disk"), writer_lock(tmp_path):
        pass
