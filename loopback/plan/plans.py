"""The plans as data: which runs, in the order that is easiest for the hands.

Each plan changes the lead as rarely as it can, begins with the resistor lead and a low demand on
an unpowered pedal, and has references before and after. What is bypass is not known beforehand:
a step may ask for it, and is filled in once the data has told.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import msgspec

from loopback.errors import ArgumentError
from loopback.plan.runs import Feed, Lamp, Position, Power, ResistorEnd, RunLabel
from loopback.signal.take import Signal, layout_of

PlanName = Literal["quick", "standard", "full", "no_resistor"]
SwitchAction = Literal["as_found", "press_once", "leave", "to_bypass"]
"""What the foot does before the run; leave: nothing; to_bypass: press once if it is not bypass."""
Blind = Literal["line_load", "contact", "output"]
"""line_load: R and C left on the line; contact: ohms in series; output: output impedance."""

SILENCE_S = 10.0
LOAD_PLUG_OHM = 1000.0
SECOND_LEVEL_DB = -20.0


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One run of a plan, before it is known which position is bypass.

    Parameters
    ----------
    label : RunLabel
        Template: what is asked for. Its position is None where `switch` is ``"to_bypass"``.
    switch : SwitchAction or None
        What to do with the footswitch; None where no pedal is connected.
    takes : int
        How many takes.
    silence_s : float
        Long silence after them; 0: none.
    """

    label: RunLabel
    switch: SwitchAction | None = None
    takes: int = 2
    silence_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Plan:
    """A series of runs.

    Parameters
    ----------
    name : str
        As typed.
    steps : tuple of PlanStep
        In the order made.
    blind_to : tuple of str
        What it cannot tell, whatever the data.
    """

    name: PlanName
    steps: tuple[PlanStep, ...]
    blind_to: tuple[Blind, ...]


@dataclass(frozen=True, slots=True)
class TableFacts:
    """What is known about the table by the time a run is asked for.

    Parameters
    ----------
    bypass : {"a", "b", "none"} or None
        Which position is bypass, from the data; None: not known yet.
    lamp : {"lit", "dark", "none"} or None
        What the user sees now.
    resistor_ohm, resistor_tolerance : float or None
        Of the resistor lead.
    resistor_end : {"pedal", "interface"}
        Where the resistor sits.
    load_plug_ohm : float or None
        Measured value of the load plug; None: its nominal value.
    """

    bypass: Position | None = None
    lamp: Lamp | None = None
    resistor_ohm: float | None = None
    resistor_tolerance: float | None = None
    resistor_end: ResistorEnd = "pedal"
    load_plug_ohm: float | None = None


def _coupler(feed: Feed, mating: int = 0, silence_s: float = 0.0) -> PlanStep:
    return PlanStep(RunLabel("coupler", feed, mating=mating), None, silence_s=silence_s)


def _pedal(
    feed: Feed,
    power: Power,
    switch: SwitchAction,
    position: Position | None = None,
    mating: int = 0,
    silence_s: float = 0.0,
) -> PlanStep:
    label = RunLabel("pedal", feed, power, position, mating=mating)
    return PlanStep(label, switch, silence_s=silence_s)


def _varied(step: PlanStep, **changes: object) -> PlanStep:
    return replace(step, label=msgspec.structs.replace(step.label, **changes))


def _plugged(step: PlanStep) -> PlanStep:
    return _varied(step, load="plug", load_ohm=LOAD_PLUG_OHM)


def _found_pressed_unpowered(feed: Feed) -> tuple[PlanStep, ...]:
    """Both positions with power, then both without: one press each, one power-off."""
    return (
        _pedal(feed, "on", "as_found", "a"),
        _pedal(feed, "on", "press_once", "b", silence_s=SILENCE_S),
        _pedal(feed, "off", "leave", "b"),
        _pedal(feed, "off", "press_once", "a"),
    )


_OPENING = (_coupler("resistor"), *_found_pressed_unpowered("resistor"))

QUICK = Plan(
    "quick",
    # one unpowered run only: it must be the bypass, in whichever position the pedal was found
    (*_OPENING[:3], _pedal("resistor", "off", "to_bypass"), _coupler("resistor", 1, SILENCE_S)),
    blind_to=("contact", "output"),
)
STANDARD = Plan(
    "standard",
    (
        *_OPENING,
        _coupler("resistor", 1, SILENCE_S),
        _coupler("plain"),
        _pedal("plain", "off", "to_bypass"),
        _pedal("plain", "on", "to_bypass", silence_s=SILENCE_S),
        _coupler("plain", 1, SILENCE_S),
    ),
    blind_to=("output",),
)
FULL = Plan(
    "full",
    (
        *_OPENING,
        # coupler and pedal in turn: each is plugged anew, and each pedal run stands between two
        _coupler("resistor", 1, SILENCE_S),
        _pedal("resistor", "on", "to_bypass", mating=1),
        _coupler("resistor", 2),
        _pedal("resistor", "on", "leave", mating=2),
        _coupler("resistor", 3),
        _pedal("resistor", "on", "leave", mating=3),
        _varied(_pedal("resistor", "on", "leave"), direction="reversed"),
        _coupler("resistor", 4),
        _plugged(_coupler("resistor")),
        _plugged(_pedal("resistor", "on", "leave")),
        _plugged(_pedal("plain", "on", "leave")),
        _plugged(_coupler("plain")),
        _coupler("plain"),
        _pedal("plain", "off", "leave"),
        _pedal("plain", "on", "to_bypass", silence_s=SILENCE_S),
        _varied(_pedal("plain", "on", "leave"), level_db=SECOND_LEVEL_DB),
        _varied(_coupler("plain", 1), level_db=SECOND_LEVEL_DB),
        _coupler("plain", 1, SILENCE_S),
    ),
    blind_to=(),
)
NO_RESISTOR = Plan(
    "no_resistor",
    (_coupler("plain"), *_found_pressed_unpowered("plain"), _coupler("plain", 1, SILENCE_S)),
    blind_to=("line_load", "contact", "output"),
)
PLANS: dict[PlanName, Plan] = {plan.name: plan for plan in (QUICK, STANDARD, FULL, NO_RESISTOR)}


def without_footswitch(plan: Plan) -> Plan:
    """Return the plan for a pedal that has no footswitch.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    Plan
        Without the runs that only a press makes different; a silence that belonged to one of them
        goes to the run before. Every pedal run has the position ``"none"``.
    """
    steps: list[PlanStep] = []
    for step in plan.steps:
        if step.switch == "press_once":
            steps[-1] = replace(steps[-1], silence_s=max(steps[-1].silence_s, step.silence_s))
        elif step.label.path == "pedal":
            steps.append(replace(_varied(step, position="none"), switch="leave"))
        else:
            steps.append(step)
    return replace(plan, steps=tuple(steps))


def label_for(step: PlanStep, facts: TableFacts) -> RunLabel:
    """Fill in the label of a step with what is known by now.

    Parameters
    ----------
    step : PlanStep
        Of a plan.
    facts : TableFacts
        What is known.

    Returns
    -------
    RunLabel
        What the run will be recorded under.

    Raises
    ------
    ArgumentError
        If the step needs to know which position is bypass and nobody knows.
    """
    label = step.label
    changes: dict[str, object] = {}
    if label.path == "pedal":
        if label.position is None:
            if facts.bypass is None:
                raise ArgumentError(
                    "This run is made in bypass, and which position that is has not been found.",
                    "The runs with the footswitch as found and pressed once tell it.",
                    "Make those first, or name the position.",
                )
            changes["position"] = facts.bypass
        changes["lamp"] = facts.lamp
    if label.feed == "resistor":
        changes["resistor_ohm"] = facts.resistor_ohm
        changes["resistor_tolerance"] = facts.resistor_tolerance
        changes["resistor_end"] = facts.resistor_end
    if label.load == "plug" and facts.load_plug_ohm is not None:
        changes["load_ohm"] = facts.load_plug_ohm
    return msgspec.structs.replace(label, **changes)


def signal_for(label: RunLabel, signal: Signal) -> Signal:
    """Return what a run plays: the examination's signal, at the run's own level.

    Parameters
    ----------
    label : RunLabel
        Of the run.
    signal : Signal
        Of the examination.

    Returns
    -------
    Signal
        The same in everything but the level.
    """
    if not label.level_db:
        return signal
    return msgspec.structs.replace(signal, level_dbfs=signal.level_dbfs + label.level_db)


def playing_s(plan: Plan, signal: Signal) -> float:
    """Return how long a plan plays and listens, without the time for the hands.

    Parameters
    ----------
    plan : Plan
        Any plan.
    signal : Signal
        What each take plays.

    Returns
    -------
    float
        Seconds.
    """
    take_s = layout_of(signal).length / signal.rate_hz
    return sum(step.takes * take_s + step.silence_s for step in plan.steps)
