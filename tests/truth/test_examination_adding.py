"""Recordings made elsewhere: where they go, and which signal they belong to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from loopback.errors import ArgumentError, DocumentError, RecordingError
from loopback.examination.adding import add_recording, find_signal
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.examination.signal_file import write_signal_file
from loopback.examination.wav import write_wav24
from loopback.plan.naming import label_from_name
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded
from loopback.signal.take import plan_signal

SIGNAL = plan_signal(48_000, 1.0)
COUPLER = RunLabel("coupler", "resistor")


@pytest.fixture
def folder(tmp_path: Path) -> ExaminationFolder:
    """An examination without runs."""
    return ExaminationFolder.create(tmp_path / "lamp", Pedal("Lamp"), Setup("files"), SIGNAL)


def recording(tmp_path: Path, name: str, seed: int = 1, channels: int = 2) -> Path:
    """A short file of noise."""
    path = tmp_path / name
    x = np.random.default_rng(seed).uniform(-0.1, 0.1, (100, channels))
    write_wav24(path, x, 48_000)
    return path


def test_each_file_is_a_run_of_its_own(folder: ExaminationFolder, tmp_path: Path) -> None:
    """Also with the same label: something was touched in between."""
    for number, name in enumerate(
        ("coupler-resistor.wav", "pedal-on-a-resistor.wav", "coupler-resistor-2.wav"), start=1
    ):
        source = recording(tmp_path, name, number)
        run_id, added = add_recording(folder, source, label_from_name(name), 1)
        assert run_id == f"{number:02d}"
        assert added.origin == name
        assert added.path_channel == 1
        assert folder.path_of(added).read_bytes() == source.read_bytes()
    assert [len(run.recordings) for run in folder.document.runs] == [1, 1, 1]


def test_untouched_joins_the_latest_imported_run_of_that_label(
    folder: ExaminationFolder, tmp_path: Path
) -> None:
    """Not an earlier one, not one of another label, not one that a rig recorded."""
    first, _ = add_recording(folder, recording(tmp_path, "1.wav", 1), COUPLER)
    second, _ = add_recording(folder, recording(tmp_path, "2.wav", 2), COUPLER)
    folder.append_run_with(COUPLER, Recorded("sweep", 48_000, np.full((9, 1), 0.1)))
    third = recording(tmp_path, "3.wav", 3)
    run_id, added = add_recording(folder, third, COUPLER, untouched=True, kind="silence")
    assert run_id == second != first
    assert (added.file, added.kind) == ("recordings/02-2.wav", "silence")
    with pytest.raises(ArgumentError, match="no imported run of the same label"):
        add_recording(folder, third, RunLabel("coupler", "plain"), untouched=True)
    assert len(folder.document.runs) == 3


def test_a_run_can_be_repeated(folder: ExaminationFolder, tmp_path: Path) -> None:
    """The earlier one stays, and no longer counts; also joining goes to the one that counts."""
    first, _ = add_recording(folder, recording(tmp_path, "1.wav", 1), COUPLER)
    again, _ = add_recording(folder, recording(tmp_path, "2.wav", 2), COUPLER, repeats=first)
    joined, _ = add_recording(folder, recording(tmp_path, "3.wav", 3), COUPLER, untouched=True)
    assert joined == again
    assert [run.id for run in folder.document.counting_runs()] == [again]
    assert [run.id for run in folder.document.runs] == [first, again]


def test_the_same_bytes_twice_are_kept_and_can_be_found(
    folder: ExaminationFolder, tmp_path: Path
) -> None:
    """Nothing is dropped in silence; who judges the runs can name both."""
    source = recording(tmp_path, "1.wav")
    add_recording(folder, source, COUPLER)
    add_recording(folder, source, RunLabel("pedal", "resistor", "on", "a"))
    assert folder.document.identical_files() == (("recordings/01-1.wav", "recordings/02-1.wav"),)


def test_what_cannot_be_added_leaves_no_run(folder: ExaminationFolder, tmp_path: Path) -> None:
    """No audio, no such channel, no such run to repeat."""
    (tmp_path / "a.wav").write_bytes(b"")
    with pytest.raises(RecordingError, match="is empty"):
        add_recording(folder, tmp_path / "a.wav", COUPLER)
    mono = recording(tmp_path, "mono.wav", channels=1)
    with pytest.raises(ArgumentError, match=r'Channel 2 was asked for; "mono\.wav" has 1'):
        add_recording(folder, mono, COUPLER, 1)
    with pytest.raises(ArgumentError, match="Channel 3 was asked for"):
        add_recording(folder, mono, COUPLER, check_channel=2)
    with pytest.raises(ArgumentError, match="no earlier run"):
        add_recording(folder, mono, COUPLER, repeats="05")
    assert folder.document.runs == ()
    assert folder.strays == ()


def test_the_signal_is_found_beside_the_recording_or_here(tmp_path: Path) -> None:
    """One document in either place will do; other documents are passed over."""
    for name in ("here", "elsewhere"):
        (tmp_path / name).mkdir()
    (tmp_path / "here" / "other.json").write_text('{"format": "something"}', encoding="utf-8")
    with pytest.raises(DocumentError, match="No document of a signal was found in") as caught:
        find_signal([tmp_path / "here", tmp_path / "elsewhere", tmp_path / "here"])
    assert caught.value.found.count(str(tmp_path / "here")) == 1
    write_signal_file(tmp_path / "elsewhere" / "sweep.wav", SIGNAL)
    assert find_signal([tmp_path / "here", tmp_path / "elsewhere"]) == SIGNAL
    write_signal_file(tmp_path / "here" / "same.wav", SIGNAL)
    assert find_signal([tmp_path / "here", tmp_path / "elsewhere"]) == SIGNAL


def test_two_different_signals_are_not_guessed_between(tmp_path: Path) -> None:
    """Both are named."""
    write_signal_file(tmp_path / "a.wav", SIGNAL)
    write_signal_file(tmp_path / "b.wav", plan_signal(48_000, 2.0))
    with pytest.raises(ArgumentError, match=r"2 different signals.*a\.json.*b\.json"):
        find_signal([tmp_path])


def test_a_damaged_signal_document_is_not_passed_over(tmp_path: Path) -> None:
    """Something that calls itself one and is broken may be the one that was played."""
    write_signal_file(tmp_path / "a.wav", SIGNAL)
    text = (tmp_path / "a.json").read_text(encoding="utf-8")
    (tmp_path / "a.json").write_text(text.replace("48000", "x"), encoding="utf-8")
    with pytest.raises(DocumentError, match=r"a\.json"):
        find_signal([tmp_path])
