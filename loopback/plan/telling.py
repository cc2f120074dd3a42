"""What is told about a run just made: what it shows, what is worth a look, what is wrong."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.plan.doubts import Doubt
from loopback.plan.events import Notice, RunSummary, Tell
from loopback.plan.wording import notice_lines, run_line


def tell_run(
    summary: RunSummary,
    before: Sequence[RunSummary],
    doubt: Doubt | None,
    troubles: Sequence[Notice],
) -> tuple[Tell, ...]:
    """Write the findings of one run.

    Parameters
    ----------
    summary : RunSummary
        The run.
    before : sequence of RunSummary
        Runs that count, in the order made, without this one.
    doubt : Doubt or None
        What contradicts its label.
    troubles : sequence of Notice
        Why takes of it cannot be used.

    Returns
    -------
    tuple of Tell
        Line by line.
    """
    label = summary.label
    powered = None
    if label.power == "off":
        powered = next(
            (
                run
                for run in reversed(before)
                if run.label.power == "on"
                and (run.label.position, run.label.feed, run.label.load)
                == (label.position, label.feed, label.load)
            ),
            None,
        )
    told: list[Tell] = []
    if doubt is None or doubt.code != "gate":
        line = run_line(summary, powered)
        told.append(Tell(line, "good" if doubt is None else ""))
    partly = {n.code: n for n in troubles if not n.passing} if summary.usable else {}
    for notice in (*partly.values(), *summary.notices):
        line, more = notice_lines(notice)
        if notice.mark in ("look", "bad") and not (doubt is not None and doubt.text == line):
            told.append(Tell(line, notice.mark, more))
    if doubt is not None:
        told.append(Tell(doubt.text, "bad", doubt.more))
    else:
        told += _names_bypass(summary, before)
    return tuple(told)


def _names_bypass(summary: RunSummary, before: Sequence[RunSummary]) -> tuple[Tell, ...]:
    """Say which position is bypass, once the second one was heard with power."""
    label = summary.label
    others = [r for r in before if r.label.path == "pedal" and r.label.power == "on"]
    if label.power != "on" or label.position == "none" or summary.bypass is None:
        return ()
    if not others or any(r.label.position == label.position for r in others):
        return ()
    if not summary.passes or any(not r.passes for r in others):
        # The effect may be what passes, and silence the bypass: one position alone does not tell.
        return (Tell("One position is silent; the other is taken for the bypass for now."),)
    if summary.bypass == label.position:
        return (Tell("This is the bypass position."),)
    return (Tell("So the position before was the bypass."),)
