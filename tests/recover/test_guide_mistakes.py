"""Mistakes of the hands, made on the simulator: told at once, put right by one choice."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from loopback.examination.folder import ExaminationFolder
from loopback.plan.events import Key
from loopback.plan.plans import PLANS, Plan
from loopback.rig.simulated import SimulatedRig, read_mistake, simulated_rig
from loopback.simulate.damage import zero_block
from loopback.simulate.scenario import Damage, Scenario
from tests.reference.scripted_hands import ScriptedHands, short_plan, sit_down


def picked(*numbers: int) -> Plan:
    """Some runs of the standard plan, without silences."""
    plan = short_plan("standard")
    return replace(plan, steps=tuple(plan.steps[n - 1] for n in numbers))


R_REF, FOUND, PRESSED, OFF_B, OFF_A, R_END, P_REF, P_OFF, P_ON, P_END = range(1, 11)

CASES: dict[str, tuple[str, tuple[int, ...], Key, str]] = {
    # mistake, run numbers of the standard plan, what the user answers, what was told
    "coupler left in": ("coupler-left-in:2", (R_REF, FOUND), "repeat", "coupler still seems"),
    "resistor forgotten": ("resistor-forgotten:1", (R_REF,), "repeat", "plain lead still seems"),
    "resistor left in": ("resistor-left-in:2", (R_REF, P_REF), "repeat", "resistor lead still"),
    "line input": ("line-input:1", (R_REF,), "repeat", "INST (Hi-Z) is off"),
    "press did not latch": (
        "effect-engaged:3", (R_REF, FOUND, PRESSED), "press", "press did not latch",
    ),
    "unpowered press did not latch": (
        "effect-engaged:5", (R_REF, FOUND, PRESSED, OFF_B, OFF_A), "press",
        "needs power to pass, or the footswitch",
    ),
    "effect for bypass": (
        "effect-engaged:5", (R_REF, FOUND, PRESSED, P_REF, P_ON), "press",
        "stands in its other position",
    ),
    "power left on": (
        "power-left-on:4", (R_REF, FOUND, PRESSED, OFF_B), "repeat", "still in",
    ),
    "power never arrived": (
        "power-missing:3", (R_REF, FOUND, PRESSED, OFF_B), "back", "no power arrived",
    ),
    "knob turned for one run": ("gain-moved:2=1.3", (R_REF, FOUND), "repeat", "exchanged"),
    "knob turned on the way": ("gain-moved:3=1.3", (R_REF, FOUND, R_END), "repeat", "knob was"),
    "digital return": ("digital-return:1", (R_REF,), "repeat", "No analogue input is that exact"),
    "direct monitoring": ("direct-monitoring:1=-20", (R_REF,), "repeat", "monitoring"),
    "wrong channel": ("wrong-channel:1", (R_REF,), "repeat", "Nothing arrives"),
    "reference and pedal exchanged": ("exchanged:1-2", (R_REF, FOUND), "back", "exchanged"),
}  # fmt: skip


@pytest.mark.parametrize("what", CASES)
def test_mistake_is_told_and_put_right(tmp_path: Path, what: str) -> None:
    """Told in the very run, with one choice; put right, every run can be used."""
    mistake, numbers, answer, words = CASES[what]
    hands = ScriptedHands([answer])
    rig = simulated_rig("quarry-lamp", mistakes=[mistake])
    folder, done = sit_down(tmp_path / "lamp", rig, picked(*numbers), hands)
    assert words in hands.all_text()
    assert len(hands.bad()) == 1
    made = len(folder.document.runs)
    counting = folder.document.counting_runs()
    assert len(counting) == len(numbers)
    assert made > len(numbers) or answer == "keep"  # the bad try is still there
    if answer != "keep":
        assert done.text.startswith(f"All {len(numbers)} runs usable.")
        assert all("!" not in tell.text for tell in hands.told)


def test_line_input_is_told_from_a_forgotten_resistor(tmp_path: Path) -> None:
    """Through the resistor both are flat; the plain lead tells, with the input's resistance."""
    hands = ScriptedHands(["keep"])
    rig = simulated_rig("quarry-lamp", mistakes=["line-input"])
    sit_down(tmp_path / "lamp", rig, picked(R_REF, P_REF), hands)
    assert hands.bad()[-1] == "run 01: the input has 10 kΩ"
    assert "Press INST" in hands.all_text()


@pytest.mark.parametrize("pedal", ["harbour-bell", "quarry-lamp", "tidal-clock", "salt-lantern"])
def test_no_alarm_without_a_mistake(tmp_path: Path, pedal: str) -> None:
    """Ordinary hands hear nothing bad, but the question about a bypass that needs power."""
    hands = ScriptedHands()
    _, done = sit_down(tmp_path / "x", simulated_rig(pedal, 3), short_plan("standard"), hands)
    assert done.complete
    needs_power = pedal == "salt-lantern"
    assert [text.startswith("Nothing passes without power") for text in hands.bad()] == (
        [True] if needs_power else []
    )
    assert hands.looks() == []


def test_bad_take_stays_and_is_taken_again(tmp_path: Path) -> None:
    """A block of zeros in mid sweep: the take is kept, marked, and one more is played."""
    damage = Damage(1, 1, partial(zero_block, start=90_000, count=256))
    hands = ScriptedHands()
    rig = SimulatedRig(Scenario("quarry-lamp", damages=(damage,)))
    folder, done = sit_down(tmp_path / "lamp", rig, picked(R_REF), hands)
    (run,) = folder.document.runs
    assert len(run.recordings) == 3
    assert hands.takes == [1, 2, 3]
    assert "Kept, marked, and taken again." in hands.all_text()
    assert done.text == "All 1 runs usable. 1 take set aside, nothing lost. Leads may come off now."


def test_mistakes_that_are_kept_are_still_the_users_choice(tmp_path: Path) -> None:
    """`keep` goes on; the label stays what was asked for, and the run is not repeated."""
    hands = ScriptedHands(["keep"])
    rig = simulated_rig("quarry-lamp", mistakes=["coupler-left-in:2"])
    folder, done = sit_down(tmp_path / "lamp", rig, picked(R_REF, FOUND), hands)
    assert done.complete
    assert [run.repeats for run in folder.document.runs] == ["", ""]


def test_stopped_anywhere_it_goes_on_from_the_folder_alone(tmp_path: Path) -> None:
    """Broken off in the middle of every run once: the end is the same as without."""

    class Broken:
        """A rig that is pulled out after a number of recordings."""

        def __init__(self, played: int, left: int) -> None:
            self.rig, self.left = simulated_rig("quarry-lamp", played=played), left

        def facts(self):  # type-checked in the package, not here
            return self.rig.facts()

        def play(self, request):
            for recorded in self.rig.play(request):
                if not self.left:
                    raise KeyboardInterrupt
                self.left -= 1
                yield recorded

    path, plan = tmp_path / "lamp", short_plan("quick")
    done = None
    played = 0
    for _ in range(20):
        try:
            folder, done = sit_down(path, Broken(played, 3), plan, ScriptedHands())
            break
        except KeyboardInterrupt:
            folder = ExaminationFolder.open(path)
            assert folder.missing == ()
            played = len(folder.document.runs)
    assert done is not None
    assert done.complete
    counting = folder.document.counting_runs()
    labels = [(run.label.path, run.label.power, run.label.position) for run in counting]
    assert sorted(map(str, labels)) == sorted(
        map(
            str,
            [
                ("coupler", None, None),
                ("pedal", "on", "a"),
                ("pedal", "on", "b"),
                ("pedal", "off", "a"),
                ("coupler", None, None),
            ],
        )
    )
    assert all(len(run.recordings) >= 2 for run in counting)
    assert any(run.repeats for run in folder.document.runs)


def test_mistakes_are_read_as_written() -> None:
    """Kind, runs, value."""
    assert read_mistake("gain-moved:4-6=1.3").value == 1.3
    one = read_mistake("coupler-left-in:2")
    assert (one.first, one.last) == (2, 2)
    every = read_mistake("line-input")
    assert (every.first, every.last) == (1, None)


def test_the_standard_plan_is_what_is_numbered_here() -> None:
    """The numbers above are those of the plan."""
    steps = PLANS["standard"].steps
    assert steps[FOUND - 1].switch == "as_found"
    assert steps[OFF_B - 1].label.power == "off"
    assert steps[P_REF - 1].label.feed == "plain"
    assert steps[P_ON - 1].label.power == "on"
    assert len(steps) == P_END
