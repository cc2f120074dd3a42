"""Levels over frequency: runs against the cable, the same within 1 dB, and harmonics."""

from __future__ import annotations

from collections.abc import Callable

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from loopback.report.figures.curves import Floor, Sheet
from loopback.report.figures.frame import USUAL, Look, Scale, drawing_style, empty_figure
from loopback.report.figures.labels import Label, draw_labels
from loopback.report.figures.lines import draw_curve, draw_floor, draw_zone
from loopback.report.figures.palette import Theme

INSERTION_SCALE = Scale(-100.0, 20.0, 10.0, 50, "level against the cable / dB")
ZOOM_SCALE = Scale(-1.0, 1.0, 0.2, None, "level against the cable / dB (expanded)")
HARMONICS_SCALE = Scale(-140.0, 0.0, 10.0, 50, "harmonic over the signal itself / dB")


def draw_insertion(sheet: Sheet, look: Look = USUAL) -> Figure:
    """Draw the insertion response of every run: plain and resistor feed, bands, the setup's floor.

    Parameters
    ----------
    sheet : Sheet
        Curves in dB against the cable; floors in the same unit.
    look : Look
        Theme and size.

    Returns
    -------
    Figure
        One decade is as long as 50 dB (IEC 60263:2020, 4.1).
    """
    return _drawn(sheet, look, INSERTION_SCALE, draw_floor)


def draw_zoom(sheet: Sheet, look: Look = USUAL) -> Figure:
    """Draw what lies within 1 dB of the cable.

    Parameters
    ----------
    sheet : Sheet
        Curves in dB against the cable; floors as half-widths around 0 dB.
    look : Look
        Theme and size.

    Returns
    -------
    Figure
        Expanded: 2 dB would be a fifth of a decade in the aspect ratios of IEC 60263:2020, and
        the axis says so.
    """
    return _drawn(sheet, look, ZOOM_SCALE, draw_zone)


def draw_harmonics(sheet: Sheet, look: Look = USUAL) -> Figure:
    """Draw harmonics at the frequency that excites them: the pedal's in bypass and the cable's own.

    Parameters
    ----------
    sheet : Sheet
        Curves in dB over the fundamental, with their bands; floors are what noise hides.
    look : Look
        Theme and size.

    Returns
    -------
    Figure
        One decade is as long as 50 dB (IEC 60263:2020, 4.1).
    """
    return _drawn(sheet, look, HARMONICS_SCALE, draw_floor)


def _drawn(
    sheet: Sheet, look: Look, scale: Scale, hidden: Callable[[Axes, Floor, Theme], Label]
) -> Figure:
    with drawing_style():
        figure, axes = empty_figure(sheet.title, sheet.caption, scale, look)
        labels = [hidden(axes, floor, look.theme) for floor in sheet.floors]
        drawn = [
            draw_curve(axes, curve, number, look.theme) for number, curve in enumerate(sheet.curves)
        ]
        labels += [label for label in drawn if label is not None]
        draw_labels(axes, labels, look.theme)
    return figure
