"""Names beside the curves: placed so that no two of them touch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes

from loopback.report.figures.curves import LineKind
from loopback.report.figures.frame import LABEL_GAP_IN, LABEL_RIGHT_IN, PAPER_WIDTH_IN, TEXT_PT
from loopback.report.figures.palette import Theme, line_style
from loopback.report.figures.spread import spread
from loopback.report.figures.words import drawable, wrapped

_LINE_FACTOR = 1.22
_APART_FACTOR = 0.25
_SMALLEST_PT = 5.5
_POINTS_PER_IN = 72.0
_MOST_LINES = 4
_SAMPLE_IN = 0.09
"""From the end of the joining line, where the marker is, to the name."""


@dataclass(frozen=True, slots=True)
class Label:
    """One name, the point it belongs to, and how its curve is drawn.

    Parameters
    ----------
    text : str
        The name.
    f_hz, level_db : float
        The point, in the coordinates of the axes.
    colour : str
        As ``#rrggbb``.
    line : {"plain", "resistor", "cable", "other"}
        Line style of the curve, repeated in the line that joins name and point.
    marker : str
        Marker of the curve, repeated before the name; empty: none.
    """

    text: str
    f_hz: float
    level_db: float
    colour: str
    line: LineKind
    marker: str = ""


def draw_labels(axes: Axes, labels: Sequence[Label], theme: Theme) -> None:
    """Write names at the right of the axes, each joined to its point by a thin line.

    Parameters
    ----------
    axes : Axes
        Laid out on its figure, with final limits.
    labels : sequence of Label
        In any order; sorted here by level.
    theme : Theme
        Colours.
    """
    figure = axes.get_figure(root=True)
    if not labels or figure is None:
        return
    low, high = axes.get_ylim()
    box = axes.get_position()
    height_in = box.height * figure.get_size_inches()[1]
    right_in = box.x1 * PAPER_WIDTH_IN
    room_in = PAPER_WIDTH_IN - LABEL_RIGHT_IN - right_in - LABEL_GAP_IN - _SAMPLE_IN
    order = sorted(labels, key=lambda label: label.level_db)
    size_pt, lines = _fitted([label.text for label in order], room_in, height_in)
    per_in = (high - low) / height_in
    line_db = size_pt * _LINE_FACTOR / _POINTS_PER_IN * per_in
    apart_db = size_pt * _APART_FACTOR / _POINTS_PER_IN * per_in
    anchors = [min(max(label.level_db, low), high) for label in order]
    sizes = [len(rows) * line_db + apart_db for rows in lines]
    places = spread(anchors, sizes, low, high)
    across = axes.get_yaxis_transform()
    x_end = (right_in + LABEL_GAP_IN - box.x0 * PAPER_WIDTH_IN) / (box.width * PAPER_WIDTH_IN)
    x_text = x_end + _SAMPLE_IN / (box.width * PAPER_WIDTH_IN)
    for label, rows, place, anchor in zip(order, lines, places, anchors, strict=True):
        axes.annotate(
            "",
            xy=(label.f_hz, anchor),
            xycoords="data",
            xytext=(x_end, place),
            textcoords=across,
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": label.colour,
                "linewidth": 0.7,
                "linestyle": line_style(label.line),
                "shrinkA": 0,
                "shrinkB": 0,
            },
        )
        if label.marker:
            axes.plot(
                [x_end],
                [place],
                color=label.colour,
                marker=label.marker,
                markersize=3.6,
                markeredgewidth=0,
                transform=across,
                clip_on=False,
            )
        for row, text in enumerate(rows):
            axes.text(
                x_text,
                place + ((len(rows) - 1) / 2 - row - 0.31) * line_db,
                drawable(text),
                transform=across,
                fontsize=size_pt,
                color=theme.text,
                va="baseline",
                ha="left",
            )


def _fitted(
    texts: Sequence[str], room_in: float, height_in: float
) -> tuple[float, list[list[str]]]:
    """Find the largest font, and within it the most lines for each name, that fit the height."""
    size_pt = TEXT_PT
    while True:
        for most in range(_MOST_LINES, 0, -1):
            lines = [wrapped(text, size_pt, room_in, most) for text in texts]
            needed = sum(len(rows) * _LINE_FACTOR + _APART_FACTOR for rows in lines)
            if needed * size_pt / _POINTS_PER_IN <= height_in:
                return size_pt, lines
        if size_pt <= _SMALLEST_PT:
            return size_pt, lines
        size_pt = max(_SMALLEST_PT, size_pt - 0.5)
