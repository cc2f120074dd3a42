"""A pedal run that is off by one factor at all frequencies: the pedal, or a knob."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.quality import limits
from loopback.quality.effect import harmonic_level_db, shows_effect
from loopback.quality.finding import Finding
from loopback.quality.seen import RunSeen, difference_db, passes, references_of


def judge_level_offset(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Look for a pedal run that is off by one factor at all frequencies.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Codes ``gain_moved`` (lifted without power, which nothing does) and ``level_offset``, good
        where the resistor run or the harmonics of the same state show what makes it.
    """
    found: list[Finding] = []
    for item in seen:
        references = references_of(item, seen)
        label = item.run.label
        if label.path != "pedal" or not references:
            continue
        if not passes(item, references) or shows_effect(item, references):
            continue
        offsets = [difference_db(item.response, r.response, 200.0, 15_000.0) for r in references]
        nearest = min(offsets, key=lambda o: abs(float(np.mean(o))))
        offset, spread = float(np.mean(nearest)), float(np.ptp(nearest))
        if abs(offset) <= limits.LEVEL_OFFSET_DB or spread > 0.3 * abs(offset):
            continue
        if offset > 0 and label.power == "off":
            found.append(
                Finding(
                    "gain_moved",
                    "refuse",
                    f"{offset:+.2f} dB at all frequencies",
                    "Nothing lifts the level without power: a gain or output knob was turned.",
                    "Leave all knobs alone and repeat this run.",
                    item.run.id,
                )
            )
        elif label.feed == "plain":
            explained = _explains_level(item, seen)
            found.append(
                Finding(
                    "level_offset",
                    "good" if explained else "look",
                    f"{offset:+.2f} dB at all frequencies",
                    f"{explained} does this."
                    if explained
                    else "A powered stage or a heavy load does this, and so does a knob that was"
                    " turned.",
                    ""
                    if explained
                    else "If no knob was touched this is the pedal; else repeat this run.",
                    item.run.id,
                )
            )
    return tuple(found)


def _explains_level(item: RunSeen, seen: Sequence[RunSeen]) -> str:
    """Say what in the pedal changes its level, if other evidence shows it; else nothing."""
    references = references_of(item, seen)
    if harmonic_level_db(item) - harmonic_level_db(references[0]) > limits.SILICON_DB:
        return "A powered stage in the path"
    for twin in seen:
        one, label = twin.run.label, item.run.label
        if one.path != "pedal" or one.feed != "resistor":
            continue
        if (one.power, one.position) != (label.power, label.position):
            continue
        for reference in references_of(twin, seen):
            level = difference_db(twin.response, reference.response, 200.0, 15_000.0)
            if float(np.max(level)) > limits.BUFFER_LIFT_DB:
                return "A buffer"
            if float(np.mean(level)) < -limits.HEAVY_LOAD_DB:
                return "A heavy load across the line"
    return ""
