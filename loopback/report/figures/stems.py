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
_BESIDE = 0.055
"""A louder tone nearer than this would lie on the name."""
_NAME_DB = 27.0
"""Room for a name above its stem."""


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
        apart = all(abs(_decades(mark.f_hz, other)) > _APART for other in named)
        hidden = any(
            abs(_decades(mark.f_hz, other.f_hz)) < _BESIDE and other.level_db > mark.level_db
            for other in inside
        )
        if not apart or hidden:
            continue
        named.append(mark.f_hz)
        beside = top + _NAME_DB >= high
        axes.annotate(
            mark.text,
            xy=(mark.f_hz, high if beside else top),
            # No room above: beside its stem.
            xytext=(-3.0, -2.0) if beside else (0.0, 4.0),
            textcoords="offset points",
            fontsize=_TEXT_PT,
            color=theme.text,
            rotation=90,
            va="top" if beside else "bottom",
            ha="right" if beside else "center",
            annotation_clip=False,
        )


def _decades(f_hz: float, other_hz: float) -> float:
    return math.log10(f_hz / other_hz)
