"""Where the takes lie in a recording: not found, cut, more than one, at another rate."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.plan.runs import RunLabel
from loopback.quality.clock import judge_length
from loopback.quality.finding import Finding
from loopback.response.locate import Located
from loopback.signal.take import Signal

_AT_HEAD = ("lead", "tones_before", "up")


def judge_places(
    located: Sequence[Located], signal: Signal, label: RunLabel, run_id: str, number: int = 1
) -> tuple[Finding, ...]:
    """Judge the takes found in one recording.

    Parameters
    ----------
    located : sequence of Located
        From `loopback.response.locate.locate_takes`.
    signal : Signal
        What was played.
    label : RunLabel
        Of the run.
    run_id : str
        Of the run.
    number : int
        Of the first take in this recording.

    Returns
    -------
    tuple of Finding
        Codes ``signal_not_found``, ``wrong_rate``, ``samples_lost``, ``take_cut``,
        ``several_takes``.
    """
    where = f"{run_id}/{number}"
    if not any(take.found for take in located):
        if located and label.path == "pedal":
            return ()  # the rig knows where it played: a path that is dead hides the sweep
        return (
            Finding(
                "signal_not_found",
                "refuse",
                "the sweep is nowhere in this recording",
                "It holds something else, or only a small part of the signal.",
                "Play the signal that belongs to this folder, and record all of it.",
                where,
            ),
        )
    found: list[Finding] = []
    for take in located:
        found.extend(judge_length(take.stretch, signal, where))
        if take.missing:
            found.append(_cut(take, where, alone=not any(t.usable for t in located)))
    if len(located) > 1:
        found.append(
            Finding(
                "several_takes",
                "good",
                f"{len(located)} takes in one file",
                "Each of them is used.",
                "",
                where,
            )
        )
    return tuple(found)


def _cut(take: Located, where: str, *, alone: bool) -> Finding:
    head = any(name in _AT_HEAD for name in take.missing)
    names = ", ".join(name.replace("_", " ") for name in take.missing)
    return Finding(
        "take_cut",
        "refuse" if alone else "look",
        f"cut off at the {'head' if head else 'tail'}: {names}",
        "Both sweeps are there; what is missing cannot be checked."
        if take.usable
        else "A sweep is not complete."
        if alone
        else "A sweep is not complete; the other take is used.",
        "Start recording before the signal and stop after it."
        if head
        else "Let the recording run on for a second after the last tone.",
        where,
    )
