"""Where the takes lie in a recording: not found, cut, more than one, at another rate."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.arrays import F64
from loopback.plan.runs import RunLabel
from loopback.quality import limits
from loopback.quality.clock import judge_length
from loopback.quality.finding import Finding
from loopback.response.locate import Located, locate_takes
from loopback.signal.take import Signal, layout_of

_AT_HEAD = ("lead", "tones_before", "up")


def place_takes(
    x: F64, signal: Signal, label: RunLabel, expected_start: int | None
) -> tuple[Located, ...]:
    """Find the takes in a channel; where nothing passes, take one to be where it fits.

    A pedal that does not pass, or nothing plugged in, leaves no sweep to be found, and that is a
    result: its level is read at a place that does not matter. A recording with something loud in
    it is no such case.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        The channel of the pedal path.
    signal : Signal
        What was played.
    label : RunLabel
        Of the run.
    expected_start : int or None
        See `loopback.rig.protocol.Recorded`.

    Returns
    -------
    tuple of Located
        Empty when the recording does not hold the signal.
    """
    located = locate_takes(x, signal, expected_start)
    if any(take.found for take in located):
        return located
    length = layout_of(signal).length
    peak = float(np.max(np.abs(x), initial=0.0))
    if label.path == "coupler" or len(x) < length or peak > 10 ** (limits.NOTHING_DBFS / 20):
        return ()
    return located or (Located((len(x) - length) // 2, 0.0, 0.0, 1, True),)


def judge_places(
    located: Sequence[Located], signal: Signal, run_id: str, number: int = 1
) -> tuple[Finding, ...]:
    """Judge the takes found in one recording.

    Parameters
    ----------
    located : sequence of Located
        From `place_takes`.
    signal : Signal
        What was played.
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
    if not located:
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
