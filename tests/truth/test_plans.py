"""The plans: what is connected, in which order, and what that asks of the hands."""

from __future__ import annotations

from itertools import pairwise

import pytest

from loopback.errors import ArgumentError
from loopback.plan.plans import (
    FULL,
    NO_RESISTOR,
    PLANS,
    QUICK,
    STANDARD,
    Plan,
    TableFacts,
    label_for,
    playing_s,
    signal_for,
    without_footswitch,
)
from loopback.plan.runs import RunLabel
from loopback.signal.take import layout_of, plan_signal

SIGNAL = plan_signal(48_000, 1.0)
KNOWN = TableFacts(bypass="b", resistor_ohm=99_600.0, resistor_tolerance=0.005)

STANDARD_TABLE = [
    # feed, path, power, position, switch, silence; in the order agreed for the hands
    ("resistor", "coupler", None, None, None, 0),
    ("resistor", "pedal", "on", "a", "as_found", 0),
    ("resistor", "pedal", "on", "b", "press_once", 10),
    ("resistor", "pedal", "off", "b", "leave", 0),
    ("resistor", "pedal", "off", "a", "press_once", 0),
    ("resistor", "coupler", None, None, None, 10),
    ("plain", "coupler", None, None, None, 0),
    ("plain", "pedal", "off", None, "to_bypass", 0),
    ("plain", "pedal", "on", None, "to_bypass", 10),
    ("plain", "coupler", None, None, None, 10),
]


def rows(plan: Plan) -> list[tuple[object, ...]]:
    """A plan as a table."""
    return [
        (s.label.feed, s.label.path, s.label.power, s.label.position, s.switch, s.silence_s)
        for s in plan.steps
    ]


def changes(values: list[object]) -> int:
    """How often neighbours differ."""
    return sum(one != other for one, other in pairwise(values))


def test_standard_is_the_agreed_table() -> None:
    """Ten runs, two takes each, with the silences where they belong."""
    assert rows(STANDARD) == STANDARD_TABLE
    assert {step.takes for step in STANDARD.steps} == {2}


def test_quick_is_the_first_six_runs_with_one_unpowered() -> None:
    """No plain lead, and the one run without power is made in bypass, wherever that is."""
    unpowered = ("resistor", "pedal", "off", None, "to_bypass", 0)
    assert rows(QUICK) == [*STANDARD_TABLE[:3], unpowered, STANDARD_TABLE[5]]
    for bypass in ("a", "b"):
        label = label_for(QUICK.steps[3], TableFacts(bypass))
        assert (label.power, label.position) == ("off", bypass)


def test_no_resistor_is_the_same_with_the_plain_lead() -> None:
    """Both positions with and without power, between two references."""
    assert rows(NO_RESISTOR) == [("plain", *row[1:]) for row in STANDARD_TABLE[:6]]


@pytest.mark.parametrize("plan", PLANS.values(), ids=lambda plan: plan.name)
def test_every_plan_is_kind_to_hands_and_pedal(plan: Plan) -> None:
    """One lead change at most, the resistor lead first, references of each feed and load around
    the pedal runs, and a press only where a position is asked for."""
    assert changes([step.label.feed for step in plan.steps]) <= 1
    feeds = list(dict.fromkeys(step.label.feed for step in plan.steps))
    assert feeds in (["resistor"], ["plain"], ["resistor", "plain"])
    assert plan.steps[0].label.path == plan.steps[-1].label.path == "coupler"
    hookups = {(s.label.feed, s.label.load) for s in plan.steps if s.label.path == "pedal"}
    references = {(s.label.feed, s.label.load) for s in plan.steps if s.label.path == "coupler"}
    assert hookups == references
    for step in plan.steps:
        assert (step.switch is None) == (step.label.path == "coupler")
        assert (step.label.power is None) == (step.label.path == "coupler")
    assert plan.steps[0].takes >= 2


@pytest.mark.parametrize(("plan", "switchings"), [(QUICK, 1), (STANDARD, 2), (NO_RESISTOR, 1)])
def test_power_is_switched_as_rarely_as_possible(plan: Plan, switchings: int) -> None:
    """Standard: one power-off and one power-on."""
    powers: list[object] = [s.label.power for s in plan.steps if s.label.path == "pedal"]
    assert changes(powers) == switchings


def test_full_adds_what_standard_cannot_tell() -> None:
    """A load plug with both feeds, three re-matings of both, a lower level, and reversed."""
    labels = [step.label for step in FULL.steps]
    assert FULL.blind_to == ()
    for path in ("coupler", "pedal"):
        resistor = {
            x.mating for x in labels if (x.path, x.feed, x.load) == (path, "resistor", "instrument")
        }
        assert {1, 2, 3} <= resistor
        assert {(x.feed, x.load_ohm) for x in labels if x.path == path and x.load == "plug"} == {
            ("resistor", 1000.0),
            ("plain", 1000.0),
        }
        assert any(x.path == path and x.level_db == -20.0 for x in labels)
    assert [x.path for x in labels if x.direction == "reversed"] == ["pedal"]
    needed = {(x.feed, x.power, x.position) for x in (s.label for s in STANDARD.steps)}
    assert needed <= {(x.feed, x.power, x.position) for x in labels}


def test_what_a_plan_cannot_tell_is_data() -> None:
    """Without the resistor nothing is said of a load, without the plain lead nothing of ohms."""
    assert "line_load" in NO_RESISTOR.blind_to
    assert "line_load" not in QUICK.blind_to
    assert "contact" in QUICK.blind_to
    assert "contact" not in STANDARD.blind_to
    assert PLANS.keys() == {"quick", "standard", "full", "no_resistor"}


@pytest.mark.parametrize("bypass", ["a", "b"])
def test_bypass_is_filled_in_once_it_is_known(bypass: str) -> None:
    """The same plan, whichever position turns out to be bypass; the rest of the label is known."""
    assert bypass in ("a", "b")
    facts = TableFacts("a" if bypass == "a" else "b", "dark", 99_600.0, 0.005, "interface")
    labels = [label_for(step, facts) for step in STANDARD.steps]
    assert [x.position for x in labels[7:9]] == [bypass, bypass]
    assert [x.position for x in labels[1:5]] == ["a", "b", "b", "a"]
    for label in labels:
        assert (label.position is None) == (label.path == "coupler")
        assert label.lamp == ("dark" if label.path == "pedal" else None)
        resistor = (
            (99_600.0, 0.005, "interface") if label.feed == "resistor" else (None, None, "pedal")
        )
        assert (label.resistor_ohm, label.resistor_tolerance, label.resistor_end) == resistor


def test_bypass_that_nobody_knows_is_asked_for() -> None:
    """The first steps need no answer, the eighth does."""
    for step in STANDARD.steps[:7]:
        label_for(step, TableFacts())
    with pytest.raises(ArgumentError, match="which position that is has not been found"):
        label_for(STANDARD.steps[7], TableFacts())


def test_the_load_plug_has_its_measured_value() -> None:
    """Nominal unless it was measured."""
    plug = next(step for step in FULL.steps if step.label.load == "plug")
    assert label_for(plug, TableFacts(bypass="a")).load_ohm == 1000.0
    assert label_for(plug, TableFacts(bypass="a", load_plug_ohm=998.7)).load_ohm == 998.7


def test_a_pedal_without_footswitch_has_no_presses() -> None:
    """Fewer runs, position "none" everywhere, every silence still there."""
    for plan in PLANS.values():
        fewer = without_footswitch(plan)
        presses = sum(step.switch == "press_once" for step in plan.steps)
        assert len(fewer.steps) == len(plan.steps) - presses
        pedal = [step for step in fewer.steps if step.label.path == "pedal"]
        assert {step.label.position for step in pedal} == {"none"}
        assert {step.switch for step in pedal} == {"leave"}
        assert {step.label.power for step in pedal} == {"on", "off"}
        silent = [step for step in pedal if step.silence_s and step.label.power == "on"]
        assert silent
        assert label_for(pedal[0], TableFacts()).position == "none"


def test_the_level_is_only_ever_lowered() -> None:
    """A run at a second level plays the same sweep, 20 dB lower; the others the signal itself."""
    for step in FULL.steps:
        label = label_for(step, KNOWN)
        signal = signal_for(label, SIGNAL)
        assert signal.level_dbfs - SIGNAL.level_dbfs == label.level_db <= 0
        assert (signal.cycles, signal.f1_hz, signal.f2_hz) == (
            SIGNAL.cycles,
            SIGNAL.f1_hz,
            SIGNAL.f2_hz,
        )
    assert signal_for(RunLabel("coupler", "plain"), SIGNAL) is SIGNAL


def test_playing_time_adds_up() -> None:
    """Twenty takes and four silences of ten seconds."""
    take_s = layout_of(SIGNAL).length / 48_000
    assert playing_s(STANDARD, SIGNAL) == pytest.approx(20 * take_s + 40.0)
