"""The empty picture: paper, axes in their prescribed aspect, ticks, title and caption."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedFormatter, FixedLocator, NullFormatter

from loopback.report.figures.palette import GRID_INK, TEXT_INK

F_LOW_HZ, F_HIGH_HZ = 10.0, 40_000.0
DECADES = math.log10(F_HIGH_HZ / F_LOW_HZ)
ALLOWED_DB_PER_DECADE = (10.0, 20.0, 25.0, 50.0)
"""IEC 60263:2020, 4.1: as many decibels are as long as one decade of frequency."""

PAPER_WIDTH_IN = 8.0
LEFT_IN, AXES_WIDTH_IN, TOP_IN = 0.72, 4.86, 0.45
LABEL_GAP_IN = 0.30
LABEL_RIGHT_IN = 0.08
TEXT_PT = 8.0
_CAPTION_CHARACTERS = 118
_TITLE_CHARACTERS = 88
_CAPTION_LINE_IN = 0.15

_STYLE: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": TEXT_PT,
    "axes.unicode_minus": True,
    "svg.hashsalt": "loopback",
    "svg.fonttype": "path",
    "text.color": TEXT_INK,
    "axes.labelcolor": TEXT_INK,
    "axes.edgecolor": TEXT_INK,
    "xtick.color": TEXT_INK,
    "ytick.color": TEXT_INK,
    "path.simplify": True,
    "text.parse_math": False,
}


@dataclass(frozen=True, slots=True)
class Scale:
    """The level axis of a picture.

    Parameters
    ----------
    low_db, high_db : float
        Ends, fixed for all pedals.
    step_db : float
        Distance of the numbered lines.
    db_per_decade : float or None
        One of `ALLOWED_DB_PER_DECADE`; None: an expanded scale, which the picture says.
    quantity : str
        Quantity and unit.
    """

    low_db: float
    high_db: float
    step_db: float
    db_per_decade: Literal[10, 20, 25, 50] | None
    quantity: str

    @property
    def height_in(self) -> float:
        """Height of the axes in inches."""
        if self.db_per_decade is None:
            return AXES_WIDTH_IN / DECADES * 2.4
        return AXES_WIDTH_IN / DECADES * (self.high_db - self.low_db) / self.db_per_decade


@contextmanager
def drawing_style() -> Iterator[None]:
    """Hold the style of the project while something is drawn or written, and nothing after.

    Yields
    ------
    None
        Inside, figures made and written have this style.
    """
    with mpl.rc_context(_STYLE):
        yield


def empty_figure(title: str, caption: str, scale: Scale) -> tuple[Figure, Axes]:
    """Make paper and axes; call it inside `drawing_style`.

    Parameters
    ----------
    title, caption : str
        Broken into lines here; a long pedal name makes the paper longer, never the text smaller.
    scale : Scale
        The level axis.

    Returns
    -------
    Figure, Axes
        The axes have both limits, ticks, grid and names.
    """
    caption_lines = textwrap.wrap(caption, _CAPTION_CHARACTERS) or [""]
    title_lines = textwrap.wrap(title, _TITLE_CHARACTERS) or [""]
    bottom_in = 0.62 + _CAPTION_LINE_IN * len(caption_lines)
    top_in = TOP_IN + 0.19 * (len(title_lines) - 1)
    height_in = top_in + scale.height_in + bottom_in
    figure = Figure(figsize=(PAPER_WIDTH_IN, height_in), dpi=100, facecolor="white")
    axes = figure.add_axes(
        (
            LEFT_IN / PAPER_WIDTH_IN,
            bottom_in / height_in,
            AXES_WIDTH_IN / PAPER_WIDTH_IN,
            scale.height_in / height_in,
        )
    )
    figure.text(
        0.16 / PAPER_WIDTH_IN,
        1 - 0.12 / height_in,
        "\n".join(title_lines),
        fontsize=TEXT_PT + 2,
        fontweight="bold",
        va="top",
        linespacing=1.25,
    )
    figure.text(
        0.16 / PAPER_WIDTH_IN,
        0.08 / height_in,
        "\n".join(caption_lines),
        fontsize=TEXT_PT - 0.5,
        va="bottom",
        linespacing=1.35,
    )
    _dress(axes, scale)
    return figure, axes


def _dress(axes: Axes, scale: Scale) -> None:
    axes.set_xscale("log")
    axes.set_xlim(F_LOW_HZ, F_HIGH_HZ)
    axes.set_ylim(scale.low_db, scale.high_db)
    axes.set_xlabel("frequency / Hz")
    axes.set_ylabel(scale.quantity)
    numbered = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 40_000)
    names = ["10", "20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k", "40k"]
    axes.xaxis.set_major_locator(FixedLocator(numbered))
    axes.xaxis.set_major_formatter(FixedFormatter(names))
    fine = [k * 10**e for e in range(1, 5) for k in range(1, 10) if k * 10**e <= F_HIGH_HZ]
    axes.xaxis.set_minor_locator(FixedLocator(fine))
    axes.xaxis.set_minor_formatter(NullFormatter())
    steps = round((scale.high_db - scale.low_db) / scale.step_db)
    levels = [round(scale.low_db + k * scale.step_db, 6) for k in range(steps + 1)]
    axes.yaxis.set_major_locator(FixedLocator(levels))
    axes.grid(visible=True, which="major", color=GRID_INK, linewidth=0.7)
    axes.grid(visible=True, which="minor", color=GRID_INK, linewidth=0.3)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.tick_params(which="both", length=2.5, width=0.6)
