"""The folder of an examination: what is written, what is refused, and that nothing is lost."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import tracemalloc
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from loopback.errors import ArgumentError, DocumentError, FolderError, RecordingError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Recording, Setup
from loopback.examination.signal_file import read_sheet
from loopback.examination.stored import StoredExamination
from loopback.examination.wav import read_samples, write_wav24
from loopback.plan.runs import RunLabel
from loopback.quality.presence import judge_same_file
from loopback.rig.protocol import Recorded
from loopback.signal.take import Signal, plan_signal, render_take

SIGNAL = plan_signal(48_000, 1.0)
COUPLER = RunLabel("coupler", "resistor", resistor_ohm=99_600.0, resistor_tolerance=0.005)
NUMPY_RATE: Any = np.int64(48_000)
PEDAL = RunLabel("pedal", "plain", "off", "b", "dark")


def noise(frames: int = 400, channels: int = 2, seed: int = 1) -> NDArray[np.float64]:
    """Uniform noise on the 24-bit grid."""
    steps = np.random.default_rng(seed).integers(-(2**22), 2**22, (frames, channels))
    return steps / 2.0**23


def taken(seed: int = 1, frames: int = 400) -> Recorded:
    """A recording as a rig hands it over."""
    return Recorded("sweep", 48_000, noise(frames, seed=seed), None, 24_000, ("overflow",))


def snapshot(root: Path) -> dict[str, str]:
    """Name and hash of every file below a folder."""
    return {
        str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(root.rglob("*"))
        if path.is_file() and path.name != ".writer.lock"
    }


@pytest.fixture
def folder(tmp_path: Path) -> ExaminationFolder:
    """An examination without runs, in a folder with a space and an accent."""
    return ExaminationFolder.create(
        tmp_path / "Quarry Lämp", Pedal("Quarry Lamp"), Setup("simulator"), SIGNAL, "21 °C"
    )


def test_a_new_examination_holds_document_signal_and_an_empty_folder(
    folder: ExaminationFolder,
) -> None:
    """Exactly the files that were promised; the signal can be played and read back."""
    names = sorted(path.name for path in folder.path.iterdir() if not path.name.startswith("."))
    assert names == ["examination.json", "recordings", "signal.json", "signal.wav"]
    document = json.loads((folder.path / "examination.json").read_text(encoding="utf-8"))
    assert document["format"] == "loopback-examination"
    assert document["version"] == 1
    assert document["conditions"] == "21 °C"
    assert document["signal"] == msgspec.to_builtins(SIGNAL)
    assert datetime.fromisoformat(document["created"]).tzinfo is not None
    assert read_sheet(folder.path / "signal.wav").signal == SIGNAL
    samples, _ = read_samples(folder.path / "signal.wav")
    np.testing.assert_allclose(samples[:, 0], np.tile(render_take(SIGNAL), 2), atol=2.0**-24)


def test_recordings_are_listed_as_they_are_on_the_disk(folder: ExaminationFolder) -> None:
    """File, hash, shape, flags and channels; samples to the last bit."""
    run_id = folder.append_run(COUPLER)
    recording = folder.append_recording(run_id, taken(), path_channel=0, check_channel=1)
    assert run_id == "01"
    assert recording.file == "recordings/01-1.wav"
    path = folder.path_of(recording)
    assert recording.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (recording.rate_hz, recording.channels, recording.frames) == (48_000, 2, 400)
    assert (recording.path_channel, recording.check_channel) == (0, 1)
    assert (recording.expected_start, recording.flags) == (24_000, ("overflow",))
    assert (recording.kind, recording.origin) == ("sweep", "")
    np.testing.assert_array_equal(read_samples(path)[0], noise())
    assert folder.check_hash(recording)


def test_opening_gives_back_the_same_document(folder: ExaminationFolder) -> None:
    """Runs and recordings keep their order; a second opening equals what was written."""
    for label in (COUPLER, PEDAL, COUPLER):
        run_id = folder.append_run(label)
        folder.append_recording(run_id, taken(1))
        folder.append_recording(run_id, taken(2))
    again = ExaminationFolder.open(folder.path)
    assert again.document == folder.document
    assert StoredExamination.open(folder.path).document == folder.document
    assert [run.id for run in again.document.runs] == ["01", "02", "03"]
    assert [run.label for run in again.document.runs] == [COUPLER, PEDAL, COUPLER]
    assert [r.file for r in again.document.run("02").recordings] == [
        "recordings/02-1.wav",
        "recordings/02-2.wav",
    ]
    assert again.strays == again.missing == ()


def test_appending_leaves_everything_before_as_it_was(folder: ExaminationFolder) -> None:
    """Only the document changes, and of it only the list of runs grows."""
    folder.append_run_with(COUPLER, taken(1))
    before = snapshot(folder.path)
    runs_before = folder.document.runs
    folder.append_run_with(PEDAL, taken(2))
    after = snapshot(folder.path)
    changed = {name for name in before if after[name] != before[name]}
    assert changed == {"examination.json"}
    assert set(after) - set(before) == {str(Path("recordings/02-1.wav"))}
    assert folder.document.runs[: len(runs_before)] == runs_before


def test_a_repeated_run_keeps_the_earlier_one(folder: ExaminationFolder) -> None:
    """The analysis counts the later, the folder has both; nobody repeats a run twice."""
    first, _ = folder.append_run_with(COUPLER, taken(1))
    second, _ = folder.append_run_with(COUPLER, taken(2), repeats=first)
    assert [run.id for run in folder.document.counting_runs()] == [second]
    assert len(folder.document.runs) == 2
    with pytest.raises(ArgumentError, match="repeated already"):
        folder.append_run(COUPLER, repeats=first)
    with pytest.raises(ArgumentError, match="no earlier run"):
        folder.append_run(COUPLER, repeats="77")
    with pytest.raises(ArgumentError, match='There is no run "77"'):
        folder.append_recording("77", taken())


@pytest.mark.parametrize(
    ("container", "name"), [("FLAC", "a.flac"), ("AIFF", "a.AIF"), ("WAV", "a")]
)
def test_an_imported_file_is_kept_byte_for_byte(
    folder: ExaminationFolder, tmp_path: Path, container: str, name: str
) -> None:
    """Under an ending that fits its contents; name, time of change and hash are the file's."""
    source = tmp_path / name
    soundfile.write(source, noise(300), 44_100, subtype="PCM_24", format=container)
    os.utime(source, (1_700_000_000, 1_700_000_000))
    data = source.read_bytes()
    run_id, recording = folder.append_run_with(COUPLER, Recorded("sweep", 96_000, None, source))
    kept = folder.path_of(recording)
    assert kept.read_bytes() == data == source.read_bytes()
    assert kept.suffix == {"FLAC": ".flac", "AIFF": ".aiff", "WAV": ".wav"}[container]
    assert (recording.origin, recording.rate_hz, recording.frames) == (name, 44_100, 300)
    assert datetime.fromisoformat(recording.made).timestamp() == 1_700_000_000
    assert run_id == "01"


def test_a_file_that_cannot_be_read_adds_nothing(folder: ExaminationFolder, tmp_path: Path) -> None:
    """No run, no file, no trace."""
    (tmp_path / "a.wav").write_bytes(b"RIFF....")
    before = snapshot(folder.path)
    with pytest.raises(RecordingError, match="not a sound file"):
        folder.append_run_with(COUPLER, Recorded("sweep", 48_000, None, tmp_path / "a.wav"))
    assert snapshot(folder.path) == before
    assert folder.document.runs == ()


@pytest.mark.parametrize(
    ("recorded", "channel", "words"),
    [
        (Recorded("sweep", 48_000, noise()), 2, "Channel 2 of 2"),
        (Recorded("sweep", 48_000, noise()), -1, "Channel -1 of 2"),
        (Recorded("sweep", 48_000, np.array([[np.nan]])), None, "1 samples are not finite"),
        (Recorded("sweep", 0, noise()), None, "0 is too small"),
        (Recorded("sweep", 48_000, noise(), None, -5), None, "-5 is too small"),
        (Recorded("sweep", 48_000, None), None, "either samples or a file"),
        (Recorded("sweep", 48_000, noise(), Path("a.wav")), None, "either samples or a file"),
        (Recorded("sweep", NUMPY_RATE, noise()), None, r"numpy\.int64"),
        (Recorded("sweep", 48_000, noise(), None, None, ("\ud800",)), None, "is not valid"),
    ],
)
def test_what_cannot_be_listed_leaves_no_stray(
    folder: ExaminationFolder, recorded: Recorded, channel: int | None, words: str
) -> None:
    """Everything is checked before a file gets its name."""
    folder.append_run(COUPLER)
    before = snapshot(folder.path)
    with pytest.raises(ArgumentError, match=words):
        folder.append_recording("01", recorded, path_channel=channel)
    assert snapshot(folder.path) == before
    assert ExaminationFolder.open(folder.path).strays == ()


def test_an_examination_is_never_made_over_another(folder: ExaminationFolder) -> None:
    """Neither over a whole one nor over a damaged one."""
    for damage in (None, b"{", b""):
        if damage is not None:
            (folder.path / "examination.json").write_bytes(damage)
        before = snapshot(folder.path)
        with pytest.raises(FolderError, match="already holds an examination"):
            ExaminationFolder.create(folder.path, Pedal("x"), Setup("files"), SIGNAL)
        assert snapshot(folder.path) == before


def test_other_files_in_the_folder_stay(tmp_path: Path) -> None:
    """Somebody's own recordings may lie where the examination is made."""
    (tmp_path / "my-take.wav").write_bytes(b"mine")
    folder = ExaminationFolder.create(tmp_path, Pedal("x"), Setup("files"), SIGNAL)
    folder.append_run_with(COUPLER, taken())
    assert (tmp_path / "my-take.wav").read_bytes() == b"mine"
    assert folder.strays == ()


@pytest.mark.parametrize("name", ["signal.wav", "signal.json"])
def test_a_foreign_signal_file_is_not_overwritten(tmp_path: Path, name: str) -> None:
    """Something else of that name stops the making of an examination, and stays."""
    (tmp_path / name).write_bytes(b"mine")
    with pytest.raises(FolderError, match=f"{name}.* is not the signal of this examination"):
        ExaminationFolder.create(tmp_path, Pedal("x"), Setup("files"), SIGNAL)
    assert (tmp_path / name).read_bytes() == b"mine"


@pytest.mark.parametrize("left", [(), ("signal.wav",), ("signal.wav", "signal.json")])
def test_an_interrupted_beginning_can_be_taken_up(
    folder: ExaminationFolder, left: tuple[str, ...]
) -> None:
    """Killed before the document was there: the same signal is accepted, another is not."""
    for path in folder.path.glob("*.*"):
        if path.is_file() and path.name not in left:
            path.unlink()
    if left:
        with pytest.raises(FolderError, match="not the signal of this examination"):
            ExaminationFolder.create(
                folder.path, Pedal("x"), Setup("files"), plan_signal(48_000, 2.0)
            )
    again = ExaminationFolder.create(folder.path, Pedal("x"), Setup("files"), SIGNAL)
    assert ExaminationFolder.open(folder.path).document == again.document
    assert read_sheet(again.path / "signal.wav").signal == SIGNAL


def test_leftover_partial_files_are_ignored_and_strays_reported(folder: ExaminationFolder) -> None:
    """A complete file that no run lists is named, never overwritten, never counted."""
    folder.append_run_with(COUPLER, taken(1))
    partial = folder.path / "recordings" / ".01-2.wav.0badcafe.partial"
    partial.write_bytes(b"half")
    write_wav24(folder.path / "recordings" / "01-2.wav", noise(), 48_000)
    stray = (folder.path / "recordings" / "01-2.wav").read_bytes()
    again = ExaminationFolder.open(folder.path)
    assert again.strays == ("recordings/01-2.wav",)
    recording = again.append_recording("01", taken(2))
    assert recording.file == "recordings/01-3.wav"
    assert (folder.path / "recordings" / "01-2.wav").read_bytes() == stray
    assert partial.read_bytes() == b"half"


def test_changed_and_missing_recordings_are_noticed(folder: ExaminationFolder) -> None:
    """One flipped bit changes the hash; a file that is gone is listed as missing."""
    _, first = folder.append_run_with(COUPLER, taken(1))
    _, second = folder.append_run_with(PEDAL, taken(2))
    data = bytearray(folder.path_of(first).read_bytes())
    data[-1] ^= 1
    folder.path_of(first).write_bytes(data)
    folder.path_of(second).unlink()
    again = ExaminationFolder.open(folder.path)
    assert not again.check_hash(first)
    assert not again.check_hash(second)
    assert again.missing == (second.file,)


def test_identical_files_are_kept_and_told_by_their_hash(folder: ExaminationFolder) -> None:
    """The same bytes twice: two recordings with one hash, which a gate finds."""
    for seed in (1, 2, 1):
        folder.append_run_with(COUPLER, taken(seed))
    assert len(folder.document.recordings()) == 3
    first, second, third = (r.sha256 for r in folder.document.recordings())
    assert first == third != second
    (found,) = judge_same_file(folder.document.runs)
    assert (found.code, found.where) == ("same_file", "01 03")


def test_relative_paths_survive_a_change_of_the_working_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder named relatively is found again later."""
    monkeypatch.chdir(tmp_path)
    folder = ExaminationFolder.create(Path("a b/é"), Pedal("x"), Setup("files"), SIGNAL)
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")
    _, recording = folder.append_run_with(COUPLER, taken())
    assert folder.path_of(recording).is_file()
    assert folder.path == tmp_path / "a b" / "é"


def test_two_open_folders_do_not_undo_each_others_work(folder: ExaminationFolder) -> None:
    """Each reads the document again before it writes."""
    other = ExaminationFolder.open(folder.path)
    folder.append_run_with(COUPLER, taken(1))
    run_id, _ = other.append_run_with(PEDAL, taken(2))
    folder.append_recording(run_id, taken(3))
    document = ExaminationFolder.open(folder.path).document
    assert [len(run.recordings) for run in document.runs] == [1, 2]
    assert folder.document == document


def test_what_is_no_examination_is_said(tmp_path: Path) -> None:
    """A missing folder, an empty one, a file."""
    (tmp_path / "file").write_bytes(b"")
    for path in (tmp_path / "none", tmp_path, tmp_path / "file"):
        with pytest.raises(FolderError, match=r"holds no examination\.json"):
            ExaminationFolder.open(path)


def test_a_damaged_document_is_left_alone(folder: ExaminationFolder) -> None:
    """Neither opening nor appending writes over it; the recordings stay."""
    folder.append_run_with(COUPLER, taken())
    (folder.path / "examination.json").write_bytes(b'{"format": "loopback-examination"')
    before = snapshot(folder.path)
    for act in (
        lambda: ExaminationFolder.open(folder.path),
        lambda: folder.append_run(PEDAL),
        lambda: folder.append_run_with(PEDAL, taken(2)),
    ):
        with pytest.raises(DocumentError, match=r"examination\.json"):
            act()
    assert snapshot(folder.path) == before


def test_a_full_disk_leaves_everything_as_it_was(
    folder: ExaminationFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The system's refusal becomes a FolderError, at the recording and at the document alike."""
    folder.append_run_with(COUPLER, taken(1))
    before = snapshot(folder.path)
    sync = os.fsync

    def full(handle: int) -> None:
        if next(countdown) == 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        sync(handle)

    for refused_call in (0, 2):  # each file syncs itself, then its folder
        countdown = iter(range(refused_call, -9, -1))
        with monkeypatch.context() as patch:
            patch.setattr(os, "fsync", full)
            with pytest.raises(FolderError, match=r"No space left on device.*untouched"):
                folder.append_recording("01", taken(2))
        left = snapshot(folder.path)
        assert {name: left[name] for name in before} == before
        assert not list(folder.path.rglob(".*.partial"))
        again = ExaminationFolder.open(folder.path)
        assert len(again.document.recordings()) == 1
    assert again.strays == ("recordings/01-2.wav",)


def lend(tmp_path: Path, signal: Signal = SIGNAL) -> tuple[ExaminationFolder, Recording]:
    """Another examination with a reference run of two recordings and a pedal run."""
    lender = ExaminationFolder.create(tmp_path / "lender", Pedal("y"), Setup("files"), signal)
    _, first = lender.append_run_with(COUPLER, taken(7))
    lender.append_recording("01", taken(8))
    lender.append_run_with(PEDAL, taken(9))
    return lender, first


def test_reference_runs_can_be_shared(folder: ExaminationFolder, tmp_path: Path) -> None:
    """Copied with hash, time and flags; where they come from stays known."""
    lender, first = lend(tmp_path)
    folder.append_run_with(PEDAL, taken(1))
    run_id = folder.copy_run_from(lender, "01")
    run = folder.document.run(run_id)
    assert (run_id, run.label) == ("02", COUPLER)
    assert [r.file for r in run.recordings] == ["recordings/02-1.wav", "recordings/02-2.wav"]
    assert [r.origin for r in run.recordings] == [
        "lender/recordings/01-1.wav",
        "lender/recordings/01-2.wav",
    ]
    copy = run.recordings[0]
    assert (copy.sha256, copy.made, copy.flags) == (first.sha256, first.made, first.flags)
    assert all(folder.check_hash(recording) for recording in run.recordings)


def test_only_whole_references_of_the_same_signal_are_shared(
    folder: ExaminationFolder, tmp_path: Path
) -> None:
    """A pedal run, another signal, a changed or missing file: refused, and nothing arrives."""
    lender, first = lend(tmp_path)
    with pytest.raises(ArgumentError, match="made with a pedal"):
        folder.copy_run_from(lender, "02")
    with pytest.raises(ArgumentError, match='no run "09"'):
        folder.copy_run_from(lender, "09")
    other = ExaminationFolder.create(
        tmp_path / "other", Pedal("z"), Setup("files"), plan_signal(96_000, 1.0)
    )
    with pytest.raises(ArgumentError, match="plays another signal"):
        other.copy_run_from(lender, "01")
    data = lender.path_of(first).read_bytes()
    lender.path_of(first).write_bytes(data[:-1] + b"\x7f")
    with pytest.raises(FolderError, match="has changed since it was recorded"):
        folder.copy_run_from(lender, "01")
    lender.path_of(first).unlink()
    with pytest.raises(RecordingError, match="cannot be read"):
        folder.copy_run_from(lender, "01")
    assert folder.document.runs == ()
    assert folder.strays == ()


def test_copying_takes_a_fraction_of_the_recording_in_memory(
    folder: ExaminationFolder, tmp_path: Path
) -> None:
    """A file of 12 MB is imported, shared and checked with less than 2 MB held at a time."""
    write_wav24(tmp_path / "long.wav", noise(2_000_000), 96_000)
    lender, _ = lend(tmp_path)
    tracemalloc.start()
    _, recording = lender.append_run_with(
        COUPLER, Recorded("sweep", 96_000, None, tmp_path / "long.wav")
    )
    folder.copy_run_from(lender, "03")
    assert folder.check_hash(folder.document.run("01").recordings[0])
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert recording.frames == 2_000_000
    assert peak < 2_000_000
