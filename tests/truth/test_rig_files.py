"""Which files a request gets, and what is said when there are none."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from loopback.errors import ArgumentError, RigError
from loopback.plan.plans import STANDARD, TableFacts, label_for, signal_for
from loopback.plan.runs import RunLabel
from loopback.rig.files import FiledRun, FileRig, runs_in_folder
from loopback.rig.protocol import RunRequest
from loopback.signal.take import plan_signal

SIGNAL = plan_signal(48_000, 1.0)
COUPLER = RunLabel("coupler", "resistor")
PEDAL = RunLabel("pedal", "resistor", "on", "a")


def names(rig: FileRig, label: RunLabel, silence_s: float = 0.0) -> list[str]:
    """Names of the files that a request gets."""
    handed = rig.play(RunRequest(label, SIGNAL, 2, silence_s))
    return [recorded.file.name for recorded in handed if recorded.file is not None]


def folder_of(tmp_path: Path, *files: str) -> Path:
    """A folder of files whose contents nobody looks at."""
    for name in files:
        (tmp_path / name).write_bytes(b"RIFF")
    return tmp_path


def test_runs_of_the_same_hookup_come_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    """Each request gets the next run, with all its takes, until there is none."""
    folder = folder_of(
        tmp_path,
        "coupler-resistor-take2.wav",
        "coupler-resistor-take1.wav",
        "coupler-resistor-10.wav",
        "coupler-resistor-2.flac",
        "pedal-on-a-resistor.wav",
    )
    rig = FileRig(folder, SIGNAL)
    assert names(rig, COUPLER) == ["coupler-resistor-take1.wav", "coupler-resistor-take2.wav"]
    assert names(rig, PEDAL) == ["pedal-on-a-resistor.wav"]
    assert names(rig, COUPLER) == ["coupler-resistor-2.flac"]
    assert names(rig, COUPLER) == ["coupler-resistor-10.wav"]
    with pytest.raises(RigError, match=r"3 run\(s\), all handed over of coupler-resistor"):
        names(rig, COUPLER)


def test_silences_are_handed_over_when_asked_for(tmp_path: Path) -> None:
    """After the sweeps, as another kind; a silence that nobody recorded is no error."""
    rig = FileRig(
        folder_of(tmp_path, "coupler-resistor.wav", "coupler-resistor-silence.wav",
                  "pedal-on-a-resistor.wav"),
        SIGNAL,
    )  # fmt: skip
    handed = list(rig.play(RunRequest(COUPLER, SIGNAL, 2, 10.0)))
    assert [recorded.kind for recorded in handed] == ["sweep", "silence"]
    assert names(rig, PEDAL, 10.0) == ["pedal-on-a-resistor.wav"]


def test_what_a_file_name_cannot_know_does_not_matter(tmp_path: Path) -> None:
    """Lamp, resistor, note and re-plugging come from the table; what the feet did does matter."""
    folder = folder_of(tmp_path, "pedal-on-a-resistor.wav")
    full = RunLabel(
        "pedal", "resistor", "on", "a", "lit", 99_600.0, 0.005, "interface", mating=3, note="x"
    )
    assert names(FileRig(folder, SIGNAL), full) == ["pedal-on-a-resistor.wav"]
    for field, value in (
        ("power", "off"),
        ("position", "b"),
        ("feed", "plain"),
        ("load", "line"),
        ("direction", "reversed"),
        ("level_db", -20.0),
    ):
        other = msgspec.structs.replace(full, **{field: value})
        with pytest.raises(RigError, match="no recording of pedal-"):
            names(FileRig(folder, SIGNAL), other)


def test_a_whole_plan_can_be_played_from_files(tmp_path: Path) -> None:
    """The ten runs of the standard plan find ten files."""
    facts = TableFacts("b", "dark", 1e5, 0.01)
    paths = [tmp_path / f"{number}.wav" for number in range(10)]
    runs = []
    for step, path in zip(STANDARD.steps, paths, strict=True):
        path.write_bytes(b"RIFF")
        runs.append(FiledRun(label_for(step, facts), (path,)))
    rig = FileRig(runs, SIGNAL)
    handed = []
    for step in STANDARD.steps:
        label = label_for(step, facts)
        request = RunRequest(label, signal_for(label, SIGNAL), step.takes)
        handed += [recorded.file for recorded in rig.play(request)]
    assert sorted(path for path in handed if path) == paths


def test_other_files_are_left_alone(tmp_path: Path) -> None:
    """Notes, documents, hidden files and folders are not read as names."""
    folder = folder_of(tmp_path, "coupler-plain.wav", "notes.txt", "sweep.json", "._coupler-x.wav")
    (tmp_path / "old.wav").mkdir()
    assert [run.label for run in runs_in_folder(folder)] == [RunLabel("coupler", "plain")]


def test_a_name_that_says_nothing_is_refused(tmp_path: Path) -> None:
    """Rather than left out without a word."""
    with pytest.raises(ArgumentError, match=r"take7\.wav.*missing"):
        FileRig(folder_of(tmp_path, "coupler-plain.wav", "take7.wav"), SIGNAL)


def test_two_names_that_say_the_same_are_refused(tmp_path: Path) -> None:
    """Nobody could tell which was first."""
    with pytest.raises(ArgumentError, match="say the same"):
        FileRig(folder_of(tmp_path, "coupler-plain.wav", "plain_coupler.wav"), SIGNAL)


def test_places_without_recordings(tmp_path: Path) -> None:
    """A folder that is not there, an empty one, and a file that has gone since."""
    with pytest.raises(RigError, match="No such file or directory"):
        FileRig(tmp_path / "none", SIGNAL)
    with pytest.raises(RigError, match="no recording of coupler-resistor"):
        names(FileRig(tmp_path, SIGNAL), COUPLER)
    rig = FileRig(folder_of(tmp_path, "coupler-resistor.wav"), SIGNAL)
    (tmp_path / "coupler-resistor.wav").unlink()
    with pytest.raises(RigError, match="is not there any more"):
        names(rig, COUPLER)


def test_another_signal_is_refused(tmp_path: Path) -> None:
    """Another level is the same sweep; another duration is not."""
    folder = folder_of(tmp_path, "coupler-resistor.wav")
    quieter = msgspec.structs.replace(SIGNAL, level_dbfs=-30.0)
    assert list(FileRig(folder, SIGNAL).play(RunRequest(COUPLER, quieter)))
    for other in (plan_signal(48_000, 2.0), plan_signal(96_000, 1.0)):
        with pytest.raises(RigError, match="another signal"):
            list(FileRig(folder, SIGNAL).play(RunRequest(COUPLER, other)))


def test_facts_name_the_folder(tmp_path: Path) -> None:
    """Nothing is claimed about channels or levels."""
    facts = FileRig(tmp_path, SIGNAL).facts()
    assert (facts.kind, facts.name) == ("files", tmp_path.name)
    assert facts.path_channel is facts.check_channel is facts.full_scale_dbu is None
    assert FileRig([], SIGNAL).facts().name == "recorded files"
