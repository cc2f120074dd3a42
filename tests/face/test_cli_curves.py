"""`export`, `player` and `meter` as a user calls them."""

from __future__ import annotations

import csv
import os
import re
import sys
from pathlib import Path

import pytest
import skrf

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.facts import Analysis
from loopback.guided.plan_runner import play_plan
from loopback.plan.plans import PLANS, TableFacts
from loopback.player.chain import Leads, find_chain
from loopback.player.device import shunt_device
from loopback.player.pickup import Amplifier
from loopback.quantity import Estimate
from loopback.report.player_table import player_screen
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal
from tests.reference.command_line import ROOT, Called, environment, here

Analyses = dict[str, Analysis]


@pytest.fixture(scope="module")
def analysed(tmp_path_factory: pytest.TempPathFactory) -> Analyses:
    """Two pedals, analysed once: a pulldown with a load plug, a buffer by the quick plan."""
    found: Analyses = {}
    for name, plan in (("quarry-lamp", "full"), ("salt-lantern", "quick")):
        rig = simulated_rig(name, 1)
        setup = Setup("simulator", resistor_ohm=100e3, resistor_tolerance=0.01)
        path = tmp_path_factory.mktemp("curves") / name
        folder = ExaminationFolder.create(path, Pedal(name), setup, plan_signal(48_000, 1.0))
        facts = TableFacts(bypass="a", resistor_ohm=100e3, resistor_tolerance=0.01)
        chosen = next(p for p in PLANS.values() if p.name == plan)
        play_plan(folder, rig, chosen, facts)
        found[name] = analyse(path)
    return found


@pytest.fixture
def place(analysed: Analyses, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder in which both pedals seem to lie; what was analysed is not analysed again."""
    for command in ("export", "player", "show"):
        monkeypatch.setattr(
            f"loopback.cli.{command}.analysed",
            lambda _screen, folder, *_more: analysed[folder.name],
        )
    monkeypatch.chdir(tmp_path)
    for name in analysed:
        (tmp_path / name).mkdir()
    return tmp_path


def _fits(called: Called) -> None:
    assert called.status == 0, called.err
    assert called.err == ""
    assert max(len(line) for line in called.out.splitlines()) <= 80


def test_export_writes_curves_and_matrix(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One table for each run, and a matrix that another program reads: 1 MΩ across, 600 Ω ports."""
    called = here(["export", "quarry-lamp", "--into", "out"], capsys)
    assert (called.status, called.err) == (0, "")
    names = {p.name for p in (place / "out").iterdir()}
    assert names == {Path(line).name for line in called.out.splitlines()}
    assert {"matrix.csv", "matrix.s2p", "insertion-02.csv", "noise-03.csv"} <= names
    network = skrf.Network(str(place / "out" / "matrix.s2p"))
    at = abs(network.f - 1000.0).argmin()
    conductance = skrf.network.s2a(network.s, network.z0)[at, 1, 0].real
    assert conductance == pytest.approx(1e-6, rel=0.03)
    with (place / "out" / "insertion-02.csv").open(encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    assert head[:2] == ["frequency (Hz)", "level (dB)"]
    assert len(rows) > 300


def test_export_without_a_matrix_says_why(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A quick plan gives tables and a line that says what a matrix takes; once only."""
    called = here(["export", "salt-lantern"], capsys)
    assert called.status == 0
    assert "it takes both leads and a load plug" in called.out
    curves = place / "salt-lantern" / "curves"
    assert (curves / "insertion-02.csv").exists()
    assert not (curves / "matrix.s2p").exists()
    again = here(["export", "salt-lantern"], capsys)
    assert again.status == 1
    assert "exists already" in again.err


def test_player_finds_the_first_buffer(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A row of pedals on a console without signs: the buffer is named, everything fits."""
    row = ["player", "quarry-lamp", "salt-lantern", "--lead", "3m", "--amp-lead", "6m", "--plain"]
    called = here(row, capsys)
    _fits(called)
    said = " ".join(called.out.split())
    assert "quarry-lamp -> salt-lantern" in said
    assert "The first buffer is salt-lantern, number 2" in said
    assert "6 m to the amplifier of 1.00 Mohm and 100 pF" in said
    most = re.search(r"at most \+([\d.]+) dB \+/- \d\.\d+, at", said)
    assert most is not None
    # 6 m behind a buffer are off the pickup: a resonance that was at 2.7 kHz is near 4 kHz again
    assert float(most[1]) > 4


@pytest.mark.parametrize("signs", [True, False])
def test_player_screen_of_one_pedal(signs: bool) -> None:
    """One pedal: both pickups, levels and what was assumed, within 80 columns."""
    light = shunt_device(Estimate(12e-12, 0.5e-12, "farad"), Estimate(1e-6, 1e-8, "siemens"))
    text = player_screen(find_chain([light]), ["Lamp"], Leads(), Amplifier(), signs=signs)
    said = " ".join(text.split())
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "It does not buffer: all 3 m of lead" in said
    assert said.count("pickup peak 3.98") == 1
    assert ("MΩ" in text, "±" in text, "→" in text) == (signs, signs, signs)
    assert re.search(r"kHz +0\.2 +1 +2 +3 +4 +5 +7 +10", text)


def test_player_refuses_what_is_no_length(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A comma and an impossible length are refused with an example."""
    for length in ("3,5m", "500m", "long"):
        called = here(["player", str(place / "quarry-lamp"), "--lead", length], capsys)
        assert called.status == 2
        assert called.err.startswith("! ")


def test_show_has_the_player_line_and_all_numbers_the_matrix(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The result screen says what a player gets; with --all the matrix and its witness."""
    shown = here(["show", "quarry-lamp", "--all"], capsys).out
    said = " ".join(shown.split())
    assert re.search(r"For a player +at most -0\.8\d dB ± 0\.0\d, at 4\.\d+ kHz ± 0\.0\d", shown)
    assert re.search(r"AD - BC = (1\.00|0\.99)\d+ ± 0\.00\d+, from a second load", said)
    assert "from a reversed run" in said
    assert "measured at the coupler" in said


@pytest.mark.parametrize(
    ("what", "line"),
    [
        ("lead:3m", r"30\d pF ± 4 +over 1\d0 MΩ +steady"),
        ("1M", r"under 1\.\d pF +\d\.\d+ MΩ ± 0\.014 +steady"),
        ("quarry-lamp", r"1[123]\.\d pF ± 1\.\d +\d\.\d+ MΩ ± 0\.014 +steady"),
        ("1Ω", r"nothing passes \(-\d+ dB\)"),
    ],
)
def test_meter_reads_line_by_line(
    what: str, line: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Piped, each reading is a line; as many as asked for."""
    called = here(["meter", "--simulate", what, "--count", "4"], capsys)
    _fits(called)
    lines = [text for text in called.out.splitlines() if re.match(r" +\d+\.\d s ", text)]
    assert len(lines) == 4
    assert re.search(line, lines[-1]), lines[-1]


def test_meter_keeps_a_log_and_overwrites_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The log has a row for each reading with its uncertainty; an existing file is refused."""
    log = tmp_path / "wiggle.csv"
    words = ["meter", "--simulate", "wiggle", "--count", "12", "--log", str(log)]
    assert here(words, capsys).status == 0
    head, *rows = csv.reader(log.read_text(encoding="utf-8").splitlines())
    assert head[:3] == ["time (s)", "capacitance (F)", "u of it (F)"]
    assert len(rows) == 12
    assert {row[-1] for row in rows} >= {"waiting", "steady"}
    before = log.read_bytes()
    again = here(words, capsys)
    assert again.status == 1
    assert "exists already" in again.err
    assert log.read_bytes() == before


@pytest.mark.parametrize("what", ["100", "nothing-like-it", "lead:3"])
def test_meter_refuses_what_it_cannot_simulate(
    what: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is neither part nor pedal is refused; a bare number of ohms is a part."""
    called = here(["meter", "--simulate", what, "--count", "1"], capsys)
    assert called.status == (0 if what == "100" else 2)


def test_meter_needs_somebody_to_plug(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a simulated part and without a terminal there is nobody to take zero."""
    called = here(["meter"], capsys)
    assert called.status == 2
    assert "add --simulate" in called.err


def test_meter_keys_on_a_terminal(tmp_path: Path) -> None:
    """On a terminal H holds, Enter takes zero again, Q quits and leaves the terminal as it was."""
    import pty

    child, terminal = pty.fork()
    if child == 0:
        os.chdir(tmp_path)
        words = [sys.executable, "-m", "loopback", "meter", "--simulate", "lead:3m", "--plain"]
        os.execve(sys.executable, words, environment(COLUMNS="80"))
    said = ""
    waited_for = [("steady", b"h"), ("held", b"h"), ("steady", b"\n"), ("steady", b"q"), ("", b"")]
    place = 0
    while waited_for:
        try:
            said += os.read(terminal, 4096).decode()
        except OSError:  # the other end is closed
            break
        word, key = waited_for[0]
        if word and word in said[place:]:
            place = len(said)
            os.write(terminal, key)
            waited_for.pop(0)
    _, status = os.waitpid(child, 0)
    os.close(terminal)
    assert os.waitstatus_to_exitcode(status) == 0
    assert said.count("zero: setup") == 2
    assert "held" in said
    assert re.search(r"as 3\.0\d m \+/- 0\.0\d of lead", said)
    assert max(len(line) for line in re.split(r"[\r\n]+", said)) <= 80
    assert str(ROOT) not in said
