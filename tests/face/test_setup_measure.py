"""`setup` and `measure` as typed: files they leave, resuming, repeating, sharing, a terminal."""

from __future__ import annotations

import os
import select
import shutil
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from loopback.analysis import analyse
from loopback.cli.hands import TerminalHands
from loopback.cli.level_meter import LevelMeter, meter_line
from loopback.cli.screen import Screen
from loopback.examination.folder import ExaminationFolder
from loopback.examination.reference_record import (
    FILE_NAME,
    FeedSitting,
    Sitting,
    read_reference_record,
    write_record,
)
from loopback.examination.setup_record import read_setup
from loopback.plan.events import Ask, Choice, Show, Tell
from tests.reference.command_line import ROOT, Called, environment, here, in_process

Capture = pytest.CaptureFixture[str]
SETUP = ["setup", "--simulate", "quarry-lamp", "--rate", "48k", "--seconds", "1", "--yes"]
MEASURE = ["measure", "Quarry Lamp", "--simulate", "quarry-lamp", "--plan", "quick", "--yes"]


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Called, Called]:
    """A folder with a setup and one pedal measured with it, once for all tests here."""
    place = tmp_path_factory.mktemp("bench")
    first = in_process([*SETUP, "--meter-reading", "0.587V"], place)
    return place, first, in_process(MEASURE, place)


@pytest.fixture
def place(
    bench: tuple[Path, Called, Called], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """A copy of that folder, and the program called from in it."""
    shutil.copytree(bench[0], tmp_path / "bench")
    monkeypatch.chdir(tmp_path / "bench")
    return tmp_path / "bench"


def test_setup_writes_what_measure_reads(bench: tuple[Path, Called, Called]) -> None:
    """setup.toml here, with comments; rate, level, resistor and volts reach the examination."""
    place, first, second = bench
    assert (first.status, first.err) == (0, "")
    record = read_setup(place / "setup.toml")
    assert (record.rate_hz, record.level_dbfs, record.resistor_ohm) == (48_000, -12.0, 100e3)
    assert record.full_scale_dbu == pytest.approx(10.0, abs=0.1)
    assert (second.status, second.err) == (0, "")
    document = ExaminationFolder.open(place / "quarry-lamp").document
    assert document.signal.rate_hz == record.rate_hz
    assert document.signal.level_dbfs == record.level_dbfs
    assert document.setup.full_scale_dbu == record.full_scale_dbu
    assert document.setup.resistor_ohm == record.resistor_ohm
    for called in (first, second):
        assert max(map(len, called.out.splitlines())) <= 80


def test_unplugged_run_is_carried_into_the_examination(bench: tuple[Path, Called, Called]) -> None:
    """Copied in, hashed, 24 dB lower than the signal; runs before it have the plan's numbers."""
    folder = ExaminationFolder.open(bench[0] / "quarry-lamp")
    assert [run.label.path for run in folder.document.runs] == [
        "coupler", "pedal", "pedal", "pedal", "coupler", "unplugged",
    ]  # fmt: skip
    unplugged = folder.document.runs[-1]
    assert unplugged.label.level_db == -24.0
    assert all(folder.check_hash(recording) for recording in unplugged.recordings)
    findings = analyse(bench[0] / "quarry-lamp").findings
    assert [f for f in findings if unplugged.id in f.where and f.grade != "good"] == []


def test_levels_are_in_dbu_and_dbv_where_known(
    place: Path, tmp_path: Path, capsys: Capture
) -> None:
    """With a meter reading; without one it is said that levels are relative."""
    with_volts = here(["show", "quarry-lamp", "--all"], capsys).out
    assert "dBu" in with_volts
    assert "dBV" in with_volts
    document = place / "quarry-lamp" / "examination.json"
    text = document.read_text(encoding="utf-8")
    full = read_setup(place / "setup.toml").full_scale_dbu
    document.write_text(text.replace(f'"full_scale_dbu": {full}', '"full_scale_dbu": null'))
    assert document.read_text(encoding="utf-8") != text
    without = here(["show", "quarry-lamp", "--all"], capsys).out
    assert "-91." not in without.replace("dBFS", "")
    assert "Relative to full scale" in without


def test_a_run_again_keeps_the_earlier_one(place: Path, capsys: Capture) -> None:
    """`--again`: one run more, that takes the place of the one named."""
    before = ExaminationFolder.open(place / "quarry-lamp").document
    ended = here(["measure", "quarry-lamp", "--again", "2", *MEASURE[2:4], "--yes"], capsys)
    assert ended.status == 0, ended.err
    after = ExaminationFolder.open(place / "quarry-lamp").document
    assert after.runs[: len(before.runs)] == before.runs
    assert [run.repeats for run in after.runs[len(before.runs) :]] == ["02"]
    assert len(after.counting_runs()) == len(before.counting_runs())


def test_references_are_shared_by_copies(place: Path, capsys: Capture) -> None:
    """The opening reference is copied, the closing one made and compared."""
    call = ["measure", "Harbour Bell", "--simulate", "harbour-bell", "--plan", "quick", "--yes"]
    ended = here([*call, "--reference-of", "quarry-lamp"], capsys)
    assert ended.status == 0, ended.err
    first = ExaminationFolder.open(place / "quarry-lamp").document
    folder = ExaminationFolder.open(place / "harbour-bell")
    shared, *own = folder.document.counting_runs()
    assert shared.recordings[0].sha256 == first.runs[0].recordings[0].sha256
    assert shared.recordings[0].origin == f"quarry-lamp/{first.runs[0].recordings[0].file}"
    assert [run.label.path for run in own] == ["pedal", "pedal", "pedal", "coupler", "unplugged"]
    assert "since run 01" in ended.out


def test_what_references_show_is_kept_beside_the_setup_and_in_the_folder(
    place: Path, tmp_path: Path, capsys: Capture
) -> None:
    """One sitting per examination; the next one gets a copy and learns from it, wherever it is."""
    record = read_reference_record(place / FILE_NAME)
    assert len(record.sittings) == 1
    first = analyse(place / "quarry-lamp").sitting
    assert record.sittings == [first]
    assert not (place / "quarry-lamp" / FILE_NAME).exists()  # nothing was known before it
    # Thirty sittings with an interface and plugs far less steady than is common practice.
    wild = [
        Sitting(
            f"2025-01-{day:02d}T12:00:00+01:00",
            [FeedSitting("resistor", [1, 5], [-0.02, 0.02], [0.0, 0.0], [-4e-12, 4e-12])],
        )
        for day in range(1, 31)
    ]
    write_record(place / FILE_NAME, [*wild, *record.sittings])
    call = ["measure", "Field Gate", "--simulate", "quarry-lamp", "--plan", "quick", "--yes"]
    ended = here(call, capsys)
    assert ended.status == 0, ended.err
    assert len(read_reference_record(place / FILE_NAME).sittings) == 32
    carried = shutil.copytree(place / "field-gate", tmp_path / "elsewhere")
    assert read_reference_record(carried / FILE_NAME).sittings == [*wild, *record.sittings]
    with_them = analyse(carried).result.shunt
    (carried / FILE_NAME).unlink()
    without = analyse(carried).result.shunt
    assert with_them is not None
    assert without is not None
    assert with_them.c_farad.u > 1.2 * without.c_farad.u


def test_a_check_plug_and_what_was_learned_are_said(place: Path, capsys: Capture) -> None:
    """The resistor that a check plug found is what `measure` goes by; how many references count."""
    ended = here([*SETUP, "--check-plug", "1n:0.1%"], capsys)
    assert ended.status == 0, ended.err
    assert "stated 1 nF ± 0.1 %: they agree, E_n 0." in " ".join(ended.out.split())
    # The examination made before has two with the resistor lead; one plain run alone says nothing.
    assert "learned from 2 reference runs of this setup" in ended.out
    record = read_setup(place / "setup.toml")
    assert record.resistor_ohm == pytest.approx(100_200, abs=300)  # 0.2 % off in the simulator
    assert record.resistor_tolerance is not None
    assert record.resistor_tolerance < 0.004
    assert "typed: 100.0 kΩ ± 1 %" in (place / "setup.toml").read_text(encoding="utf-8")
    call = ["measure", "Field Gate", "--simulate", "quarry-lamp", "--plan", "quick", "--yes"]
    assert here(call, capsys).status == 0
    document = ExaminationFolder.open(place / "field-gate").document
    assert document.setup.resistor_ohm == record.resistor_ohm
    assert {
        run.label.resistor_tolerance for run in document.runs if run.label.feed == "resistor"
    } == {record.resistor_tolerance}
    shown = here(["show", "field-gate", "--all"], capsys).out
    assert "learned from 4 reference runs" in " ".join(shown.split())


def test_a_check_plug_needs_a_resistor_lead(place: Path, capsys: Capture) -> None:
    """Refused before anything is played, as is a part that cannot be one."""
    ended = here([*SETUP, "--no-resistor", "--check-plug", "1n:1%"], capsys)
    assert ended.status == 2
    assert "exclude each other" in ended.err
    ended = here([*SETUP, "--check-plug", "0:1%"], capsys)
    assert ended.status != 0
    assert "cannot be a check plug" in ended.err
    assert not (place / "setup-before-1.toml").exists()


def test_references_of_another_interface_are_put_aside(place: Path, capsys: Capture) -> None:
    """Setting up again keeps what was learned; of another interface, it gets another name."""
    assert here(SETUP, capsys).status == 0
    assert (place / FILE_NAME).exists()
    file = place / "setup.toml"
    text = file.read_text(encoding="utf-8").replace("Simulated interface", "Another one")
    file.write_text(text, encoding="utf-8")
    ended = here(SETUP, capsys)
    assert ended.status == 0, ended.err
    assert not (place / FILE_NAME).exists()
    assert len(read_reference_record(place / "setup-before-2-references.json").sittings) == 1


def test_references_that_moved_are_not_shared(place: Path, capsys: Capture) -> None:
    """A knob turned between the references: nobody knows which of them holds."""
    moved = ["measure", "Moved", *MEASURE[2:], "--mistake", "gain-moved:5-9=0.5"]
    assert here(moved, capsys).status == 0
    ended = here(["measure", "Next", *MEASURE[2:], "--reference-of", "moved"], capsys)
    assert ended.status == 1
    assert "references differ" in ended.err
    assert "Leave --reference-of out" in ended.err


def test_a_complete_folder_is_left_alone(place: Path, capsys: Capture) -> None:
    """Named by its pedal, a new one is made; named itself, it is said what can be done."""
    assert here(MEASURE, capsys).status == 0
    assert (place / "quarry-lamp-2").is_dir()
    ended = here(["measure", "quarry-lamp", *MEASURE[2:4], "--yes"], capsys)
    assert ended.status == 2
    assert "--again 03" in ended.err


def test_an_unfinished_folder_is_gone_on_with(
    place: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped by Ctrl-C in the third run: status 130; the same command makes the other three."""
    from loopback.guided import sitting

    kept = sitting.ExaminationFolder.append_run_with
    made: list[str] = []

    def stop_at_third(self, label, *args, **kwargs):
        if len(made) == 2:
            raise KeyboardInterrupt
        made.append(label.path)
        return kept(self, label, *args, **kwargs)

    monkeypatch.setattr(sitting.ExaminationFolder, "append_run_with", stop_at_third)
    call = ["measure", "Evening Two", *MEASURE[2:]]
    ended = here(call, capsys)
    assert ended.status == 130
    assert "2 runs kept" in ended.err
    assert "same command" in ended.err
    monkeypatch.undo()
    os.chdir(place)
    again = here([*call[:4], "--yes"], capsys)  # the plan is known from the folder
    assert again.status == 0, again.err
    assert "quick plan, 3 runs to go, in evening-two" in again.out
    assert "\n3/5" in again.out
    assert "\n2/5" not in again.out
    assert len(ExaminationFolder.open(place / "evening-two").document.runs) == 6


@pytest.mark.parametrize(
    ("call", "status", "words"),
    [
        (["measure", "Lamp", "--yes"], 1, ("loopback setup", "--simulate")),
        (["measure", "Lamp", "--again", "2", "--simulate", "quarry-lamp", "--yes"], 2, ("Lamp",)),
        (["setup"], 2, ("--yes",)),
        (["measure", "Lamp", "--device", "x"], 2, ("--yes",)),
        ([*SETUP, "--no-resistor", "--resistor", "100k"], 2, ("exclude",)),
        ([*SETUP, "--resistor", "12"], 2, ("47k to 220k",)),
        ([*SETUP, "--check-cable", "two"], 2, ("2:2",)),
        ([*SETUP, "--mistake", "forgot"], 2, ("no mistake",)),
        ([*SETUP, "--meter-reading", "50V"], 2, ("meter reading", "AC volts")),
        ([*SETUP, "--ceiling", "3"], 2, ("dBFS",)),
        ([*SETUP, "--mistake", "digital-return"], 1, ("No analogue input",)),
    ],
)
def test_what_cannot_begin_leaves_nothing(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: Capture,
    call: list[str],
    status: int,
    words: Sequence[str],
) -> None:
    """One sentence with what to do, and no file."""
    monkeypatch.chdir(tmp_path)
    ended = here(call, capsys)
    assert ended.status == status, ended.err
    assert all(word in ended.err for word in words), ended.err
    assert list(tmp_path.iterdir()) == []


def test_refused_runs_end_with_the_command_that_repeats_them(place: Path, capsys: Capture) -> None:
    """A run that cannot be used is named below the result."""
    call = ["measure", "Turned", *MEASURE[2:], "--mistake", "gain-moved:2=1.3"]
    ended = here(call, capsys)
    assert ended.status == 0
    assert "loopback measure turned --again 02 --simulate quarry-lamp" in ended.out


def test_answers_are_read_until_one_fits(capsys: Capture) -> None:
    """Letters in any case, Enter for the default, anything else is asked again."""
    ask = Ask("Again?", (Choice("repeat", "r", "[r]epeat"), Choice("keep", "k", "[k]eep")), "keep")
    typed = iter(["x", "R", "", "keep it"])
    hands = TerminalHands(Screen(), asks=True, read=lambda _question: next(typed))
    assert [hands.ask(ask) for _ in range(3)] == ["repeat", "keep", "keep"]
    assert TerminalHands(Screen(), asks=False).ask(ask) == "keep"


def test_screen_of_the_hands_fits_eighty_columns(capsys: Capture) -> None:
    """Long names, long findings: broken between words; the mark stands at the right end."""
    hands = TerminalHands(Screen(), asks=False)
    hands.show(Show("Do this and that. " * 9, 3, 10, "OUT 1 --lead-- IN 1", ("Careful. " * 15,)))
    hands.take(1)
    hands.take(2)
    hands.tell(Tell("repeats within 0.001 dB", "good"))
    hands.take(3)
    hands.tell(Tell("a long finding with many words " * 4, "bad", ("what it means " * 9,)))
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines)) <= 80
    assert (
        "      take 1 ########  take 2 ########   repeats within 0.001 dB            good" in lines
    )
    assert "      take 3 ########" in lines
    assert any(line.startswith("      ! a long finding") for line in lines)


def test_level_meter_moves_only_where_somebody_watches(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Full scale fills the bar; nothing is written to a pipe."""
    assert meter_line(0.5, 1.0).count("#") == 30
    assert "TOO HOT" in meter_line(0.5, 1.0)
    assert meter_line(0.5, 10 ** (-30 / 20)).count("#") == 15
    assert "nothing" in meter_line(0.0, 0.0)
    assert all(len(meter_line(1.0, peak)) <= 80 for peak in (0.0, 1e-9, 0.1, 2.0))
    LevelMeter(Screen())(0.5, 0.1)
    assert capsys.readouterr().err == ""
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    meter = LevelMeter(Screen())
    for done in (0.0, 0.5, 1.0):
        meter(done, 0.1)
    assert "peak" in capsys.readouterr().err


@pytest.mark.needs("tty")
def test_in_a_real_terminal(place: Path) -> None:
    """Every question is answered from a keyboard: a lamp, a mistake put right, and the result."""
    import pty

    call = [sys.executable, "-m", "loopback", *MEASURE[:-1], "--mistake", "coupler-left-in:2"]
    call[call.index("Quarry Lamp")] = "Terminal"
    child, end = pty.fork()
    if child == 0:
        os.execvpe(call[0], call, {**environment(TERM="xterm", COLUMNS="80"), "PWD": str(place)})
    answers = [
        (b"[Enter] starts", b"\n"),
        (b"Is its lamp lit?", b"d\n"),
        (b"[r]epeat", b"r\n"),
        (b"[Enter] starts", b"\n"),
        (b"Lamp?", b"l\n"),
        (b"[Enter] starts", b"\n"),
        (b"[Enter] starts", b"\n"),
    ]
    said = b""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        if not select.select([end], [], [], 60)[0]:
            break
        try:
            part = os.read(end, 4096)
        except OSError:
            break
        if not part:
            break
        said += part
        if answers and answers[0][0] in said.rpartition(b"\0")[2]:
            os.write(end, answers.pop(0)[1])
            said += b"\0"
    os.close(end)
    _, status = os.waitpid(child, 0)
    assert os.waitstatus_to_exitcode(status) == 0, said.decode()
    assert answers == []
    document = ExaminationFolder.open(place / "terminal").document
    assert [run.repeats for run in document.runs][:3] == ["", "", "02"]
    lamps = [run.label.lamp for run in document.counting_runs() if run.label.power == "on"]
    assert lamps == ["dark", "lit"]
    assert b"TERMINAL in bypass" in said
    assert str(ROOT) not in said.decode()
