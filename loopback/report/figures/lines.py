"""Curves with their bands, the setup's floor, and the names that belong to them."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes

from loopback.arrays import F64
from loopback.report.figures.curves import Curve, Floor
from loopback.report.figures.frame import F_HIGH_HZ, F_LOW_HZ
from loopback.report.figures.labels import Label
from loopback.report.figures.palette import FLOOR_INK, LINES, TEXT_INK, ink, line_style, marker

_MARKS = 4


def draw_curve(axes: Axes, curve: Curve, number: int) -> Label | None:
    """Draw one curve with its uncertainty band.

    Parameters
    ----------
    axes : Axes
        With final limits.
    curve : Curve
        What to draw.
    number : int
        Its place in the picture, from 0: shifts the markers so that equal curves show both.

    Returns
    -------
    Label or None
        Its name at its last point inside the frequency axis, with an arrow when all of it lies
        above or below the level axis; None when it has no point there.
    """
    low, high = axes.get_ylim()
    seen = np.isfinite(curve.level_db) & (curve.f_hz >= F_LOW_HZ) & (curve.f_hz <= F_HIGH_HZ)
    if not seen.any():
        return None
    f_hz, level = curve.f_hz[seen], curve.level_db[seen]
    colour = ink(curve.line, curve.state)
    if curve.half_width_db is not None:
        half = curve.half_width_db[seen]
        axes.fill_between(f_hz, level - half, level + half, color=colour, alpha=0.22, linewidth=0)
    (line,) = axes.plot(
        f_hz,
        level,
        color=colour,
        linewidth=LINES[curve.line][2],
        linestyle=line_style(curve.line),
        marker=marker(curve.line, curve.state) or None,
        markersize=3.6,
        markeredgewidth=0,
        markevery=_marked(f_hz, number),
    )
    line.set_gid(f"curve-{number}")
    end = float(level[-1])
    away = " ↓" if level.max() < low else " ↑" if level.min() > high else ""
    return Label(curve.label + away, float(f_hz[-1]), end, colour, curve.line)


def draw_floor(axes: Axes, floor: Floor) -> Label:
    """Shade everything below the setup's own floor.

    Parameters
    ----------
    axes : Axes
        With final limits.
    floor : Floor
        The highest level that may be the setup's own.

    Returns
    -------
    Label
        Its name at its last point.
    """
    low, _ = axes.get_ylim()
    axes.fill_between(
        floor.f_hz,
        floor.level_db,
        low,
        facecolor="none",
        edgecolor=FLOOR_INK,
        hatch="////",
        linewidth=0.0,
        alpha=0.35,
    )
    axes.plot(floor.f_hz, floor.level_db, color=FLOOR_INK, linewidth=0.9)
    return Label(
        floor.label, float(floor.f_hz[-1]), float(floor.level_db[-1]), TEXT_INK, "resistor"
    )


def draw_zone(axes: Axes, floor: Floor) -> Label:
    """Shade the zone around 0 dB in which nothing can be told from the cable.

    Parameters
    ----------
    axes : Axes
        With final limits.
    floor : Floor
        Half-widths of the zone.

    Returns
    -------
    Label
        Its name at 0 dB.
    """
    axes.fill_between(
        floor.f_hz,
        -floor.level_db,
        floor.level_db,
        facecolor=FLOOR_INK,
        edgecolor=FLOOR_INK,
        hatch="////",
        linewidth=0.4,
        alpha=0.30,
    )
    return Label(floor.label, float(floor.f_hz[-1]), 0.0, TEXT_INK, "resistor")


def _marked(f_hz: F64, number: int) -> list[int]:
    """Find a few points, evenly over log frequency, shifted from curve to curve."""
    span = np.log(F_HIGH_HZ / F_LOW_HZ)
    shift = (number * 0.382) % 1.0
    wanted = F_LOW_HZ * np.exp(span * (np.arange(_MARKS) + shift) / _MARKS)
    found = np.searchsorted(f_hz, wanted)
    return sorted({int(i) for i in found if i < len(f_hz)})
