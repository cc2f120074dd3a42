"""Writing the signal, and putting recordings made elsewhere into a folder."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from loopback.cli.screen import Screen
from loopback.examination.folder import ExaminationFolder
from loopback.examination.signal_file import read_sheet
from loopback.examination.wav import read_samples, write_wav24
from loopback.signal.take import render_take
from tests.reference.command_line import Called, here

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder that one is in."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def table(place: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """A signal and some recordings beside it, of which only the names matter here."""
    assert here(["signal", "sweep.wav", "--rate", "48k", "--seconds", "1"], capsys).status == 0
    quiet = np.full((4800, 2), 0.001)
    for name in ("coupler-resistor", "pedal-on-a-resistor", "take7", "pedal-off-b-plain-silence"):
        write_wav24(place / f"{name}.wav", quiet, 48_000)
    return place


def added(place: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> Called:
    return here(["add", "lamp", *arguments], capsys)


def test_signal_is_written_with_its_document(place: Path, capsys: Capture) -> None:
    """Two takes of exactly what is planned, at the asked rate and level, and a note of caution."""
    arguments = ["signal", "sweep.wav", "--rate", "48k", "--seconds", "1", "--level", "-20"]
    ended = here(arguments, capsys)
    assert (ended.status, ended.err) == (0, "")
    assert "CAUTION" in ended.out
    signal = read_sheet(place / "sweep.json").signal
    assert (signal.rate_hz, signal.level_dbfs) == (48_000, -20.0)
    samples, rate = read_samples(place / "sweep.wav")
    assert rate == 48_000
    assert np.allclose(samples[:, 0], np.tile(render_take(signal), 2), atol=2**-23)


@pytest.mark.parametrize("taken", ["sweep.wav", "sweep.json"])
def test_signal_overwrites_nothing(place: Path, taken: str, capsys: Capture) -> None:
    """Either file being there already is an error, and both stay as they were."""
    (place / taken).write_text("mine")
    ended = here(["signal", "sweep.wav", "--rate", "48k", "--seconds", "1"], capsys)
    assert ended.status == 1
    assert "not overwritten" in ended.err
    assert (place / taken).read_text() == "mine"
    assert len(list(place.iterdir())) == 1


@pytest.mark.parametrize("arguments", [["--level", "-6"], ["--rate", "22k"], ["--seconds", "0.1"]])
def test_signal_refuses_what_cannot_be_played(
    place: Path, arguments: list[str], capsys: Capture
) -> None:
    """A level above the ceiling, a rate or a length outside is wrong usage; nothing is written."""
    ended = here(["signal", "sweep.wav", *arguments], capsys)
    assert ended.status == 2
    assert ended.err.count("\n") >= 2
    assert not list(place.iterdir())


def test_ceiling_is_raised_knowingly(place: Path, capsys: Capture) -> None:
    """The message says how, and saying it works."""
    refused = here(["signal", "a.wav", "--seconds", "1", "--level", "-6"], capsys)
    assert "--ceiling -6" in refused.err
    arguments = ["signal", "a.wav", "--seconds", "1", "--level", "-6", "--ceiling", "-6"]
    assert here(arguments, capsys).status == 0
    assert read_sheet(place / "a.wav").signal.level_dbfs == -6.0


def test_name_fills_everything(table: Path, capsys: Capture) -> None:
    """The first file makes the folder and finds the signal; the resistor is said once."""
    first = added(
        table, ["coupler-resistor.wav", "--like", "--resistor", "100k", "--tolerance", "1%"], capsys
    )
    assert (first.status, first.err) == (0, "")
    assert "Next  loopback show lamp" in first.out
    assert added(table, ["pedal-on-a-resistor.wav", "--like"], capsys).status == 0
    document = ExaminationFolder.open(table / "lamp").document
    assert document.pedal.name == "Lamp"
    assert document.setup.rig == "files"
    assert (document.setup.resistor_ohm, document.setup.resistor_tolerance) == (100e3, 0.01)
    labels = [run.label for run in document.runs]
    assert [(label.path, label.feed) for label in labels] == [
        ("coupler", "resistor"),
        ("pedal", "resistor"),
    ]
    assert (labels[1].power, labels[1].position) == ("on", "a")
    assert document.runs[1].recordings[0].origin == "pedal-on-a-resistor.wav"
    assert (table / "pedal-on-a-resistor.wav").exists()


def test_options_say_it_as_well_and_count_more_than_the_name(table: Path, capsys: Capture) -> None:
    """Each option reaches the record; channels are counted from 1 outside and from 0 inside."""
    said = ["--path", "pedal", "--power", "off", "--position", "none", "--feed", "resistor"]
    more = ["--resistor", "99.6k", "--tolerance", "0.5%", "--channel", "2", "--note", "warm"]
    assert added(table, ["take7.wav", *said, *more], capsys).status == 0
    over = ["pedal-on-a-resistor.wav", "--like", "--power", "off", "--check-channel", "1"]
    assert added(table, over, capsys).status == 0
    one, other = ExaminationFolder.open(table / "lamp").document.runs
    assert (one.label.position, one.label.resistor_ohm, one.label.note) == ("none", 99.6e3, "warm")
    assert one.label.resistor_tolerance == pytest.approx(0.005)
    assert (one.recordings[0].path_channel, one.recordings[0].check_channel) == (1, None)
    assert (other.label.power, other.label.position) == ("off", "a")
    assert other.recordings[0].check_channel == 0


def test_silence_is_kept_as_silence(table: Path, capsys: Capture) -> None:
    """A name or an option may say that nothing was played."""
    assert added(table, ["pedal-off-b-plain-silence.wav", "--like"], capsys).status == 0
    said = ["--path", "coupler", "--feed", "plain", "--silence"]
    assert added(table, ["take7.wav", *said], capsys).status == 0
    runs = ExaminationFolder.open(table / "lamp").document.runs
    assert [run.recordings[0].kind for run in runs] == ["silence", "silence"]


def test_take_joins_a_run_and_a_repeat_replaces_one(table: Path, capsys: Capture) -> None:
    """`--run` adds a recording to a run; `--again` makes a new one, and the old one is kept."""
    plain = ["--path", "coupler", "--feed", "plain"]
    assert added(table, ["take7.wav", *plain], capsys).status == 0
    assert added(table, ["take7.wav", "--run", "01"], capsys).status == 0
    assert added(table, ["take7.wav", *plain, "--again", "01"], capsys).status == 0
    document = ExaminationFolder.open(table / "lamp").document
    assert [len(run.recordings) for run in document.runs] == [2, 1]
    assert document.runs[1].repeats == "01"
    assert [run.id for run in document.counting_runs()] == ["02"]


@pytest.mark.parametrize(
    ("arguments", "status", "word"),
    [
        (["take7.wav"], 2, "--path, --feed"),
        (["take7.wav", "--path", "pedal", "--feed", "plain"], 2, "--power, --position"),
        (["take7.wav", "--path", "coupler", "--feed", "resistor"], 2, "--resistor 100k"),
        (["take7.wav", "--like"], 2, "take7.wav"),
        (["absent.wav", "--like"], 1, "absent.wav"),
        (["coupler-resistor.wav", "--like", "--channel", "3"], 2, "Channel 3"),
        (["coupler-resistor.wav", "--like", "--channel", "0"], 2, "0"),
        (["take7.wav", "--run", "04"], 2, "no runs yet"),
        (["sweep.json", "--path", "coupler", "--feed", "plain"], 1, "sweep.json"),
    ],
)
def test_what_cannot_be_added_leaves_no_trace(
    table: Path, arguments: list[str], status: int, word: str, capsys: Capture
) -> None:
    """The message says what is missing or wrong, and no folder is made."""
    ended = added(table, arguments, capsys)
    assert ended.status == status
    assert word in ended.err
    assert "Traceback" not in ended.err
    assert not (table / "lamp").exists()


def test_unknown_run_is_named(table: Path, capsys: Capture) -> None:
    """A run that is not there is said to be not there, and nothing is added."""
    plain = ["--path", "coupler", "--feed", "plain"]
    assert added(table, ["take7.wav", *plain], capsys).status == 0
    for option in ("--run", "--again"):
        ended = added(table, ["take7.wav", *plain, option, "09"], capsys)
        assert ended.status == 2
        assert '"09"' in ended.err
    assert len(ExaminationFolder.open(table / "lamp").document.runs) == 1


def test_signal_must_be_known(table: Path, capsys: Capture) -> None:
    """Without a document of a signal nothing begins; with two different ones it is asked which."""
    plain = ["take7.wav", "--path", "coupler", "--feed", "plain"]
    assert here(["signal", "other.wav", "--rate", "44.1k", "--seconds", "1"], capsys).status == 0
    which = added(table, plain, capsys)
    assert which.status == 2
    assert re.search(r"other\.json.*sweep\.json", which.err)
    assert added(table, [*plain, "--signal", "other.wav"], capsys).status == 0
    assert ExaminationFolder.open(table / "lamp").document.signal.rate_hz == 44_100
    for name in ("other.json", "sweep.json"):
        (table / name).unlink()
    nothing = here(["add", "bell", *plain], capsys)
    assert nothing.status == 2
    assert "--signal" in nothing.err


def test_what_is_missing_is_asked_where_somebody_answers(
    table: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """At a terminal each missing thing is one question, the resistor too."""
    answers = iter(["pedal", "on", "b", "resistor", "100k"])
    asked: list[str] = []

    def answer(prompt: str, *_: object, **__: object) -> str:
        asked.append(prompt)
        return next(answers)

    monkeypatch.setattr(Screen, "asks", property(lambda _: True))
    monkeypatch.setattr("click.termui.visible_prompt_func", answer)
    assert added(table, ["take7.wav"], capsys).status == 0
    label = ExaminationFolder.open(table / "lamp").document.runs[0].label
    assert (label.path, label.power, label.position, label.feed) == ("pedal", "on", "b", "resistor")
    assert label.resistor_ohm == 100e3
    assert len(asked) == 5
