"""What the footswitch puts on the line: the worst press of either direction, and every press."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FixedFormatter, FixedLocator, NullFormatter, NullLocator

from loopback.report.figures.curves import LineKind, PressGroup, PressSheet
from loopback.report.figures.frame import (
    AXES_WIDTH_IN,
    LEFT_IN,
    MARGIN_IN,
    PAPER_WIDTH_IN,
    TEXT_PT,
    USUAL,
    Look,
    Paper,
    drawing_style,
    dress,
    empty_paper,
    paper_for,
)
from loopback.report.figures.labels import Label, draw_labels
from loopback.report.figures.palette import MARKERS, Theme, line_style
from loopback.report.figures.words import shortened

_WAVES_IN, _BETWEEN_IN, _DOTS_IN = 1.35, 0.62, 1.75
_GAP_IN = 0.62
_NAME_IN = 0.12
"""Above the courses, for their names."""
_T_MS = (-10.0, 250.0)
_LEAST_PRESSES = 20
_DECADES = {"V": (-5, 1), "FS": (-7, 0)}
_PARTS = {"": "full scale", "m": "10⁻³ full scale", "µ": "10⁻⁶ full scale"}
_STEPS = ((1.0, ""), (1e-3, "m"), (1e-6, "µ"))


def draw_presses(sheet: PressSheet, look: Look = USUAL) -> Figure:
    """Draw the record of a footswitch.

    The courses share one linear scale of their own, told on the axis; the peaks of all presses have
    a logarithmic one that is the same for every pedal.

    Parameters
    ----------
    sheet : PressSheet
        Both directions.
    look : Look
        Theme and size.

    Returns
    -------
    Figure
        Hatched: what silence stays within, 99 windows of 100.
    """
    theme = look.theme
    with drawing_style():
        wanted = _WAVES_IN + _NAME_IN + _BETWEEN_IN + _DOTS_IN
        paper = paper_for(sheet.title, sheet.caption, look, wanted)
        figure = empty_paper(paper, theme)
        gap = _BETWEEN_IN
        dots_in = (paper.room_in - gap) * _DOTS_IN / (_DOTS_IN + _WAVES_IN)
        waves_in = paper.room_in - gap - dots_in - _NAME_IN
        _draw_waves(figure, paper, sheet, (paper.bottom_in + dots_in + gap, waves_in), theme)
        _draw_dots(figure, paper, sheet, (paper.bottom_in, dots_in), theme)
    return figure


def _axes(
    figure: Figure, paper: Paper, left_in: float, width_in: float, y: tuple[float, float]
) -> Axes:
    return figure.add_axes(
        (
            left_in / paper.width_in,
            y[0] / paper.height_in,
            width_in / paper.width_in,
            y[1] / paper.height_in,
        )
    )


def _draw_waves(
    figure: Figure, paper: Paper, sheet: PressSheet, y: tuple[float, float], theme: Theme
) -> None:
    end, factor, prefix = _wave_scale(sheet.groups)
    unit = f"{prefix}V" if sheet.unit == "V" else _PARTS[prefix]
    width_in = (PAPER_WIDTH_IN - LEFT_IN - MARGIN_IN - _GAP_IN) / 2
    for place, group in enumerate(sheet.groups):
        axes = _axes(figure, paper, LEFT_IN + place * (width_in + _GAP_IN), width_in, y)
        axes.set_xlim(*_T_MS)
        axes.set_ylim(-end / factor, end / factor)
        axes.xaxis.set_major_locator(FixedLocator([0, 50, 100, 150, 200, 250]))
        ticks = [-end, -end / 2, 0.0, end / 2, end]
        axes.yaxis.set_major_locator(FixedLocator([tick / factor for tick in ticks]))
        axes.yaxis.set_major_formatter(
            FixedFormatter([f"{tick / factor:.3g}".replace("-", "−") for tick in ticks])
        )
        axes.set_xlabel("time after the press / ms")
        axes.set_ylabel(f"line / {unit}")
        dress(axes, theme)
        limit = group.silence_99 / factor
        axes.fill_between(
            _T_MS, -limit, limit, facecolor="none", edgecolor=theme.floor, hatch="////",
            linewidth=0.0, alpha=0.5,
        )  # fmt: skip
        colour = theme.inks[place]
        if len(group.t_s):
            axes.fill_between(
                1000 * group.t_s, group.low / factor, group.high / factor,
                color=colour, linewidth=0.8,
            )  # fmt: skip
        name = (
            f"{group.name}: the highest press"
            if len(group.t_s)
            else f"{group.name}: no press heard"
        )
        axes.set_title(
            shortened(name, TEXT_PT, width_in),
            fontsize=TEXT_PT,
            color=theme.text,
            loc="left",
            pad=3,
        )


def _wave_scale(groups: Sequence[PressGroup]) -> tuple[float, float, str]:
    """Choose the end of the axis, 1, 2 or 5 times a power of ten, and the prefix of its unit."""
    sizes = [float(np.max(np.abs(np.r_[g.low, g.high, g.silence_99]))) for g in groups]
    most = max((1.05 * size for size in sizes), default=0.0) or 1.0
    power = 10.0 ** math.floor(math.log10(most))
    end = next(k * power for k in (1, 2, 5, 10) if k * power >= most)
    factor, prefix = next((s for s in _STEPS if end >= s[0]), _STEPS[-1])
    return end, factor, prefix


def _draw_dots(
    figure: Figure, paper: Paper, sheet: PressSheet, y: tuple[float, float], theme: Theme
) -> None:
    axes = _axes(figure, paper, LEFT_IN, AXES_WIDTH_IN, y)
    low, high = _DECADES[sheet.unit]
    last = max([_LEAST_PRESSES, *(float(n) for g in sheet.groups for n in g.number)])
    # Decades are drawn as numbers: labels beside dots then need no axis of their own kind.
    axes.set_xlim(0.0, last + 1)
    axes.set_ylim(low, high)
    step = 5 if last <= 50 else 20
    axes.xaxis.set_major_locator(FixedLocator([1, *range(step, int(last) + 1, step)]))
    axes.xaxis.set_minor_locator(NullLocator())
    decades = list(range(low, high + 1))
    axes.yaxis.set_major_locator(FixedLocator(decades))
    axes.yaxis.set_major_formatter(FixedFormatter([_decade(n, sheet.unit) for n in decades]))
    fine = [n + math.log10(k) for n in decades[:-1] for k in (2, 5)]
    axes.yaxis.set_minor_locator(FixedLocator(fine))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("press, counted")
    axes.set_ylabel("peak / V" if sheet.unit == "V" else "peak / dBFS")
    dress(axes, theme)
    labels = []
    for place, group in enumerate(sheet.groups):
        colour, sign = theme.inks[place], MARKERS[place]
        line: LineKind = "resistor" if place == 0 else "plain"
        limit = _log(np.array([group.silence_99]))[0]
        axes.plot(
            [0, last + 1], [limit, limit], color=colour, linewidth=0.9, linestyle=line_style(line)
        )
        if len(group.number):
            top, bottom = _log(group.peak + group.half_width), _log(group.peak - group.half_width)
            middle = np.clip(_log(group.peak), low, high)
            axes.vlines(
                group.number, np.clip(bottom, low, high), np.clip(top, low, high),
                color=colour, linewidth=0.8, alpha=0.6,
            )  # fmt: skip
            axes.plot(
                group.number,
                middle,
                gid=f"presses-{place}",
                color=colour,
                marker=sign,
                markersize=3.6,
                markeredgewidth=0,
                linestyle="none",
                clip_on=False,
            )
            labels.append(Label(group.said, last + 1, float(middle[-1]), colour, line, sign))
        amount = _amount(group.silence_99, sheet.unit)
        silent = f"silence, {group.name}: {amount}"
        if not len(group.number):
            silent = f"{group.said}, silence: {amount}"
        labels.append(Label(silent, last + 1, float(limit), colour, line))
    draw_labels(axes, labels, theme)


def _log(values: np.ndarray) -> np.ndarray:
    return np.asarray(np.log10(np.maximum(values, 1e-12)))


def _decade(power: int, unit: str) -> str:
    if unit == "FS":
        return f"{20 * power}".replace("-", "−")
    return _amount(10.0**power, unit).removesuffix("V").rstrip()


def _amount(value: float, unit: str) -> str:
    if unit == "FS":
        return f"{20 * math.log10(max(value, 1e-12)):.0f} dBFS".replace("-", "−")
    factor, prefix = next((s for s in _STEPS if value >= 0.9999 * s[0]), _STEPS[-1])
    return f"{value / factor:.3g} {prefix}V"
