"""Names beside the curves: placed so that no two of them touch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextToPath

from loopback.report.figures.curves import LineKind
from loopback.report.figures.frame import LABEL_GAP_IN, LABEL_RIGHT_IN, PAPER_WIDTH_IN, TEXT_PT
from loopback.report.figures.palette import line_style

_LINE_FACTOR = 1.42
_SMALLEST_PT = 5.5
_POINTS_PER_IN = 72.0


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
    line : {"plain", "resistor", "cable"}
        Line style of the curve, repeated in the line that joins name and point.
    """

    text: str
    f_hz: float
    level_db: float
    colour: str
    line: LineKind


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Move positions apart by the least amount that keeps their order and a gap between them.

    Parameters
    ----------
    wanted : sequence of float
        Positions, rising.
    gap : float
        Least distance of neighbours.
    low, high : float
        Where all of them must lie; made to fit by a smaller gap if there are too many.

    Returns
    -------
    list of float
        Rising positions: neighbours that would touch form groups, each centred on the mean of what
        its members wanted (pool adjacent violators; Barlow and others 1972).
    """
    count = len(wanted)
    if count == 0:
        return []
    if count > 1:
        gap = min(gap, (high - low) / (count - 1))
    groups: list[tuple[float, int]] = []
    for index, position in enumerate(wanted):
        total, size = position - index * gap, 1
        while groups and groups[-1][0] / groups[-1][1] >= total / size:
            before_total, before_size = groups.pop()
            total, size = total + before_total, size + before_size
        groups.append((total, size))
    top = high - (count - 1) * gap
    level = [min(max(total / size, low), top) for total, size in groups for _ in range(size)]
    return [base + index * gap for index, base in enumerate(level)]


def draw_labels(axes: Axes, labels: Sequence[Label]) -> None:
    """Write names at the right of the axes, each joined to its point by a thin line.

    Parameters
    ----------
    axes : Axes
        Laid out on its figure, with final limits.
    labels : sequence of Label
        In any order; sorted here by level.
    """
    if not labels:
        return
    low, high = axes.get_ylim()
    box = axes.get_position()
    figure = axes.get_figure(root=True)
    if figure is None:
        return
    height_in = box.height * figure.get_size_inches()[1]
    right_in = box.x1 * PAPER_WIDTH_IN
    room_in = PAPER_WIDTH_IN - LABEL_RIGHT_IN - right_in - LABEL_GAP_IN
    pitch_in = height_in / max(1, len(labels))
    size_pt = max(_SMALLEST_PT, min(TEXT_PT, pitch_in * _POINTS_PER_IN / _LINE_FACTOR))
    per_in = (high - low) / height_in
    gap = size_pt * _LINE_FACTOR / _POINTS_PER_IN * per_in
    order = sorted(labels, key=lambda label: label.level_db)
    wanted = [min(max(label.level_db, low), high) for label in order]
    inset = gap / 2
    places = spread(wanted, gap, low + inset, high - inset)
    x_text = (right_in + LABEL_GAP_IN - box.x0 * PAPER_WIDTH_IN) / (box.width * PAPER_WIDTH_IN)
    for label, place, anchor in zip(order, places, wanted, strict=True):
        axes.annotate(
            shortened(label.text, size_pt, room_in),
            xy=(label.f_hz, anchor),
            xycoords="data",
            xytext=(x_text, place),
            textcoords=axes.get_yaxis_transform(),
            fontsize=size_pt,
            color=label.colour,
            va="center",
            ha="left",
            annotation_clip=False,
            arrowprops={
                "arrowstyle": "-",
                "color": label.colour,
                "linewidth": 0.7,
                "linestyle": line_style(label.line),
                "shrinkA": 1.5,
                "shrinkB": 0,
                "relpos": (0.0, 0.5),
            },
        )


def width_in(text: str, size_pt: float) -> float:
    """Measure a text in the font of the labels.

    Parameters
    ----------
    text : str
        One line.
    size_pt : float
        Size of the font in points.

    Returns
    -------
    float
        Inches.
    """
    font = FontProperties(family=["DejaVu Sans"], size=size_pt)
    width, _, _ = TextToPath().get_text_width_height_descent(text, font, ismath=False)
    return float(width) / _POINTS_PER_IN


def shortened(text: str, size_pt: float, room_in: float) -> str:
    """Cut a text that is too wide, with an ellipsis at the end.

    Parameters
    ----------
    text : str
        One line.
    size_pt : float
        Size of the font in points.
    room_in : float
        Room in inches.

    Returns
    -------
    str
        The text itself where it fits.
    """
    if width_in(text, size_pt) <= room_in:
        return text
    kept = text
    while kept and width_in(f"{kept}…", size_pt) > room_in:
        kept = kept[:-1]
    return kept.rstrip(" ,") + "…"
