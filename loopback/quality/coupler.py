"""The coupler left in where a pedal run was asked for."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np

from loopback.plan.runs import RunLabel
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.seen import RunSeen, difference_db, passes, references_of


def judge_coupler_left(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Look for powered runs that equal the reference, while the same without power does not.

    Power takes no picofarads off a line; a coupler that was left in does. A stage whose input is
    that of the lead within half a picofarad would be such a chance that it is only asked for a
    repetition. Through the plain lead nothing tells.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Code ``coupler_left_in``; it names the runs that equal the reference.
    """
    apart: dict[str, float] = {}
    pedal = [s for s in seen if (s.run.label.path, s.run.label.feed) == ("pedal", "resistor")]
    for item in pedal:
        references = references_of(item, seen)
        if references and passes(item, references):
            nearest = (
                difference_db(item.response, r.response, 200.0, 15_000.0) for r in references
            )
            apart[item.run.id] = min(float(np.max(np.abs(d))) for d in nearest)
    equal = [
        s.run.id
        for s in pedal
        if s.run.label.power == "on" and apart.get(s.run.id, math.inf) < limits.COUPLER_LEFT_DB
    ]
    for item in pedal:
        label = item.run.label
        twin = msgspec.structs.replace(label, power="on")
        off = apart.get(item.run.id, 0.0)
        like = [s.run.id for s in pedal if s.run.id in equal and _alike(s.run.label, twin)]
        if label.power == "off" and off > limits.TWIN_APART_DB and like:
            return (
                Finding(
                    "coupler_left_in",
                    "look",
                    f"run {like[0]} equals the reference within {apart[like[0]]:.3f} dB, run"
                    f" {item.run.id} without power differs by {off:.2f} dB",
                    "The coupler still seems to join the leads in the runs with power.",
                    f"Plug in the pedal and repeat run {like[0]}.",
                    " ".join(equal),
                ),
            )
    return ()


def _alike(a: RunLabel, b: RunLabel) -> bool:
    """Tell whether two runs are of one position and hook-up, whenever they were made."""
    keys = ("power", "position", "load", "load_ohm", "direction", "level_db")
    return all(getattr(a, key) == getattr(b, key) for key in keys)
