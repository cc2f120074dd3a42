"""Single tones in a picture of spectra: stems with their names."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.axes import Axes

from loopback.report.figures.curves import Mark
from loopback.report.figures.frame import F_HIGH_HZ, F_LOW_HZ
from loopback.report.figures.palette import Theme

_TEXT_PT = 7.0
_APART = 0.11
"""Names nearer than this part of a decade would lie on each other: the louder one is written."""
_UP_DB = 1.5


def draw_stems(axes: Axes, marks: Sequence[Mark], theme: Theme) -> None:
    """Draw a stem for each tone, and write the name above it where there is room.

    Parameters
    ----------
    axes : Axes
        With final limits.
    marks : sequence of Mark
        In any order; those outside the axes are left out.
    theme : Theme
        Colours.
    """
    low, high = axes.get_ylim()
    inside = [m for m in marks if F_LOW_HZ <= m.f_hz <= F_HIGH_HZ and low < m.level_db]
    named: list[float] = []
    for mark in sorted(inside, key=lambda m: -m.level_db):
        colour = theme.inks[4] if mark.own else theme.text
        top = min(mark.level_db, high)
        axes.plot([mark.f_hz, mark.f_hz], [low, top], color=colour, linewidth=0.8, alpha=0.7)
        axes.plot([mark.f_hz], [top], color=colour, marker="_" if mark.own else ".", markersize=4)
        if all(abs(_decades(mark.f_hz, other)) > _APART for other in named):
            named.append(mark.f_hz)
            axes.text(
                mark.f_hz,
                min(top + _UP_DB, high),
                mark.text,
                fontsize=_TEXT_PT,
                color=colour,
                rotation=90,
                va="bottom" if top + 25 < high else "top",
                ha="center",
            )


def _decades(f_hz: float, other_hz: float) -> float:
    return math.log10(f_hz / other_hz)
