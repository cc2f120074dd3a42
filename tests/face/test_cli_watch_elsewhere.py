"""Presses and taps recorded elsewhere: written, played by something else, added, read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.arrays import F64
from loopback.errors import DocumentError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.watch_file import read_watch_sheet
from loopback.examination.wav import read_samples
from loopback.examination.wav24 import wav24_chunks
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal
from loopback.signal.watch import Watch, render_watch
from loopback.signal.watch_sheet import decode_watch_sheet
from loopback.switching.placed import place_watch
from tests.reference.command_line import in_process

RATE = 48_000
HOW = ["--path", "pedal", "--power", "on", "--position", "a", "--feed", "resistor"]


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A place with one measured pedal and the files to play."""
    place = tmp_path_factory.mktemp("elsewhere")
    calls = (
        ["measure", "Harbour Bell", "--simulate", "harbour-bell", "--plan", "quick",
         "--rate", "48k", "--seconds", "1", "--yes"],
        ["signal", "pressing.wav", "--rate", "48k", "--presses", "8", "--rest", "5"],
        ["signal", "toned.wav", "--rate", "48k", "--presses", "6", "--tone", "--rest", "2"],
        ["signal", "tapping.wav", "--rate", "48k", "--tap", "13"],
    )  # fmt: skip
    for call in calls:
        done = in_process(call, place)
        assert done.status == 0, done.err
    return place


def recorded_by_hand(place: Path, played: str, name: str, pedal: str, late_s: float) -> F64:
    """Somebody starts a recorder, then the player: the simulated line, later and in noise."""
    watch = read_watch_sheet(place / played).watch
    label = RunLabel("pedal", "resistor", "on", "a", None, 100e3, 0.01)
    request = RunRequest(label, plan_signal(RATE, 1.0), 0, watch=watch)
    samples = next(iter(simulated_rig(pedal, 2).play(request))).samples
    assert samples is not None
    quiet = 5e-6 * np.random.default_rng(1).standard_normal((round(late_s * RATE), 1))
    whole = np.concatenate([quiet, samples[:, :1], quiet])
    with (place / name).open("wb") as file:
        for chunk in wav24_chunks(whole, RATE):
            file.write(chunk)
    return samples[:, 0]


def test_presses_recorded_elsewhere_are_read(place: Path) -> None:
    """Four pops of four towards the effect, by the level of the tone, gap and all."""
    recorded_by_hand(place, "pressing.wav", "one.wav", "harbour-bell", 3.7)
    recorded_by_hand(place, "toned.wav", "two.wav", "harbour-bell", 1.3)
    first = in_process(
        ["add", "harbour-bell", "one.wav", "--press", "--signal", "pressing.wav", *HOW], place
    )
    assert first.status == 0, first.err
    run_id = ExaminationFolder.open(place / "harbour-bell").document.runs[-1].id
    assert f"--run {run_id}" in first.out + first.err
    second = in_process(
        ["add", "harbour-bell", "two.wav", "--press", "--signal", "toned.json", "--run", run_id],
        place,
    )
    assert second.status == 0, second.err
    analysis = analyse(place / "harbour-bell")
    figures = analysis.footswitch
    assert figures is not None
    assert (figures.lit.presses, figures.lit.pops) == (4, 4)
    assert figures.known_by == "level"
    assert len(figures.contacts) == 6
    assert figures.lit.gap_s is not None
    assert figures.lit.gap_s.median.value == pytest.approx(5e-3, abs=4e-3)
    assert any(fault.code == "capacitor_leak" for fault in analysis.faults)
    assert "footswitch_noise" not in analysis.result.not_tested
    assert "flexing" in analysis.result.not_tested


def test_taps_recorded_elsewhere_are_read(place: Path) -> None:
    """The only document of that kind is found; three joints at their moments."""
    recorded_by_hand(place, "tapping.wav", "bent.wav", "kit-cold-joint", 2.2)
    done = in_process(["add", "harbour-bell", "bent.wav", "--tap", *HOW], place)
    assert done.status == 0, done.err
    analysis = analyse(place / "harbour-bell")
    assert analysis.taps is not None
    assert [e.at_s for e in analysis.taps.events] == pytest.approx([3.2, 7.5, 11.0], abs=0.03)
    assert "flexing" not in analysis.result.not_tested


def test_what_cannot_be_is_said(place: Path, tmp_path: Path) -> None:
    """Two documents that fit, one of the other kind, no folder yet, a damaged document."""
    recorded_by_hand(place, "tapping.wav", "again.wav", "harbour-bell", 0.5)
    both = in_process(["add", "harbour-bell", "again.wav", "--press", *HOW], place)
    assert both.status == 2
    assert "2 documents fit" in both.err
    other = in_process(
        ["add", "harbour-bell", "again.wav", "--press", "--signal", "tapping.wav", *HOW], place
    )
    assert other.status == 2
    assert "is for tap, not for presses" in other.err
    fresh = in_process(["add", "nobody", "again.wav", "--tap", *HOW, "--resistor", "100k"], place)
    assert fresh.status == 2
    twice = in_process(["signal", "x.wav", "--presses", "8", "--tap", "5"], place)
    assert twice.status == 2
    there = in_process(["signal", "tapping.wav", "--tap", "5"], place)
    assert there.status == 1
    assert "exists already" in there.err
    with pytest.raises(DocumentError, match="presses"):
        decode_watch_sheet(
            b'{"format":"loopback-watch","version":1,"watch":{"steady":true,"presses":999},'
            b'"rate_hz":48000}',
            "x.json",
        )
    with pytest.raises(DocumentError, match="cannot be read"):
        read_watch_sheet(tmp_path / "gone.wav")


@pytest.mark.parametrize("late_s", [0.0, 0.41, 7.3])
@pytest.mark.parametrize("steady", [True, False])
def test_the_first_mark_is_found(late_s: float, steady: bool) -> None:
    """To 20 ms, however late, with pops twenty times as large as the mark, and in noise."""
    watch = Watch(steady=steady, presses=4, rest_s=2.0)
    x = render_watch(watch, RATE)
    rng = np.random.default_rng(3)
    for at in (3.0, 4.5, 6.0):
        x[round(at * RATE) : round((at + 0.01) * RATE)] += 2.0 * rng.standard_normal(480)
    late = round(late_s * RATE)
    whole = np.concatenate([np.zeros(late), x, np.zeros(RATE)])
    whole += 1e-4 * rng.standard_normal(len(whole))
    cut = place_watch(whole, RATE, watch)
    assert len(whole) - len(cut) == pytest.approx(late, abs=0.02 * RATE)


def test_silence_is_left_as_it_is() -> None:
    """Where no mark is found nothing is cut."""
    x = np.zeros(RATE)
    assert place_watch(x, RATE, Watch(steady=False)) is x
    short = np.ones(100)
    assert place_watch(short, RATE, Watch(steady=False)) is short


def test_files_hold_what_they_say(place: Path) -> None:
    """The file is the watch itself, 24 bits."""
    samples, rate = read_samples(place / "pressing.wav")
    sheet = read_watch_sheet(place / "pressing.wav")
    assert rate == sheet.rate_hz == RATE
    assert np.max(np.abs(samples[:, 0] - render_watch(sheet.watch, RATE))) < 2**-23
