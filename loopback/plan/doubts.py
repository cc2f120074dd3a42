"""Where what was recorded contradicts what was asked for: found at once, while it can be repaired.

Every rule compares the run just made with the runs before it; what the data say counts more than
the label, and the user has the last word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from loopback.plan.events import Notice, RunSummary
from loopback.plan.plans import PlanStep
from loopback.plan.wording import SAME_DB, notice_lines

DoubtCode = Literal[
    "gate", "coupler_left_in", "no_change", "dead_with_power", "power_left_on", "effect_not_bypass",
    "needs_power_or_press", "passed_before", "power_missing",
]  # fmt: skip
COUPLER_DB = 0.01
"""Through the resistor half a picofarad more than the coupler makes a difference of 0.01 dB; two
runs through the coupler differ by less, and a pedal's jacks alone make 0.1 dB. Judgement."""
_BETWEEN = ("gain_moved", "setup_moved")
"""What a reference finds out about the runs since the one before it; it may itself be the one that
is wrong."""
EFFECT_SAME_DB = 0.5
"""An effect may move a little from run to run; without its power it changes by far more."""
LOUDER_DB = 3.0
"""Nothing without power lifts the level by this; distortion alone proves nothing, since parts
without power may distort as well."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One contradiction.

    Parameters
    ----------
    code : DoubtCode
        Stable word for machines and tests.
    text : str
        What was found, with the number.
    more : tuple of str
        What it can mean.
    question : str
        What is offered.
    press : bool
        Whether to press the footswitch and repeat; else to repeat.
    back : bool
        Whether the run before may be the one to repeat.
    """

    code: DoubtCode
    text: str
    more: tuple[str, ...]
    question: str
    press: bool = False
    back: bool = False


def find_doubt(
    run: RunSummary,
    before: Sequence[RunSummary],
    step: PlanStep,
    troubles: Sequence[Notice] = (),
) -> Doubt | None:
    """Look for the first contradiction of a run.

    Parameters
    ----------
    run : RunSummary
        The run just made.
    before : sequence of RunSummary
        Runs that count, in the order made, without this one and without those it repeats.
    step : PlanStep
        What was asked for.
    troubles : sequence of Notice
        Why takes of it cannot be used.

    Returns
    -------
    Doubt or None
        One cause, one choice.
    """
    is_reference = run.label.path == "coupler"
    refused = [
        n
        for n in run.notices
        if (n.here and (n.mark == "bad" or n.code == "exchanged"))
        or (is_reference and n.mark == "bad" and n.code in _BETWEEN)
    ]
    if run.usable == 0:
        refused += troubles
    if refused:
        line, more = notice_lines(refused[0])
        back = refused[0].code == "exchanged"
        return Doubt(
            "gate",
            line,
            more,
            "Repeat this one, or go back to the run before?" if back else "Repeat it?",
            back=back,
        )
    if run.usable == 0:
        return Doubt("gate", "No take of this run can be used.", (), "Repeat it?")
    if run.label.path != "pedal" or run.passes is None:
        return None
    return (
        _coupler_left_in(run, before)
        or _powered(run, before, step)
        or _unpowered(run, before, step)
        or _passed_before(run, before)
    )


def _coupler_left_in(run: RunSummary, before: Sequence[RunSummary]) -> Doubt | None:
    if run.label.feed != "resistor":
        return None  # through the plain lead many a true bypass equals the coupler
    for other in before:
        apart = run.apart_from(other)
        same_lead = other.label.path == "coupler" and other.label.feed == run.label.feed
        if same_lead and apart is not None and apart < COUPLER_DB:
            return Doubt(
                "coupler_left_in",
                f"This is {apart:.3f} dB from run {other.run_id}, the coupler.",
                ("The coupler still seems to join the leads, or the leads bypass the pedal.",),
                "Plug the pedal in and repeat?",
            )
    return None


def _powered(run: RunSummary, before: Sequence[RunSummary], step: PlanStep) -> Doubt | None:
    label = run.label
    if label.power != "on" or label.position == "none" or label.direction == "reversed":
        return None
    if step.switch == "to_bypass" and run.effect:
        return Doubt(
            "effect_not_bypass",
            f"{run.effect}: this is the effect, and the bypass was asked for.",
            ("The footswitch stands in its other position.",),
            "Press once and repeat?",
            press=True,
        )
    if step.switch != "press_once":
        return None
    other = _latest(before, feed=label.feed, power="on", not_position=label.position)
    if other is None:
        return None
    if not run.passes and not other.passes:
        return Doubt(
            "dead_with_power",
            "Nothing passes in either position, with power.",
            ("No power, a plug that is not home, a volume knob at zero, or a pedal that mutes.",),
            "Look at these and repeat?",
        )
    apart = run.apart_from(other)
    if run.passes and apart is not None and apart < SAME_DB:
        return Doubt(
            "no_change",
            f"Expected a change: this is {apart:.3f} dB from run {other.run_id}.",
            ("The press did not latch, or both positions of this pedal do the same.",),
            "Press again to be sure?",
            press=True,
        )
    return None


def _unpowered(run: RunSummary, before: Sequence[RunSummary], step: PlanStep) -> Doubt | None:
    label = run.label
    if label.power != "off":
        return None
    powered = _latest(before, feed=label.feed, power="on", position=label.position)
    apart = run.apart_from(powered) if powered is not None else None
    unchanged = apart is not None and apart < EFFECT_SAME_DB
    if run.effect and (unchanged or (run.level_db or 0.0) > LOUDER_DB):
        return Doubt(
            "power_left_on",
            f"{run.effect}: the effect is on, and without power it cannot be.",
            ("The power plug, or a battery, is still in.",),
            "Take it out and repeat?",
        )
    if label.position == "none":
        return None
    beside = _latest(before, feed=label.feed, power="on", not_position=label.position)
    alive = beside is not None and beside.passes
    if (
        step.switch == "leave"
        and alive
        and powered is not None
        and not (run.passes or powered.passes)
    ):
        return Doubt(
            "power_missing",
            f"Nothing passes, and nothing passed with power in run {powered.run_id}.",
            (
                "A pedal that mutes here, or no power arrived: wrong plug, empty battery, or a"
                " stereo lead in the jack that switches the battery.",
            ),
            "If no power arrived, go back and make that run again?",
            back=True,
        )
    if step.switch == "press_once":
        other = _latest(before, feed=label.feed, power="off", not_position=label.position)
        first, second = (
            _latest(before, feed=label.feed, power="on", position=place) for place in ("a", "b")
        )
        switched = first is not None and second is not None and not _alike(second, first)
        if other is not None and run.passes and other.passes and switched and _alike(run, other):
            return Doubt(
                "no_change",
                "Expected a change: with power, this press switched the effect.",
                ("The press did not latch, or this pedal passes in both positions without power.",),
                "Press again to be sure?",
                press=True,
            )
    moved = step.switch in ("press_once", "to_bypass")
    if moved and not run.passes and powered is not None and powered.passes and not powered.effect:
        unpowered = _latest(before, power="off", position=label.position)
        if unpowered is None:
            return Doubt(
                "needs_power_or_press",
                "Nothing passes without power, and with power this position passed.",
                ("This pedal needs power to pass, or the footswitch is in its other position.",),
                "Press once to be sure?",
                press=True,
            )
    return None


def _passed_before(run: RunSummary, before: Sequence[RunSummary]) -> Doubt | None:
    """Compare with an earlier run of the same power and position, whatever the lead."""
    label = run.label
    if label.direction == "reversed" or label.load != "instrument":
        return None
    other = _latest(before, power=label.power, position=label.position)
    if other is None or other.passes is None or other.passes == run.passes or other.effect:
        return None
    now, then = ("passes", "did not") if run.passes else ("does not pass", "passed")
    return Doubt(
        "passed_before",
        f"This {now}, and run {other.run_id}, in the same position, {then}.",
        ("The footswitch stands in the other position, or a plug is not home.",),
        "Press once and repeat?" if label.position != "none" else "Repeat it?",
        press=label.position != "none",
    )


def _alike(later: RunSummary, earlier: RunSummary) -> bool:
    if not (later.passes and earlier.passes):
        return later.passes == earlier.passes
    apart = later.apart_from(earlier)
    return apart is not None and apart < SAME_DB


def _latest(
    runs: Sequence[RunSummary],
    *,
    power: str | None,
    feed: str = "",
    position: str | None = None,
    not_position: str | None = None,
) -> RunSummary | None:
    for other in reversed(runs):
        label = other.label
        if label.path != "pedal" or label.power != power or label.direction == "reversed":
            continue
        if label.load != "instrument" or (feed and label.feed != feed):
            continue
        if position is not None and label.position != position:
            continue
        if not_position is not None and label.position == not_position:
            continue
        return other
    return None
