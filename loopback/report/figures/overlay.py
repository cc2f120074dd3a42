"""Several pedals on the same axes: a few by name, the rest in grey."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from loopback.arrays import F64
from loopback.report.figures.curves import Curve, LineKind
from loopback.report.figures.palette import LIGHT

_FEW = 3
MOST_NAMED = 8
"""More names than that nobody tells apart."""


@dataclass(frozen=True, slots=True)
class Trace:
    """One curve without a name.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Rising frequencies.
    level_db : ndarray of float64, shape (k,)
        Level; nan where it is not known.
    half_width_db : ndarray of float64, shape (k,) or None
        Half of the 95 % interval; None: not known.
    """

    f_hz: F64
    level_db: F64
    half_width_db: F64 | None = None


def overlay_curves(named: Sequence[tuple[str, Trace | None]]) -> tuple[Curve, ...]:
    """Give each curve its colour, marker and line style, for the axes of any picture.

    Parameters
    ----------
    named : sequence of (str, Trace or None)
        Names and curves. The first `MOST_NAMED` are named, the others are grey, and one of these
        says how many. None has no curve and keeps its place, so that a name has the same colour in
        every picture of a page.

    Returns
    -------
    tuple of Curve
        Grey curves first, so that the others lie on top of them.
    """
    grey = [trace for _, trace in named[MOST_NAMED:] if trace is not None]
    note = "one more, in grey" if len(grey) == 1 else f"{len(grey)} more, in grey"
    curves = [
        Curve("" if number else note, trace.f_hz, trace.level_db, None, "other", 0)
        for number, trace in enumerate(grey)
    ]
    for number, (name, trace) in enumerate(named[:MOST_NAMED]):
        if trace is None:
            continue
        # Beyond the last ink they begin again: marker and dashes then tell them apart.
        line: LineKind = "resistor" if number < len(LIGHT.inks) else "plain"
        half, faint = trace.half_width_db, len(named) > _FEW
        curves.append(Curve(name, trace.f_hz, trace.level_db, half, line, number, faint))
    return tuple(curves)
