"""Harmonics over frequency: the pedal's in bypass, the cable's own, and where noise hides both."""

from __future__ import annotations

from matplotlib.figure import Figure

from loopback.report.figures.curves import Sheet
from loopback.report.figures.frame import USUAL, Look, Scale, drawing_style, empty_figure
from loopback.report.figures.labels import draw_labels
from loopback.report.figures.lines import draw_curve, draw_floor

SCALE = Scale(-140.0, 0.0, 10.0, 50, "harmonic over the signal itself / dB")


def draw_harmonics(sheet: Sheet, look: Look = USUAL) -> Figure:
    """Draw harmonics at the frequency that excites them.

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
    theme = look.theme
    with drawing_style():
        figure, axes = empty_figure(sheet.title, sheet.caption, SCALE, look)
        labels = [draw_floor(axes, floor, theme) for floor in sheet.floors]
        drawn = [
            draw_curve(axes, curve, number, theme) for number, curve in enumerate(sheet.curves)
        ]
        labels += [label for label in drawn if label is not None]
        draw_labels(axes, labels, theme)
    return figure
