"""The empty picture: paper, axes in their prescribed aspect, ticks, title and caption."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedFormatter, FixedLocator, NullFormatter

from loopback.report.figures.palette import LIGHT, Theme
from loopback.report.figures.words import FAMILY, drawable, wrapped

F_LOW_HZ, F_HIGH_HZ = 10.0, 40_000.0
DECADES = math.log10(F_HIGH_HZ / F_LOW_HZ)
ALLOWED_DB_PER_DECADE = (10.0, 20.0, 25.0, 50.0)
"""IEC 60263:2020, 4.1: as many decibels are as long as one decade of frequency."""

SizeName = Literal["web", "slide"]
PAPER_WIDTH_IN = 8.0
SLIDE_HEIGHT_IN = 4.5
"""16:9; the letters are a fortieth of the height."""
LEFT_IN, AXES_WIDTH_IN, TOP_IN = 0.72, 4.86, 0.45
MARGIN_IN = 0.16
LABEL_GAP_IN = 0.30
LABEL_RIGHT_IN = 0.08
TEXT_PT, TITLE_PT, CAPTION_PT = 8.0, 10.0, 7.5
_BELOW_IN = 0.62
_CAPTION_LINE_IN, _TITLE_LINE_IN = 0.15, 0.19
_MOST_LINES = 4
"""Of a title or a caption on a slide, whose height is given."""

_STYLE: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": [FAMILY],
    "font.size": TEXT_PT,
    "axes.unicode_minus": True,
    "svg.hashsalt": "loopback",
    "svg.fonttype": "none",
    "path.simplify": True,
    "text.parse_math": False,
    "text.usetex": False,
    "text.hinting": "none",
    "hatch.linewidth": 0.5,
}


@dataclass(frozen=True, slots=True)
class Look:
    """How a picture looks, whatever it shows.

    Parameters
    ----------
    theme : Theme
        Paper and inks.
    size : {"web", "slide"}
        8 inches wide and as high as it needs, or 16:9.
    """

    theme: Theme = LIGHT
    size: SizeName = "web"


USUAL = Look()


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
    fine_db : float or None
        Distance of fine lines between them; None: there are none.
    """

    low_db: float
    high_db: float
    step_db: float
    db_per_decade: Literal[10, 20, 25, 50] | None
    quantity: str
    fine_db: float | None = None

    @property
    def height_over_width(self) -> float:
        """Height of the axes over their width."""
        if self.db_per_decade is None:
            return 2.4 / DECADES
        return (self.high_db - self.low_db) / self.db_per_decade / DECADES


@dataclass(frozen=True, slots=True)
class Paper:
    """Where things go on one paper, in inches.

    Parameters
    ----------
    width_in, height_in : float
        Of the paper.
    title, caption : tuple of str
        Lines.
    bottom_in, top_in : float
        What lies below and above the axes.
    """

    width_in: float
    height_in: float
    title: tuple[str, ...]
    caption: tuple[str, ...]
    bottom_in: float
    top_in: float

    @property
    def room_in(self) -> float:
        """Height that is left for axes."""
        return self.height_in - self.bottom_in - self.top_in


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


def paper_for(title: str, caption: str, look: Look, axes_height_in: float) -> Paper:
    """Break title and caption into lines and lay out the paper around the axes.

    Parameters
    ----------
    title, caption : str
        A long pedal name makes the paper longer, never the text smaller; on a slide it takes its
        room from the axes.
    look : Look
        See there.
    axes_height_in : float
        Height that the axes want; a slide gives them what it has.

    Returns
    -------
    Paper
        See there.
    """
    slide = look.size == "slide"
    room_in = PAPER_WIDTH_IN - 2 * MARGIN_IN
    most = _MOST_LINES if slide else None
    title_lines = wrapped(title, TITLE_PT, room_in, most, bold=True)
    caption_lines = wrapped(caption, CAPTION_PT, room_in, most)
    bottom_in = _BELOW_IN + _CAPTION_LINE_IN * len(caption_lines)
    top_in = TOP_IN + _TITLE_LINE_IN * (len(title_lines) - 1)
    height_in = SLIDE_HEIGHT_IN if slide else top_in + axes_height_in + bottom_in
    return Paper(
        PAPER_WIDTH_IN, height_in, tuple(title_lines), tuple(caption_lines), bottom_in, top_in
    )


def empty_paper(paper: Paper, theme: Theme) -> Figure:
    """Make a figure that has its title and its caption and no axes yet.

    Parameters
    ----------
    paper : Paper
        Its layout.
    theme : Theme
        Its colours.

    Returns
    -------
    Figure
        Call it inside `drawing_style`.
    """
    figure = Figure(
        figsize=(paper.width_in, paper.height_in), dpi=100, facecolor=theme.paper, edgecolor="none"
    )
    left, height = MARGIN_IN / paper.width_in, paper.height_in
    for row, line in enumerate(paper.title):
        figure.text(
            left,
            1 - (0.24 + _TITLE_LINE_IN * row) / height,
            drawable(line),
            fontsize=TITLE_PT,
            fontweight="bold",
            color=theme.text,
            va="baseline",
        )
    for row, line in enumerate(reversed(paper.caption)):
        figure.text(
            left,
            (0.10 + _CAPTION_LINE_IN * row) / height,
            drawable(line),
            fontsize=CAPTION_PT,
            color=theme.text,
            va="baseline",
        )
    return figure


def empty_figure(title: str, caption: str, scale: Scale, look: Look = USUAL) -> tuple[Figure, Axes]:
    """Make paper and axes of level over frequency; call it inside `drawing_style`.

    Parameters
    ----------
    title, caption : str
        Broken into lines here.
    scale : Scale
        The level axis.
    look : Look
        Theme and size.

    Returns
    -------
    Figure, Axes
        The axes have both limits, ticks, grid and names.
    """
    paper = paper_for(title, caption, look, AXES_WIDTH_IN * scale.height_over_width)
    height_in = paper.room_in
    width_in = min(AXES_WIDTH_IN, height_in / scale.height_over_width)
    if scale.db_per_decade is None:
        width_in = AXES_WIDTH_IN
    figure = empty_paper(paper, look.theme)
    axes = figure.add_axes(
        (
            LEFT_IN / paper.width_in,
            paper.bottom_in / paper.height_in,
            width_in / paper.width_in,
            height_in / paper.height_in,
        )
    )
    axes.set_ylim(scale.low_db, scale.high_db)
    axes.set_ylabel(scale.quantity)
    steps = round((scale.high_db - scale.low_db) / scale.step_db)
    levels = [round(scale.low_db + k * scale.step_db, 6) for k in range(steps + 1)]
    axes.yaxis.set_major_locator(FixedLocator(levels))
    if scale.fine_db is not None:
        fine = round((scale.high_db - scale.low_db) / scale.fine_db)
        axes.yaxis.set_minor_locator(
            FixedLocator([scale.low_db + k * scale.fine_db for k in range(fine + 1)])
        )
    _dress_frequency(axes)
    dress(axes, look.theme)
    return figure, axes


def dress(axes: Axes, theme: Theme) -> None:
    """Give axes their grid, colours and small ticks.

    Parameters
    ----------
    axes : Axes
        With limits and ticks.
    theme : Theme
        Colours.
    """
    axes.set_facecolor("none")
    axes.grid(visible=True, which="major", color=theme.grid, linewidth=0.7)
    axes.grid(visible=True, which="minor", color=theme.grid, linewidth=0.3)
    axes.set_axisbelow(True)
    for side, spine in axes.spines.items():
        spine.set_visible(side in ("left", "bottom"))
        spine.set_edgecolor(theme.text)
    axes.tick_params(which="both", length=2.5, width=0.6, color=theme.text, labelcolor=theme.text)
    axes.xaxis.label.set_color(theme.text)
    axes.yaxis.label.set_color(theme.text)


def _dress_frequency(axes: Axes) -> None:
    axes.set_xscale("log")
    axes.set_xlim(F_LOW_HZ, F_HIGH_HZ)
    axes.set_xlabel("frequency / Hz")
    numbered = (10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 10_000, 20_000, 40_000)
    names = ["10", "20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k", "40k"]
    axes.xaxis.set_major_locator(FixedLocator(numbered))
    axes.xaxis.set_major_formatter(FixedFormatter(names))
    fine = [k * 10**e for e in range(1, 5) for k in range(1, 10) if k * 10**e <= F_HIGH_HZ]
    axes.xaxis.set_minor_locator(FixedLocator(fine))
    axes.xaxis.set_minor_formatter(NullFormatter())
