"""Curves with their bands, the setup's floor, and the names that belong to them."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from loopback.arrays import F64
from loopback.report.figures.curves import Curve, Floor
from loopback.report.figures.frame import F_HIGH_HZ, F_LOW_HZ
from loopback.report.figures.labels import Label
from loopback.report.figures.palette import LINES, Theme, line_style, marker

_MARKS = 4
_SPAN = float(np.log(F_HIGH_HZ / F_LOW_HZ))
_STEP = _SPAN / 972
"""No finer than the paper: half a pixel of a page."""
_SHORTEST_AWAY = _SPAN / 200
_MOST_AWAY = 6


def draw_curve(axes: Axes, curve: Curve, number: int, theme: Theme) -> Label | None:
    """Draw one curve with its uncertainty band.

    Where it leaves the level axis, a triangle at the edge says on which side; the axis stays.

    Parameters
    ----------
    axes : Axes
        With final limits.
    curve : Curve
        What to draw.
    number : int
        Its place in the picture, from 0: shifts the markers so that equal curves show both.
    theme : Theme
        Colours.

    Returns
    -------
    Label or None
        Its name at its last point inside the frequency axis, with an arrow when all of it lies
        above or below the level axis; None when it has no point there, or no name.
    """
    low, high = axes.get_ylim()
    inside = (curve.f_hz >= F_LOW_HZ) & (curve.f_hz <= F_HIGH_HZ)
    if not (np.isfinite(curve.level_db) & inside).any():
        return None
    # A gap in the middle stays a gap.
    known = np.flatnonzero(np.isfinite(curve.level_db) & inside)
    part = slice(known[0], known[-1] + 1)
    f_hz, level = curve.f_hz[part], curve.level_db[part]
    colour = theme.ink(curve.line, curve.state)
    if curve.half_width_db is not None:
        half = curve.half_width_db[part]
        kept = _kept(f_hz)
        bottom, top = np.clip((level - half, level + half), low - 1e3, high + 1e3)
        axes.fill_between(
            f_hz[kept],
            bottom[kept],
            top[kept],
            color=colour,
            alpha=0.08 if curve.faint else 0.22,
            linewidth=0,
        )
    shown = np.clip(level, low - 1e3, high + 1e3)
    (line,) = axes.plot(
        f_hz,
        shown,
        color=colour,
        linewidth=LINES[curve.line][2],
        linestyle=line_style(curve.line),
        marker=marker(curve.line, curve.state) or None,
        markersize=3.6,
        markeredgewidth=0,
        markevery=_marked(f_hz, number),
    )
    line.set_gid(f"curve-{number}")
    alone = _alone(level)
    if alone.any():
        axes.plot(
            f_hz[alone], shown[alone], color=colour, marker=".", markersize=2.5, linestyle="none"
        )
    _mark_away(axes, f_hz, level, colour)
    if not curve.label:
        return None
    found = level[np.isfinite(level)]
    away = " ↓" if found.max() < low else " ↑" if found.min() > high else ""
    return Label(
        curve.label + away,
        float(f_hz[-1]),
        float(level[-1]),
        colour,
        curve.line,
        marker(curve.line, curve.state),
    )


def draw_floor(axes: Axes, floor: Floor, theme: Theme) -> Label:
    """Shade everything below the setup's own floor.

    Parameters
    ----------
    axes : Axes
        With final limits.
    floor : Floor
        The highest level that may be the setup's own.
    theme : Theme
        Colours.

    Returns
    -------
    Label
        Its name at its last point.
    """
    low, high = axes.get_ylim()
    level = np.clip(floor.level_db, low - 10, high)
    axes.fill_between(
        floor.f_hz,
        level,
        low,
        where=level > low,
        facecolor="none",
        edgecolor=theme.floor,
        hatch="////",
        linewidth=0.0,
        alpha=0.5,
    )
    axes.plot(floor.f_hz, level, color=theme.floor, linewidth=0.9)
    away = " ↓" if floor.level_db[-1] < low else ""
    return Label(
        floor.label + away,
        float(floor.f_hz[-1]),
        float(floor.level_db[-1]),
        theme.floor,
        "resistor",
    )


def draw_zone(axes: Axes, floor: Floor, theme: Theme) -> Label:
    """Shade the zone around 0 dB in which nothing can be told from the cable.

    Parameters
    ----------
    axes : Axes
        With final limits.
    floor : Floor
        Half-widths of the zone.
    theme : Theme
        Colours.

    Returns
    -------
    Label
        Its name at 0 dB.
    """
    _, high = axes.get_ylim()
    half = np.minimum(floor.level_db, high)
    axes.fill_between(
        floor.f_hz,
        -half,
        half,
        facecolor=theme.floor,
        edgecolor=theme.floor,
        hatch="////",
        linewidth=0.4,
        alpha=0.30,
    )
    return Label(floor.label, float(floor.f_hz[-1]), 0.0, theme.floor, "resistor")


def _kept(f_hz: F64) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Find points far enough apart to be told on paper; the last is among them."""
    cell = np.floor(np.log(f_hz / f_hz[0]) / _STEP)
    first = np.flatnonzero(np.diff(cell, prepend=-1.0) > 0)
    return np.asarray(first if first[-1] == len(f_hz) - 1 else np.append(first, len(f_hz) - 1))


def _mark_away(axes: Axes, f_hz: F64, level: F64, colour: str) -> None:
    """Put a triangle where a curve is beyond an end of the level axis."""
    low, high = axes.get_ylim()
    for away, edge, sign in ((level > high, high, "^"), (level < low, low, "v")):
        steps = np.diff(away.astype(np.int8), prepend=0, append=0)
        stretches = [
            (float(f_hz[begin]), float(f_hz[end - 1]))
            for begin, end in zip(np.flatnonzero(steps > 0), np.flatnonzero(steps < 0), strict=True)
        ]
        long = [(a, b) for a, b in stretches if np.log(b / a) >= _SHORTEST_AWAY]
        long.sort(key=lambda ends: ends[0] / ends[1])
        at = [float(np.sqrt(a * b)) for a, b in long[:_MOST_AWAY]]
        if at:
            axes.plot(
                at,
                [edge] * len(at),
                color=colour,
                marker=sign,
                markersize=5.0,
                markeredgewidth=0,
                linestyle="none",
                clip_on=False,
            )


def _alone(level: F64) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Find points without a neighbour, through which no line goes."""
    known = np.pad(np.isfinite(level), 1)
    return np.asarray(known[1:-1] & ~known[:-2] & ~known[2:])


def _marked(f_hz: F64, number: int) -> list[int]:
    """Find a few points, evenly over log frequency, shifted from curve to curve."""
    shift = (number * 0.382) % 1.0
    wanted = F_LOW_HZ * np.exp(_SPAN * (np.arange(_MARKS) + shift) / _MARKS)
    found = np.searchsorted(f_hz, wanted)
    return sorted({int(i) for i in found if i < len(f_hz)})
