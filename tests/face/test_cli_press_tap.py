"""press and tap as a user calls them: on the simulator, piped, in every encoding."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from loopback.cli import watching
from loopback.examination.folder import ExaminationFolder
from loopback.report.press_lines import MOST_LINES
from loopback.report.records import Facts
from loopback.rig.protocol import Recorded, RigFacts, RunRequest
from loopback.rig.simulated import simulated_rig
from tests.reference.command_line import here, in_process

Capture = pytest.CaptureFixture[str]
FEW = ["--presses", "8", "--tone-presses", "4", "--rest", "5"]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A place with one measured pedal."""
    place = tmp_path_factory.mktemp("bench")
    call = ["measure", "Harbour Bell", "--simulate", "harbour-bell", "--plan", "quick"]
    done = in_process([*call, "--rate", "48k", "--seconds", "1", "--yes"], place)
    assert done.status == 0, done.err
    return place


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_press_says_what_the_footswitch_does(place: Path, encoding: str) -> None:
    """One block of at most 20 lines and 80 columns; the recordings are added, the result stays."""
    before = ExaminationFolder.open(place / "harbour-bell").document
    call = ["press", "harbour-bell", "--simulate", "harbour-bell", *FEW]
    done = in_process(call, place, encoding)
    assert (done.status, done.err) == (0, "")
    lines = done.out.splitlines()[1:]
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("HARBOUR BELL, footswitch")
    assert "8 of 8 presses heard" in lines[0]
    assert "Effect on: 4 of 4 pop" in done.out
    assert "by the level of the tone" in " ".join(done.out.split())
    assert "Consistent with a capacitor that leaks" in " ".join(done.out.split())
    document = ExaminationFolder.open(place / "harbour-bell").document
    assert document.runs[: len(before.runs)] == before.runs
    added = document.runs[-1]
    assert [r.kind for r in added.recordings] == ["presses", "presses"]
    assert document.counting_runs() == before.counting_runs()


def test_facts_hold_every_figure(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """The JSON has unit, interval and definition of each figure, and fits its own type."""
    monkeypatch.chdir(place)
    here(["press", "harbour-bell", "--simulate", "harbour-bell", *FEW], capsys)
    text = here(["show", "harbour-bell", "--json"], capsys).out
    facts = msgspec.json.decode(text, type=Facts)
    switch = facts.footswitch
    assert switch is not None
    assert (switch.unit, switch.level_unit, switch.known_by) == ("V", "dBV", "level")
    peak = switch.lit.peak
    assert peak is not None
    assert peak.median.low95 is not None
    assert peak.median.value is not None
    assert peak.median.low95 < peak.median.value
    assert peak.silence_99 is not None
    assert peak.median.value > peak.silence_99
    raw = json.loads(text)["footswitch"]
    named = {name for key in raw["definitions"] for name in key.split(", ")}
    figures = {name for name, value in raw["lit"].items() if isinstance(value, dict)}
    assert figures - {"rested_peak", "rested_dc_step"} <= named


def test_tap_writes_one_line_per_event(place: Path) -> None:
    """Piped: moment, length, change; three joints that let go, and nothing else."""
    call = ["tap", "harbour-bell", "--simulate", "kit-cold-joint", "--seconds", "13"]
    done = in_process(call, place)
    assert (done.status, done.err) == (0, "")
    events = done.out.splitlines()
    assert [float(line.split()[0]) for line in events] == pytest.approx([3.2, 7.5, 11.0], abs=0.02)
    assert "drops out" in events[2]
    assert all("dB" in line and len(line) <= 80 for line in events)


def test_a_steady_line_has_no_events(place: Path) -> None:
    """A sound pedal: nothing on standard output but that."""
    call = ["tap", "harbour-bell", "--simulate", "harbour-bell", "--seconds", "3"]
    done = in_process(call, place)
    assert (done.status, done.err) == (0, "")
    assert done.out.splitlines() == ["Steady: nothing moved while it was watched."]


def test_endings(place: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """No such folder, no interface, nobody to answer: each with its status and the way on."""
    monkeypatch.chdir(place)
    for verb in ("press", "tap"):
        gone = here([verb, "nowhere", "--simulate", "harbour-bell"], capsys)
        assert gone.status == 1
        assert "It is not the folder of a pedal." in gone.err
        alone = here([verb, "harbour-bell", "--yes"], capsys)
        assert alone.status == 1
        assert "loopback setup" in alone.err
        assert here([verb, "harbour-bell"], capsys).status == 2
        assert here([verb, "harbour-bell", "--simulate", "no-such-pedal"], capsys).status == 2


class TableWithHands:
    """An interface, played by the simulator, that tells how far it is as a stream does."""

    def __init__(self, progress: Callable[[float, float], None]) -> None:
        self._rig = simulated_rig("harbour-bell", 3)
        self._progress = progress

    def facts(self) -> RigFacts:
        """Those of the simulator, but the high-pass is not known, as it never is at first."""
        return replace(self._rig.facts(), corner_hz=None)

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """First the stream runs, then what it recorded is there."""
        for part in range(1001):
            self._progress(part / 1000, 0.01)
        yield from self._rig.play(request)


def test_hands_are_led_through(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """With an interface: cautions first, one line per press on its beat, the rests between."""
    monkeypatch.chdir(place)
    monkeypatch.setattr(watching, "_device", lambda _words, progress: TableWithHands(progress))
    done = here(["press", "harbour-bell", "--yes", *FEW], capsys)
    assert done.status == 0
    lines = [line.strip() for line in done.out.splitlines()]
    assert lines.index("CAUTION") < next(i for i, x in enumerate(lines) if x.startswith("1/2"))
    beats = [line for line in lines if line.startswith(("press  ", "hands off"))]
    half = [f"press  {n}/8" for n in range(1, 9)]
    assert beats[:10] == ["hands off, 5 s", *half[:5], "hands off, 5 s", *half[5:]]
    assert beats[10:13] == ["hands off, 2 s", "press  1/4", "press  2/4"]
    drawn = next(line for line in lines if line.startswith("OUT 1"))
    assert "[100k]-> IN [Harbour Bell] OUT -return lead-- IN 1" in drawn
    assert "No DC step without the input's high-pass" in " ".join(done.out.split())
    assert max(map(len, done.out.splitlines())) <= 80
    tapped = here(["tap", "harbour-bell", "--yes", "--seconds", "4"], capsys)
    assert tapped.status == 0
    assert "CAUTION" in tapped.out
    assert "tap and bend now, 4 s" in tapped.out
