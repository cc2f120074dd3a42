"""The same curves within 1 dB of the cable, on an expanded scale."""

from __future__ import annotations

from matplotlib.figure import Figure

from loopback.report.figures.curves import Sheet
from loopback.report.figures.frame import USUAL, Look, Scale, drawing_style, empty_figure
from loopback.report.figures.labels import draw_labels
from loopback.report.figures.lines import draw_curve, draw_zone

SCALE = Scale(-1.0, 1.0, 0.2, None, "level against the cable / dB (expanded)")


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
    theme = look.theme
    with drawing_style():
        figure, axes = empty_figure(sheet.title, sheet.caption, SCALE, look)
        labels = [draw_zone(axes, floor, theme) for floor in sheet.floors]
        drawn = [
            draw_curve(axes, curve, number, theme) for number, curve in enumerate(sheet.curves)
        ]
        labels += [label for label in drawn if label is not None]
        draw_labels(axes, labels, theme)
    return figure
