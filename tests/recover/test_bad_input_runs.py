"""Mistakes of hook-up and handling across the runs of an examination: the exact reaction."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded
from loopback.signal.take import render_take
from loopback.simulate.scenario import Mistake
from tests.reference.damaged_examinations import (
    LONG,
    REFERENCE,
    SIGNAL,
    nothing_lost,
    noticed,
    pedal_run,
    sitting,
    store,
)


@dataclass(frozen=True)
class Case:
    """What goes wrong in which of runs 01 to 09, and all that may be said about it."""

    name: str
    mistakes: tuple[Mistake, ...]
    expected: frozenset[tuple[str, str, str]]
    number: str
    path: tuple[str, ...]


def case(
    name: str,
    mistake: Mistake,
    expected: set[tuple[str, str, str]],
    number: str,
    *path: str,
) -> Case:
    return Case(name, (mistake,), frozenset(expected), number, path)


CASES = (
    case("reference and pedal exchanged", Mistake("exchanged"),
         {("exchanged", "refuse", "02 03 04 01 05")},
         r"\+0\.7\d dB over the reference", "none", "undecided"),
    case("first reference and first pedal run exchanged", Mistake("exchanged", 1, 2),
         {("setup_moved", "refuse", "02 03 04")}, "from run 01 to 05", "none", "undecided"),
    case("gain moved up before run 02 and left there", Mistake("gain-moved", 2, None, 1.3),
         {("gain_moved", "refuse", "02 03 04")}, r"level \+1\.\d+ dB from run 01 to 05",
         "none", "undecided"),
    case("gain moved for one resistor run", Mistake("gain-moved", 2, 2, 1.3),
         {("gain_moved", "refuse", "02")}, "dB over its reference",
         "loaded", "undecided"),
    case("gain moved for one plain run without power", Mistake("gain-moved", 7, 7, 1.3),
         {("gain_moved", "refuse", "07")}, r"\+1\.30 dB at all frequencies", "loaded"),
    case("gain moved down for one plain run", Mistake("gain-moved", 8, 8, -1.3),
         {("level_offset", "look", "08")}, r"-1\.30 dB at all frequencies",
         "loaded", "undecided"),
    case("resistor lead forgotten in a reference", Mistake("resistor-forgotten", 1, 1),
         {("resistor_forgotten", "refuse", "01")}, "flat up to 15 kHz", "loaded"),
    case("resistor lead forgotten in a pedal run", Mistake("resistor-forgotten", 2, 2),
         {("resistor_forgotten", "refuse", "02")}, "the same as run 0[68]",
         "loaded", "undecided"),
    case("resistor lead left in a reference", Mistake("resistor-left-in", 6, 6),
         {("resistor_left_in", "refuse", "06")}, "the same as run 01", "loaded"),
    case("resistor lead left in a pedal run", Mistake("resistor-left-in", 7, 7),
         {("resistor_left_in", "refuse", "07")}, "the same as run 0[24]", "loaded"),
    case("line input", Mistake("line-input"),
         {("line_input", "refuse", "01"), ("line_input", "refuse", "05"),
          ("reference_missing", "refuse", "02 03 04")}, "the input has 10 kΩ", "none",
         "undecided"),
    case("coupler left in", Mistake("coupler-left-in"),
         {("equals_reference", "look", "02 03 04")}, r"within 0\.00\d dB", "none"),
    case("effect engaged instead of bypass", Mistake("effect-engaged", 2, 2),
         {("position_mixed", "look", "02")}, r"effect on in run 02, not in run 08", "undecided"),
)  # fmt: skip


@pytest.mark.parametrize("wrong", CASES, ids=lambda item: item.name)
def test_mistake_is_named_and_the_result_keeps_to_what_is_left(wrong: Case, tmp_path: Path) -> None:
    """Exactly the expected findings, all recordings kept, and no statement on spoilt runs."""
    folder = store(tmp_path, sitting(LONG, mistakes=wrong.mistakes, takes_each=1))
    analysis = analyse(folder.path)
    assert noticed(analysis) == wrong.expected
    told = [f for f in analysis.findings if re.search(wrong.number, f.number)]
    assert told
    assert all(f.action for f in told if f.grade == "refuse")
    assert nothing_lost(folder, recordings=9)
    assert analysis.result.path in wrong.path


def test_effect_engaged_in_every_run_asks_for_the_bypass(tmp_path: Path) -> None:
    """When no run but the effect passes, the bypass is asked for, not guessed."""
    labels = (REFERENCE, pedal_run("resistor", "on", "b"))
    folder = store(tmp_path, sitting(labels, "harbour-bell"))
    analysis = analyse(folder.path)
    assert noticed(analysis) == {("no_bypass_run", "look", "02")}
    told = {f.code: f for f in analysis.findings}
    assert "Press the footswitch once" in told["no_bypass_run"].action
    assert told["effect_on"].grade == "good"
    assert analysis.result.path not in ("wired", "loaded")


def test_reference_missing_is_asked_for(tmp_path: Path) -> None:
    """Pedal runs without a reference give no statement, and say which reference is lacking."""
    folder = store(tmp_path, sitting((pedal_run("resistor", "on"), pedal_run("plain", "on"))))
    analysis = analyse(folder.path)
    assert noticed(analysis) == {
        ("reference_missing", "refuse", "01"),
        ("reference_missing", "refuse", "02"),
    }
    told = {f.where: f for f in analysis.findings}
    assert told["01"].number == "no usable reference with the resistor lead"
    assert told["02"].number == "no usable reference with the plain lead"
    assert all("with the coupler" in f.action for f in told.values())
    assert analysis.result.path == "undecided"
    assert nothing_lost(folder, recordings=4)


def test_same_file_for_reference_and_pedal_is_refused(tmp_path: Path) -> None:
    """One file added to two runs refuses both, with the name it was imported under."""
    played = sitting()
    folder = store(tmp_path, replace(played, labels=(), takes=()))
    file = tmp_path / "take.wav"
    from loopback.examination.wav import write_wav24

    write_wav24(file, played.takes[0][0], SIGNAL.rate_hz)
    for label in played.labels[:2]:
        run_id = folder.append_run(label)
        folder.append_recording(run_id, Recorded("sweep", SIGNAL.rate_hz, None, file))
    analysis = analyse(folder.path)
    assert ("same_file", "refuse", "01 02") in noticed(analysis)
    told = next(f for f in analysis.findings if f.code == "same_file")
    assert told.number == "take.wav and take.wav are the same bytes"
    assert analysis.result.path in ("none", "undecided")
    assert nothing_lost(folder, recordings=2)


def test_digital_return_is_refused_as_no_analogue_input(tmp_path: Path) -> None:
    """A recording that is what was played, bit for bit, is no measurement of anything."""
    folder = store(tmp_path, sitting(mistakes=(Mistake("digital-return"),)))
    analysis = analyse(folder.path)
    exact = {f for f in noticed(analysis) if f[0] == "bit_exact"}
    assert exact == {
        ("bit_exact", "refuse", f"0{run}/{take}") for run in (1, 2, 3) for take in (1, 2)
    }
    assert analysis.result.path in ("none", "undecided")
    assert analysis.result.path != "wired"
    assert nothing_lost(folder, recordings=6)


def test_one_digital_return_leaves_the_other_runs_their_say(tmp_path: Path) -> None:
    """The signal's own file added as one more reference is refused; the rest was analogue."""
    (tmp_path / "without").mkdir()
    without = analyse(store(tmp_path / "without", sitting()).path)
    folder = store(tmp_path, sitting())
    played = np.concatenate([np.zeros(4800), render_take(SIGNAL), np.zeros(4800)])
    run_id = folder.append_run(RunLabel("coupler", "resistor"))
    folder.append_recording(run_id, Recorded("sweep", SIGNAL.rate_hz, played[:, None]))
    analysis = analyse(folder.path)
    assert ("bit_exact", "refuse", f"{run_id}/1") in noticed(analysis)
    assert analysis.result.path == without.result.path != "none"
    assert nothing_lost(folder, recordings=7)


def test_direct_monitoring_is_heard_in_the_references(tmp_path: Path) -> None:
    """A round of 1.2 ms through direct monitoring ripples the references, and says so."""
    mistake = Mistake("direct-monitoring", value=-20.0)
    folder = store(tmp_path, sitting(mistakes=(mistake,)))
    analysis = analyse(folder.path)
    told = [f for f in analysis.findings if f.code == "monitoring"]
    assert {f.where for f in told} == {"01/1", "01/2"}
    assert all(f.grade == "refuse" for f in told)
    assert all(re.search(r"one round every 1\.[23] ms", f.number) for f in told)
    assert "direct monitoring" in told[0].action
    assert analysis.result.path == "undecided"
