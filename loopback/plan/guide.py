"""The guide: a state machine that leads through a plan, run by run.

It knows no terminal, no file and no sound. `advance` takes a state and an event, and returns the
next state with what is wanted now. At most the last request of a batch wants an answer. Everything
needed to go on another day is in the runs that were kept: `resume` builds the state from them.
"""

from __future__ import annotations

from dataclasses import replace

from loopback.errors import ArgumentError
from loopback.plan.doubts import find_doubt
from loopback.plan.drawing import draw
from loopback.plan.events import (
    Answer,
    Done,
    Event,
    Key,
    Play,
    Request,
    RunSeen,
    RunSummary,
    Show,
    Start,
    TakeDone,
    Tell,
)
from loopback.plan.guide_state import GuideState
from loopback.plan.plans import label_for
from loopback.plan.runs import Lamp, Position, RunLabel
from loopback.plan.telling import tell_run
from loopback.plan.wording import (
    HEARING,
    KEEP_STILL,
    PLAIN_UNPOWERED,
    RESISTOR_FIRST,
    UNPOWERED,
    Standing,
    go,
    instruction,
    lamp_question,
    notice_lines,
    offer,
)

MOST_RETAKES = 2
"""How often takes that were interrupted are played again by themselves."""
MOST_OFFERS = 3
"""How often one run is doubted; what is found after that is told and kept."""

_LAMP_OF: dict[Key, Lamp] = {"lit": "lit", "dark": "dark", "none": "none"}
Advanced = tuple[GuideState, tuple[Request, ...]]


def advance(state: GuideState, event: Event) -> Advanced:
    """Take one event.

    Parameters
    ----------
    state : GuideState
        Before it.
    event : Event
        What happened.

    Returns
    -------
    state : GuideState
        After it.
    requests : tuple of Request
        In the order in which they are to be met.

    Raises
    ------
    ArgumentError
        If the event does not belong to this state.
    """
    match event, state.stage:
        case Start(), "new":
            return _enter(state) if state.only else _next(state)
        case Answer(key=key), "hook_up":
            return _hooked_up(state, key)
        case TakeDone(), "playing":
            return _take_done(state, event)
        case RunSeen(summary=summary), "playing":
            return _run_seen(state, summary)
        case Answer(key=key), "doubt":
            return _decided(state, key)
    raise ArgumentError(f"{type(event).__name__} does not belong to {state.stage!r}.")


def _next(state: GuideState) -> Advanced:
    """Go to the first step that has no usable run, or end."""
    for index, run in enumerate(state.kept):
        if run is None or index in state.open:
            return _enter(replace(state, at=index))
    return _over(state, complete=True)


def _enter(state: GuideState) -> Advanced:
    """Say what to connect for the current step."""
    state = _with_bypass(state)
    label = _label(state)
    cautions, warned = _cautions(state, label)
    standing = Standing(
        state.table,
        state.power_at,
        state.switch_at,
        _lamp_at(state, label.position),
        fresh=not any(run.label.path == "pedal" for run in state.made),
    )
    text = instruction(state.step, label, standing)
    moved = state.table is None or _leads(label) != _leads(state.table)
    show = Show(
        text,
        state.at + 1,
        len(state.plan.steps),
        draw(label, state.pedal, state.sockets) if moved else "",
        cautions,
    )
    first = state.at == 0 or state.only
    ask = go(first)
    if label.path == "pedal" and label.power == "on" and state.facts.lamp != "none":
        ask = lamp_question(label, any(r.label.lamp is not None for r in state.made))
    state = replace(state, stage="hook_up", warned=warned, retakes=0, offers=0, troubles=())
    return state, (show, ask)


def _hooked_up(state: GuideState, key: Key) -> Advanced:
    if key == "quit":
        return _over(state, complete=False)
    if key == "back":
        return _back(state)
    old = state.kept[state.at]
    unseen = "none" if _no_lamp(state) else None if old is None else old.label.lamp
    facts = replace(state.facts, lamp=_LAMP_OF.get(key, unseen))
    state = replace(state, facts=facts)
    return _play(state, repeats="" if old is None else old.run_id)


def _back(state: GuideState) -> Advanced:
    """Make the run before again; what is connected is said anew."""
    undone = state.open | ({state.at} if state.kept[state.at] is not None else set())
    state = replace(state, at=max(0, state.at - 1), open=undone)
    return _enter(replace(state, table=None, switch_at=None, power_at=None))


def _play(state: GuideState, *, repeats: str = "") -> Advanced:
    label = _label(state)
    state = replace(
        state,
        stage="playing",
        table=label,
        switch_at=label.position or state.switch_at,
        power_at=label.power or state.power_at,
        troubles=(),
    )
    return state, (Play(label, state.step.takes, state.step.silence_s, "", repeats),)


def _take_done(state: GuideState, event: TakeDone) -> Advanced:
    trouble = event.trouble
    if trouble is None:
        return state, ()
    state = replace(state, troubles=(*state.troubles, trouble), set_aside=state.set_aside + 1)
    if not trouble.passing:
        return state, ()  # told once, when the whole run has been seen
    line, more = notice_lines(trouble)
    if state.retakes < MOST_RETAKES:
        more = ("Kept, marked, and taken again.",)
    return state, (Tell(f"take {event.number}: {line}", "look", more),)


def _run_seen(state: GuideState, summary: RunSummary) -> Advanced:
    missing = state.step.takes - summary.usable
    passing = [trouble for trouble in state.troubles if trouble.passing]
    if missing > 0 and passing and state.retakes < MOST_RETAKES:
        state = replace(state, retakes=state.retakes + 1, troubles=())
        return state, (Play(summary.label, missing, 0.0, summary.run_id),)
    old = state.kept[state.at]
    others = tuple(run for i, run in enumerate(state.kept) if run is not None and i != state.at)
    before = tuple(run for run in others if int(run.run_id) < int(summary.run_id))
    doubt = find_doubt(summary, before, state.step, state.troubles)
    kept = tuple(summary if i == state.at else run for i, run in enumerate(state.kept))
    facts = state.facts
    if summary.bypass is not None and summary.label.path == "pedal":
        facts = replace(facts, bypass=summary.bypass)
    told = tell_run(summary, before, doubt, state.troubles)
    if old is not None:
        told = (*told, Tell("Both tries are kept; the later one counts.")) if not doubt else told
    state = replace(state, kept=kept, facts=facts, open=state.open - {state.at})
    if doubt is not None and state.offers < MOST_OFFERS:
        state = replace(state, stage="doubt", offers=state.offers + 1)
        return state, (*told, offer(doubt.question, press=doubt.press, back=doubt.back))
    state, requests = _after(state)
    return state, (*told, *requests)


def _decided(state: GuideState, key: Key) -> Advanced:
    if key == "quit":
        return _over(state, complete=False)
    if key == "back":
        return _back(state)
    old = state.kept[state.at]
    if key in ("repeat", "press") and old is not None:
        text = "Press the footswitch once." if key == "press" else "Put it right, then start."
        state = replace(state, stage="hook_up", retakes=0)
        return state, (Show(text), go(first=True))
    return _after(state)


def _after(state: GuideState) -> Advanced:
    """Go on behind a run that is settled."""
    if state.only:
        return _over(state, complete=all(run is not None for run in state.kept))
    return _next(state)


def _over(state: GuideState, *, complete: bool) -> Advanced:
    whole = [run for i, run in enumerate(state.kept) if run is not None and i not in state.open]
    usable = sum(run.usable > 0 for run in whole)
    aside = state.set_aside
    takes = f" {aside} take{'s' if aside > 1 else ''} set aside, nothing lost." if aside else ""
    if complete:
        text = f"{_count(usable, len(state.kept))} usable.{takes} Leads may come off now."
    else:
        left = len(state.kept) - len(whole)
        text = (
            f"Stopped: {len(whole)} of {len(state.kept)} runs are kept, {left} to go.{takes}"
            " Leads may come off; the same command goes on here."
        )
    return replace(state, stage="over"), (Done(complete, text),)


def _count(usable: int, total: int) -> str:
    return f"All {total} runs" if usable == total else f"{usable} of {total} runs"


def _label(state: GuideState) -> RunLabel:
    facts = state.facts
    if not (state.step.label.path == "pedal" and state.step.label.power == "on"):
        facts = replace(facts, lamp=None)
    return label_for(state.step, facts)


def _with_bypass(state: GuideState) -> GuideState:
    """Where the data have not told which position is bypass, take the one at hand."""
    label = state.step.label
    if label.path != "pedal" or label.position is not None or state.facts.bypass is not None:
        return state
    return replace(state, facts=replace(state.facts, bypass=state.switch_at or "a"))


def _lamp_at(state: GuideState, position: Position | None) -> Lamp | None:
    for run in state.made:
        label = run.label
        if label.power == "on" and label.lamp is not None and label.position == position:
            return label.lamp
    return None


def _no_lamp(state: GuideState) -> bool:
    return state.facts.lamp == "none" or any(run.label.lamp == "none" for run in state.made)


def _cautions(state: GuideState, label: RunLabel) -> tuple[tuple[str, ...], frozenset[str]]:
    """Cautions that apply now and were not given yet."""
    due: list[str] = []
    if not state.warned:
        due += HEARING
        due += [RESISTOR_FIRST] if label.feed == "resistor" else []
        due.append(KEEP_STILL)
    if label.path == "pedal" and label.power == "off":
        due.append(UNPOWERED)
        due += [PLAIN_UNPOWERED] if label.feed == "plain" else []
    new = tuple(text for text in due if text not in state.warned)
    return new, state.warned | set(new)


def _leads(label: RunLabel) -> tuple[object, ...]:
    return (label.path, label.feed, label.load, label.direction)
