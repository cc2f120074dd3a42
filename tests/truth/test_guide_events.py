"""The guide by tables of events: what it asks for, in which order, and what it does on doubt."""

from __future__ import annotations

from typing import Any

import pytest

from loopback.errors import ArgumentError
from loopback.plan.events import (
    Answer,
    Ask,
    Done,
    Event,
    Notice,
    Play,
    Request,
    RunSeen,
    RunSummary,
    Show,
    Since,
    Start,
    TakeDone,
    Tell,
)
from loopback.plan.guide import advance
from loopback.plan.guide_state import GuideState, again, begin, resume
from loopback.plan.plans import PLANS, TableFacts, label_for, without_footswitch
from loopback.plan.runs import RunLabel

FACTS = TableFacts(resistor_ohm=100e3, resistor_tolerance=0.01)
LOST = Notice("samples_lost", "bad", "sound was interrupted at 2.3 s", "", "", passing=True)
CLIPPED = Notice("clipped", "bad", "37 samples at full scale", "Too hot.", "Turn it down.")


def start(plan: str = "quick") -> GuideState:
    """A guide before its first event."""
    return begin(next(p for p in PLANS.values() if p.name == plan), "Quarry Lamp", FACTS)


def summary(number: int, label: RunLabel, **changes: Any) -> RunSummary:
    """A run without any fault: two takes, everything passes, nothing is alike."""
    fields: dict[str, Any] = {
        "usable": 2,
        "recorded": 2,
        "silence": True,
        "passes": True if label.path == "pedal" else None,
        "level_db": -0.5 if label.path == "pedal" else None,
        "repeat_db": 0.001,
    }
    return RunSummary(f"{number:02d}", label, **(fields | changes))


class Table:
    """Feeds events and keeps what came back."""

    def __init__(self, state: GuideState) -> None:
        self.state = state
        self.last: tuple[Request, ...] = ()
        self.number = 0

    def feed(self, *events: Event) -> tuple[Request, ...]:
        """Take events one after the other; the requests of the last one."""
        for event in events:
            self.state, self.last = advance(self.state, event)
        return self.last

    def of(self, kind: type) -> Any:
        """The only request of a kind in the last batch."""
        (one,) = [request for request in self.last if isinstance(request, kind)]
        return one

    def play(self) -> Play:
        """Start the run that is asked for."""
        self.feed(Answer("start"))
        play: Play = self.of(Play)
        return play

    def run(self, **changes: Any) -> tuple[Request, ...]:
        """Make the next run; `changes` say what it shows."""
        play = self.play()
        self.number += 1
        return self.feed(
            TakeDone(1), TakeDone(2), RunSeen(summary(self.number, play.label, **changes))
        )


EFFECT: dict[str, Any] = {"effect": "14.0 dB louder", "bypass": "a"}


def test_quick_plan_from_end_to_end() -> None:
    """Five runs, each shown, asked and played once; references compared; then it is over."""
    table = Table(start())
    table.feed(Start())
    plays: list[Play] = []
    for changes in ({}, {"bypass": "a"}, EFFECT, {"bypass": "a"}):
        show, ask = table.of(Show), table.of(Ask)
        assert (show.number, show.total) == (len(plays) + 1, 5)
        assert ask.default == "start"
        plays.append(table.play())
        table.number += 1
        table.feed(RunSeen(summary(table.number, plays[-1].label, **changes)))
    last = table.run(since=Since("01", 0.003, 0.2e-12))
    assert Tell("since run 01: level +0.003 dB, setup capacitance +0.2 pF", "good") in last
    assert table.of(Done) == Done(True, "All 5 runs usable. Leads may come off now.")
    labels = [(p.label.path, p.label.power, p.label.position, p.silence_s) for p in plays]
    assert labels == [
        ("coupler", None, None, 0.0),
        ("pedal", "on", "a", 0.0),
        ("pedal", "on", "b", 10.0),
        ("pedal", "off", "a", 0.0),  # in bypass, which the data have told
    ]
    assert all(p.takes == 2 and not p.repeats and not p.into for p in plays)


def test_cautions_are_given_once_where_they_apply() -> None:
    """Ears, 48 V, monitoring and resistor before the first run; power before the first without."""
    table = Table(start("standard"))
    cautions = []
    table.feed(Start())
    for number in range(8):
        cautions.append(" ".join(table.of(Show).cautions))
        table.run(**(EFFECT if number == 2 else {"bypass": "a"}))
    for word in ("Headphones", "loudspeakers", "48 V", "monitoring", "resistor lead", "Tape"):
        assert word in cautions[0]
    assert "battery out" in cautions[3]
    assert "plain lead drives the pedal directly" in cautions[7]
    assert [bool(text) for text in cautions] == [
        True,
        False,
        False,
        True,
        False,
        False,
        False,
        True,
    ]


def test_drawing_changes_only_where_the_hands_must() -> None:
    """Runs 1, 2, 6, 7, 8 and 10 of the standard plan are drawn; presses and power are not."""
    table = Table(start("standard"))
    table.feed(Start())
    drawn = []
    for number in range(1, 11):
        show: Show = table.of(Show)
        if show.drawing:
            drawn.append(number)
            assert len(show.drawing) + 6 <= 80
        table.run(**(EFFECT if number == 3 else {"bypass": "a"}))
    assert drawn == [1, 2, 6, 7, 8, 10]


def test_words_say_only_what_changes() -> None:
    """Each instruction of the standard plan for a pedal that was found in bypass."""
    table = Table(start("standard"))
    table.feed(Start())
    said = []
    for number in range(1, 11):
        said.append(table.of(Show).text)
        table.run(**(EFFECT if number == 3 else {"bypass": "a"}))
    assert said == [
        "Coupler, resistor lead.",
        "Pedal in place of the coupler. Power on. Footswitch: as it is.",
        "Press the footswitch once. Nothing else.",
        "Take the power plug out, and the battery if there is one. Do not press anything.",
        "Press the footswitch once. Nothing else.",
        "Coupler in place of the pedal.",
        "Plain lead in place of the resistor lead. Coupler stays.",
        "Pedal in place of the coupler. Still no power. Do not press anything.",
        "Power on. Do not press anything.",
        "Coupler in place of the pedal.",
    ]


def test_quick_presses_once_to_be_in_bypass() -> None:
    """Found in bypass, then pressed: without power one press brings it back; else none does."""
    for bypass, words in (("a", "Press the footswitch once"), ("b", "Do not press anything")):
        table = Table(start())
        table.feed(Start())
        table.run()
        shows = ({"bypass": bypass}, {"bypass": bypass})
        for changes in shows:
            table.run(**changes)
        assert words in table.of(Show).text
        assert table.play().label.position == bypass


def test_lamp_is_asked_for_noted_and_used() -> None:
    """A note in the label; once there is none nobody asks; power on is checked by it."""
    table = Table(start("standard"))
    table.feed(Start())
    table.run()
    assert [choice.key for choice in table.of(Ask).choices][:3] == ["lit", "dark", "none"]
    table.feed(Answer("dark"))
    play: Play = table.of(Play)
    assert play.label.lamp == "dark"
    table.feed(RunSeen(summary(2, play.label, bypass="a")))
    table.feed(Answer("lit"))
    table.feed(RunSeen(summary(3, table.of(Play).label, **EFFECT)))
    table.number = 3
    for _ in range(5):
        table.run(bypass="a")
    assert table.of(Show).text == "Power on. Its lamp should be dark; if it is lit, press once."


def test_no_lamp_is_asked_for_once() -> None:
    """Whoever said that there is none is not asked again."""
    table = Table(start())
    table.feed(Start())
    table.run()
    table.feed(Answer("none"))
    table.feed(RunSeen(summary(2, table.of(Play).label, bypass="a")))
    assert {choice.key for choice in table.of(Ask).choices} == {"start", "back", "quit"}
    assert table.play().label.lamp == "none"


def test_an_interrupted_take_is_kept_and_played_again() -> None:
    """Only what is missing is played, into the same run, and twice at most."""
    table = Table(start())
    table.feed(Start())
    label = table.play().label
    told = table.feed(TakeDone(1, LOST))
    assert told == (
        Tell("take 1: sound was interrupted at 2.3 s", "look", ("Kept, marked, and taken again.",)),
    )
    table.feed(TakeDone(2), RunSeen(summary(1, label, usable=1, recorded=2)))
    assert table.of(Play) == Play(label, 1, 0.0, "01")
    table.feed(TakeDone(3, LOST), RunSeen(summary(1, label, usable=1, recorded=3)))
    assert table.of(Play) == Play(label, 1, 0.0, "01")
    table.feed(TakeDone(4, LOST), RunSeen(summary(1, label, usable=1, recorded=4)))
    assert not [request for request in table.last if isinstance(request, Play)]
    assert table.of(Show).number == 2  # one take is enough to go on


def test_no_usable_take_is_a_choice_and_no_endless_loop() -> None:
    """What a repeat cannot cure is told once with its action; the user decides."""
    table = Table(start())
    table.feed(Start())
    label = table.play().label
    table.feed(TakeDone(1, CLIPPED), TakeDone(2, CLIPPED))
    assert table.last == ()
    table.feed(RunSeen(summary(1, label, usable=0, repeat_db=None)))
    assert table.last[0] == Tell("37 samples at full scale", "bad", ("Too hot.", "Turn it down."))
    assert [choice.key for choice in table.of(Ask).choices] == ["repeat", "keep", "quit"]
    table.feed(Answer("repeat"), Answer("start"))
    assert table.of(Play).repeats == "01"
    table.feed(RunSeen(summary(2, label)))
    assert Tell("Both tries are kept; the later one counts.") in table.last
    assert table.of(Show).number == 2


def test_a_run_is_doubted_three_times_at_most() -> None:
    """After that it is kept, and the plan goes on."""
    table = Table(start())
    table.feed(Start())
    label = table.play().label
    for number in range(1, 4):
        table.feed(TakeDone(1, CLIPPED), RunSeen(summary(number, label, usable=0)))
        table.feed(Answer("repeat"), Answer("start"))
    table.feed(TakeDone(1, CLIPPED), RunSeen(summary(4, label, usable=0)))
    assert table.of(Show).number == 2


def test_back_makes_the_run_before_again() -> None:
    """The earlier one is replaced, and the plan then goes on where it was."""
    table = Table(start())
    table.feed(Start())
    table.run()
    table.feed(Answer("back"))
    assert table.of(Show).number == 1
    play = table.play()
    assert play.repeats == "01"
    table.feed(RunSeen(summary(2, play.label)))
    assert table.of(Show).number == 2


def test_back_from_a_doubt_makes_both_again() -> None:
    """Exchanged runs: the reference is made again, then the pedal's."""
    table = Table(start())
    table.feed(Start())
    table.run()
    swapped = Notice("exchanged", "look", "+0.75 dB over the reference", "Exchanged?", "")
    table.run(notices=(swapped,))
    assert "back" in {choice.key for choice in table.of(Ask).choices}
    table.feed(Answer("back"))
    play = table.play()
    assert (play.label.path, play.repeats) == ("coupler", "01")
    table.feed(RunSeen(summary(3, play.label)))
    play = table.play()
    assert (play.label.path, play.repeats) == ("pedal", "02")


@pytest.mark.parametrize("when", ["hook_up", "doubt"])
def test_stopping_says_what_is_kept(when: str) -> None:
    """Wherever one stops: how many runs are there, and that the same command goes on."""
    table = Table(start())
    table.feed(Start())
    table.run()
    if when == "doubt":
        table.run(usable=0)
    table.feed(Answer("quit"))
    done: Done = table.of(Done)
    assert not done.complete
    assert "the same command goes on" in done.text
    with pytest.raises(ArgumentError, match="does not belong"):
        table.feed(Answer("start"))


def test_resuming_needs_the_runs_and_nothing_else() -> None:
    """On another day: all that is connected is said anew, the position by its lamp."""
    plan = PLANS["standard"]
    known = TableFacts("a", "dark", 100e3, 0.01)
    runs = [summary(i, label_for(plan.steps[i - 1], known), bypass="a") for i in range(1, 9)]
    state = resume(start("standard"), runs)
    assert state.made == tuple(runs)
    table = Table(state)
    table.feed(Start())
    show: Show = table.of(Show)
    assert show.number == 9
    assert show.cautions
    assert show.drawing
    assert show.text == (
        "Pedal, plain lead. Power on. Its lamp should be dark; if it is lit, press once."
    )
    assert table.play().label.position == "a"


def test_a_run_that_was_broken_off_is_made_again() -> None:
    """Fewer takes than asked for, or none usable: its step is open, and the new run replaces it."""
    plan = PLANS["quick"]
    first = summary(1, label_for(plan.steps[0], FACTS))
    for broken in ({"recorded": 1, "usable": 1}, {"usable": 0}):
        second = summary(2, label_for(plan.steps[1], FACTS), **broken)
        table = Table(resume(start(), [first, second]))
        table.feed(Start())
        assert table.of(Show).number == 2
        assert table.play().repeats == "02"


def test_a_missing_silence_is_made_up_for() -> None:
    """The long silence belongs to its run."""
    plan = PLANS["quick"]
    known = TableFacts("a", None, 100e3, 0.01)
    runs = [summary(i, label_for(plan.steps[i - 1], known)) for i in range(1, 4)]
    runs[2] = summary(3, runs[2].label, silence=False)
    table = Table(resume(start(), runs))
    table.feed(Start())
    assert table.of(Show).number == 3


def test_again_makes_one_run_and_ends() -> None:
    """`--again`: that run alone; an unknown one lists what there is."""
    plan = PLANS["quick"]
    known = TableFacts("a", None, 100e3, 0.01)
    runs = [summary(i, label_for(plan.steps[i - 1], known), bypass="a") for i in range(1, 6)]
    state = resume(start(), runs)
    for written in ("3", "03"):
        table = Table(again(state, written))
        table.feed(Start())
        assert table.of(Show).number == 3
        play = table.play()
        assert play.repeats == "03"
        table.feed(RunSeen(summary(6, play.label, **EFFECT)))
        assert table.of(Done).complete
    with pytest.raises(ArgumentError, match=r"no run \"7\".*01, 02, 03, 04, 05"):
        again(state, "7")


def test_complete_examinations_have_nothing_left() -> None:
    """Resumed and already complete: over at once."""
    plan = PLANS["quick"]
    known = TableFacts("a", None, 100e3, 0.01)
    runs = [summary(i, label_for(plan.steps[i - 1], known)) for i in range(1, 6)]
    table = Table(resume(start(), runs))
    table.feed(Start())
    assert table.of(Done).complete


def test_without_footswitch_nobody_speaks_of_one() -> None:
    """No press, no position."""
    plan = without_footswitch(PLANS["standard"])
    table = Table(begin(plan, "box", TableFacts("none", None, 100e3, 0.01)))
    table.feed(Start())
    for _ in plan.steps:
        text = table.of(Show).text
        assert "ress" not in text
        assert "ootswitch" not in text
        table.run(bypass="none")
    assert table.of(Done).complete


@pytest.mark.parametrize("plan", ["quick", "standard", "full", "no_resistor"])
def test_every_plan_ends(plan: str) -> None:
    """With a run that shows nothing amiss each time, every step is made once."""
    table = Table(start(plan))
    table.feed(Start())
    for number in range(1, len(PLANS["full"].steps) + 1):
        table.run(bypass="a", **({"effect": "louder"} if number == 3 else {}))
        if isinstance(table.last[-1], Done):
            break
    assert table.of(Done).complete
    assert table.number == len(table.state.plan.steps)
