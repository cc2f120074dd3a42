"""Where a guided measurement stands: begun, taken up from the runs that were kept, or one again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from loopback.errors import ArgumentError
from loopback.plan.drawing import Sockets
from loopback.plan.events import Notice, RunSummary
from loopback.plan.plans import Plan, PlanStep, TableFacts
from loopback.plan.runs import Position, Power, RunLabel

Stage = Literal["new", "hook_up", "playing", "doubt", "over"]


@dataclass(frozen=True, slots=True)
class GuideState:
    """Where a guided measurement stands.

    Parameters
    ----------
    plan : Plan
        Which runs.
    pedal : str
        Its name, for drawings.
    facts : TableFacts
        Resistor, bypass position and lamp as known by now.
    kept : tuple of RunSummary or None
        For each step the run that counts; None: not made yet.
    at : int
        Index of the step being made.
    stage : {"new", "hook_up", "playing", "doubt", "over"}
        What is waited for.
    sockets : Sockets
        For drawings.
    only : bool
        One step is made again, nothing after it.
    table : RunLabel or None
        What is connected now; None: not known.
    switch_at : {"a", "b", "none"} or None
        Where the footswitch stands; None: not known.
    power_at : {"on", "off"} or None
        Whether the pedal has power, plugged in or not; None: not known.
    retakes, offers : int
        How often takes of this run were played again, how often it was doubted.
    set_aside : int
        Takes of the whole sitting that cannot be used.
    troubles : tuple of Notice
        Of the takes of the run being played.
    warned : frozenset of str
        Cautions given.
    open : frozenset of int
        Steps whose run was broken off or cannot be used; they are made again.
    """

    plan: Plan
    pedal: str
    facts: TableFacts
    kept: tuple[RunSummary | None, ...]
    at: int = 0
    stage: Stage = "new"
    sockets: Sockets = field(default_factory=Sockets)
    only: bool = False
    table: RunLabel | None = None
    switch_at: Position | None = None
    power_at: Power | None = None
    retakes: int = 0
    offers: int = 0
    set_aside: int = 0
    troubles: tuple[Notice, ...] = ()
    warned: frozenset[str] = frozenset()
    open: frozenset[int] = frozenset()

    @property
    def step(self) -> PlanStep:
        """The step being made."""
        return self.plan.steps[self.at]

    @property
    def made(self) -> tuple[RunSummary, ...]:
        """The runs that count, in the order of the plan."""
        return tuple(run for run in self.kept if run is not None)


def begin(plan: Plan, pedal: str, facts: TableFacts, sockets: Sockets | None = None) -> GuideState:
    """Make the state before the first run.

    Parameters
    ----------
    plan : Plan
        Which runs.
    pedal : str
        Name of the pedal.
    facts : TableFacts
        What is known beforehand.
    sockets : Sockets or None
        Where the leads go; None: both 1.

    Returns
    -------
    GuideState
        Waiting for `Start`.
    """
    return GuideState(plan, pedal, facts, (None,) * len(plan.steps), sockets=sockets or Sockets())


def resume(state: GuideState, runs: Sequence[RunSummary]) -> GuideState:
    """Find out how far a measurement has come, from the runs that were kept and nothing else.

    Each run is given to the first step with its hook-up. A run that was broken off, or that cannot
    be used, leaves its step open, and the next try takes its place.

    Parameters
    ----------
    state : GuideState
        From `begin`.
    runs : sequence of RunSummary
        Those that count, in the order made.

    Returns
    -------
    GuideState
        Waiting for `Start`. What is plugged in and where the footswitch stands is not known.
    """
    kept: list[RunSummary | None] = list(state.kept)
    facts = state.facts
    undone: set[int] = set()
    for run in runs:
        for index, step in enumerate(state.plan.steps):
            if kept[index] is None and _fits(step, run.label):
                kept[index] = run
                whole = run.recorded >= step.takes and (run.silence or not step.silence_s)
                undone |= set() if run.usable and whole else {index}
                break
        if run.bypass is not None and run.label.path == "pedal":
            facts = replace(facts, bypass=run.bypass)
    return replace(state, kept=tuple(kept), facts=facts, open=frozenset(undone))


def again(state: GuideState, run_id: str) -> GuideState:
    """Prepare to make one run again; the earlier one is kept and no longer counts.

    Parameters
    ----------
    state : GuideState
        From `resume`.
    run_id : str
        Which run.

    Returns
    -------
    GuideState
        Waiting for `Start`; nothing follows after that run.

    Raises
    ------
    ArgumentError
        If no step of the plan has that run.
    """
    for index, run in enumerate(state.kept):
        if run is not None and int(run.run_id) == _number(run_id):
            return replace(state, at=index, only=True)
    there = ", ".join(run.run_id for run in state.made) or "none"
    raise ArgumentError(
        f'There is no run "{run_id}" that could be made again.', f"Runs that count: {there}."
    )


def _fits(step: PlanStep, label: RunLabel) -> bool:
    asked = step.label
    if asked.path == "pedal" and asked.position not in (None, label.position):
        return False
    return (
        asked.path, asked.feed, asked.power, asked.load, asked.mating, asked.direction,
        asked.level_db,
    ) == (
        label.path, label.feed, label.power, label.load, label.mating, label.direction,
        label.level_db,
    )  # fmt: skip


def _number(run_id: str) -> int:
    return int(run_id) if run_id.isdecimal() else -1
