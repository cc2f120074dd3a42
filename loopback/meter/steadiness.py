"""Whether a reading stands still: a state that readings are put into, one after the other."""

from __future__ import annotations

import statistics
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from loopback.meter.reading import Reading

WINDOW_S = 10.0
"""Readings older than this no longer count."""
LEAST_JUMP_FARAD = 2e-12
"""A smaller change is a lead that moves a little."""
JUMP = 0.05
SETTLED = 3
"""So many readings in a row that agree are a new value, not a drop-out."""

Word = Literal["waiting", "steady", "drifts", "moves", "drops out", "nothing"]


@dataclass(frozen=True, slots=True)
class Watch:
    """What was read since zero, or since something else was plugged.

    Parameters
    ----------
    readings : tuple of Reading
        Those of the last `WINDOW_S` seconds, oldest first.
    value_farad : float or None
        Where the reading stood when it last stood still; None: not yet.
    away : int
        How many readings in a row are elsewhere.
    drops_s : tuple of float
        When it dropped out, within the window.
    held : Reading or None
        A reading that is kept in view.
    """

    readings: tuple[Reading, ...] = ()
    value_farad: float | None = None
    away: int = 0
    drops_s: tuple[float, ...] = ()
    held: Reading | None = None

    @property
    def word(self) -> Word:
        """How the readings of the window behave."""
        if self.drops_s:
            return "drops out"
        values = [r.c_farad.value for r in self.readings if r.c_farad is not None]
        if self.readings and self.readings[-1].c_farad is None:
            return "nothing"
        if len(values) < SETTLED or self.away:
            return "waiting"
        last = self.readings[-1].c_farad
        half = last.half_width() if last is not None else 0.0
        # Repeats see neither plugs nor scale: half of the stated doubt is a good deal for them.
        if max(values) - min(values) <= max(half, 0.5 * LEAST_JUMP_FARAD):
            return "steady"
        rising = sum(b > a for a, b in pairwise(values))
        one_way = rising in (0, len(values) - 1)
        return "drifts" if one_way and len(values) > SETTLED else "moves"

    @property
    def span_farad(self) -> tuple[float, float] | None:
        """Highest and lowest value in the window; None without any."""
        values = [r.c_farad.value for r in self.readings if r.c_farad is not None]
        return (max(values), min(values)) if values else None


def watched(watch: Watch, reading: Reading) -> Watch:
    """Put one more reading in.

    Parameters
    ----------
    watch : Watch
        Until now.
    reading : Reading
        The latest.

    Returns
    -------
    Watch
        A drop-out is a stay elsewhere that ends where it began; what stays elsewhere for
        `SETTLED` readings is something else that was plugged, and all begins anew with it.
    """
    since = reading.at_s - WINDOW_S
    readings = (*(r for r in watch.readings if r.at_s > since), reading)
    drops = tuple(t for t in watch.drops_s if t > since)
    value = watch.value_farad
    if value is not None and _near(reading, value):
        if watch.away:
            drops = (*drops, reading.at_s)
        return replace(watch, readings=readings, away=0, drops_s=drops)
    away = watch.away + 1
    if away >= SETTLED:
        latest = readings[-SETTLED:]
        values = [r.c_farad.value for r in latest if r.c_farad is not None]
        middle = statistics.median(values) if len(values) == SETTLED else None
        if middle is not None and all(_near(r, middle) for r in latest):
            return Watch(latest, middle, 0, (), watch.held)
        if not values and value is not None and all(not r.passes for r in latest):
            return Watch(latest, None, SETTLED, (), watch.held)
    return replace(watch, readings=readings, away=away, drops_s=drops)


def holding(watch: Watch) -> Watch:
    """Keep the latest reading in view, or let go of the one kept.

    Parameters
    ----------
    watch : Watch
        Until now.

    Returns
    -------
    Watch
        Without readings nothing is held.
    """
    if watch.held is not None or not watch.readings:
        return replace(watch, held=None)
    return replace(watch, held=watch.readings[-1])


def _near(reading: Reading, value: float) -> bool:
    c = reading.c_farad
    return c is not None and abs(c.value - value) <= max(LEAST_JUMP_FARAD, JUMP * abs(value))
