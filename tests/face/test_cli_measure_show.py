"""Measuring with the simulator, showing, drawing: every console, every ending."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.report.records import Facts
from loopback.report.text import MOST_LINES
from tests.reference.command_line import Called, environment, here, in_process

Capture = pytest.CaptureFixture[str]
QUICK = ["--plan", "quick", "--rate", "48k", "--seconds", "1", "--yes"]
MEASURE = ["measure", "Quarry Lamp", "--simulate", "quarry-lamp", *QUICK]


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Called]:
    """One pedal, measured once for all tests here that only look."""
    place = tmp_path_factory.mktemp("Werkstatt é")
    return place, in_process(MEASURE, place)


@pytest.fixture
def folder(measured: tuple[Path, Called], monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of that pedal, seen from beside it."""
    monkeypatch.chdir(measured[0])
    return Path("quarry-lamp")


def test_measure_keeps_every_run_and_shows_the_result(measured: tuple[Path, Called]) -> None:
    """Five runs of the quick plan in a folder named after the pedal, and the result below."""
    place, ended = measured
    assert (ended.status, ended.err) == (0, "")
    document = ExaminationFolder.open(place / "quarry-lamp").document
    assert [len(run.recordings) for run in document.runs] == [2, 2, 3, 2, 3]
    assert document.setup.rig == "simulator"
    assert "simulated" in document.pedal.note
    assert "\n5/5   Coupler in place of the pedal.\n" in ended.out
    assert "since run 01: level" in ended.out
    assert "All 5 runs usable. Leads may come off now." in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80
    assert "QUARRY LAMP in bypass" in ended.out
    assert ended.out.rstrip().endswith("loopback show quarry-lamp --all")


def test_measuring_again_makes_a_new_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """A folder of that name is left alone; without resistor the plan is its own."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "quarry-lamp").mkdir()
    call = ["measure", "Quarry Lamp", "--simulate", "quarry-lamp", "--no-resistor"]
    ended = here([*call, "--rate", "48k", "--seconds", "1", "--yes", "--quiet"], capsys)
    assert ended.status == 0
    assert not list((tmp_path / "quarry-lamp").iterdir())
    document = ExaminationFolder.open(tmp_path / "quarry-lamp-2").document
    assert {run.label.feed for run in document.runs} == {"plain"}
    assert document.setup.resistor_ohm is None
    assert ended.out.startswith("QUARRY LAMP")


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (["--simulate", "no-such-pedal"], 2, ("no-such-pedal", "harbour-bell", "quarry-lamp")),
        ([], 1, ("--simulate", "loopback signal")),
        (["--simulate", "quarry-lamp", "--no-resistor", "--plan", "quick"], 2, ("--no-resistor",)),
        (["--simulate", "quarry-lamp", "--level", "-3"], 2, ("--ceiling -3",)),
    ],
)
def test_measure_that_cannot_begin_leaves_nothing(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: Capture,
    arguments: list[str],
    status: int,
    words: tuple[str, ...],
) -> None:
    """An unknown simulated pedal lists the known ones; whatever it is, no folder is made."""
    monkeypatch.chdir(tmp_path)
    ended = here(["measure", "Lamp", "--yes", *arguments], capsys)
    assert ended.status == status
    assert all(word in ended.err for word in words)
    assert not list(tmp_path.iterdir())


def test_ctrl_c_leaves_a_valid_folder(tmp_path: Path) -> None:
    """Interrupted in mid plan: status 130, and what was recorded is whole, listed and analysed."""
    # Tests in a shell's background job ignore Ctrl-C, and so would a child of theirs.
    heed = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)"
    start = f"{heed}; from loopback.cli.main import main; main()"
    call = [sys.executable, "-c", start, *MEASURE]
    with subprocess.Popen(
        call,
        cwd=tmp_path,
        env=environment(PYTHONIOENCODING="utf-8"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.strip().startswith("3/5"):  # two runs are kept
                break
        process.send_signal(getattr(signal, "CTRL_BREAK_EVENT", signal.SIGINT))
        _, complaint = process.communicate(timeout=120)
    assert process.returncode == 130
    assert "loopback show quarry-lamp" in complaint
    assert "Traceback" not in complaint
    folder = ExaminationFolder.open(tmp_path / "quarry-lamp")
    runs = folder.document.runs
    assert 2 <= len(runs) < 5
    assert folder.missing == ()
    assert all(folder.check_hash(r) for run in runs for r in run.recordings)
    assert len(analyse(tmp_path / "quarry-lamp").examination.runs) == len(runs)


def test_show_fits_one_screen(folder: Path, capsys: Capture) -> None:
    """80 columns, 20 lines, no control codes when piped."""
    ended = here(["show", str(folder)], capsys)
    assert (ended.status, ended.err) == (0, "")
    lines = ended.out.rstrip("\n").splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= 80
    assert "\x1b" not in ended.out
    assert "100 kΩ" in ended.out


def test_show_all_has_every_run(folder: Path, capsys: Capture) -> None:
    """The screen first, then all numbers of all runs."""
    short = here(["show", str(folder)], capsys).out
    ended = here(["show", str(folder), "--all"], capsys)
    assert ended.out.startswith(short)
    for run in ExaminationFolder.open(folder).document.runs:
        assert f"\nRun {run.id}" in ended.out


def test_json_is_the_same_in_every_console(folder: Path, capsys: Capture) -> None:
    """One object of the stated format and nothing else, whether quiet or plain."""
    ended = here(["show", str(folder), "--json"], capsys)
    facts = msgspec.json.decode(ended.out, type=Facts)
    assert facts.pedal.name == "Quarry Lamp"
    assert len(facts.references) + len(facts.pedal_runs) == 5
    plain = in_process(["--plain", "show", str(folder), "--json", "--quiet"], Path(), "ascii")
    assert (plain.status, plain.err) == (0, "")
    assert json.loads(plain.out)["result"]["path"] == facts.result.path


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii", "latin-1", "utf-8"])
def test_every_console_can_show_it(measured: tuple[Path, Called], encoding: str) -> None:
    """One-byte consoles get ohm and +/- where they lack a sign; nothing breaks, nothing is lost."""
    ended = in_process(["show", "quarry-lamp", "--all"], measured[0], encoding)
    assert (ended.status, ended.err) == (0, "")
    if encoding == "utf-8":
        assert "Ω" in ended.out
        assert "±" in ended.out
    else:
        assert "100 kohm" in ended.out
        assert "+/-" in ended.out
        assert not set("Ω±µ") & set(ended.out)
    assert "?" not in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80


@pytest.mark.parametrize("encoding", ["cp437", "ascii"])
def test_complaints_fit_every_console(tmp_path: Path, encoding: str) -> None:
    """An error about a name that the console cannot write is still written."""
    ended = in_process(["show", "Ω雨é"], tmp_path, encoding)
    assert ended.status == 1
    assert ended.err.startswith("! ")
    assert "Traceback" not in ended.err


def test_plain_is_plain_everywhere(folder: Path, capsys: Capture) -> None:
    """`--plain` before or after the command: letters only."""
    for call in (["--plain", "show", str(folder)], ["show", str(folder), "--plain"]):
        assert here(call, capsys).out.isascii()


def test_reader_that_leaves_early_is_no_error(measured: tuple[Path, Called]) -> None:
    """`loopback show ... | head -1` ends quietly."""
    call = [sys.executable, "-m", "loopback", "show", "quarry-lamp", "--all"]
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = subprocess.run(
        call,
        cwd=measured[0],
        env=environment(),
        stdout=write_end,
        stderr=subprocess.PIPE,
        check=False,
        timeout=120,
    )
    os.close(write_end)
    assert (done.returncode, done.stderr) == (0, b"")


@pytest.mark.parametrize("command", ["show", "plot"])
def test_folder_that_is_none(
    tmp_path: Path, command: str, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """A folder without an examination, and one with a damaged document: status 1, and why."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty").mkdir()
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "examination.json").write_text('{"format": "shopping-list"}')
    for name in ("empty", "absent", "broken"):
        ended = here([command, name], capsys)
        assert ended.status == 1
        assert ended.err.startswith("! ")
        assert ended.out == ""
    assert [p.name for p in (tmp_path / "empty").iterdir()] == []


def test_plot_writes_once_and_replaces_only_when_told(
    measured: tuple[Path, Called], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """Ten files in FOLDER/plots: nothing was pressed, so no picture shows presses.

    A second time is refused, and done with --replace; other themes and sizes have other names.
    """
    shutil.copytree(measured[0] / "quarry-lamp", tmp_path / "lamp")
    monkeypatch.chdir(tmp_path)
    first = here(["plot", "lamp"], capsys)
    assert first.status == 0
    files = sorted((tmp_path / "lamp" / "plots").iterdir())
    assert len(files) == 10
    assert [Path(line).name for line in sorted(first.out.split())] == [f.name for f in files]
    (tmp_path / "lamp" / "plots" / "zoom.svg").write_text("mine")
    refused = here(["plot", "lamp"], capsys)
    assert refused.status == 1
    assert "--replace" in refused.err
    assert (tmp_path / "lamp" / "plots" / "zoom.svg").read_text() == "mine"
    assert here(["plot", "lamp", "--theme", "dark", "--size", "slide"], capsys).status == 0
    assert (tmp_path / "lamp" / "plots" / "zoom-dark-slide.svg").exists()
    assert here(["plot", "lamp", "--replace", "--quiet"], capsys).out == ""
    assert (tmp_path / "lamp" / "plots" / "zoom.svg").read_text() != "mine"


@pytest.mark.parametrize(("option", "seen"), [([], True), (["--quiet"], False)])
def test_progress_is_for_whoever_watches(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture, option: list[str], seen: bool
) -> None:
    """At a terminal something moves on standard error, unless quiet; the result stays clean."""
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    ended = here(["show", str(folder), *option], capsys)
    assert ("Reading the recordings of quarry-lamp" in ended.err) is seen
    assert ended.out.startswith("QUARRY LAMP")
    assert "\x1b" not in ended.out


def test_full_disk_is_one_sentence(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """What the system refuses is said in words, with the file's name, and ends with status 1."""

    def refuse(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device", "plots/zoom.png")

    monkeypatch.setattr("loopback.report.pictures.write_pictures", refuse)
    ended = here(["plot", str(folder)], capsys)
    assert ended.status == 1
    assert '"plots/zoom.png": No space left on device' in ended.err
    assert "Traceback" not in ended.err
