"""What a pedal in bypass changes for a player: level over frequency, one curve for each pickup."""

from __future__ import annotations

from matplotlib.figure import Figure

from loopback.report.figures.curves import Sheet
from loopback.report.figures.frame import USUAL, Look, Scale, drawing_style, empty_figure
from loopback.report.figures.labels import draw_labels
from loopback.report.figures.lines import draw_curve

SCALE = Scale(-15.0, 10.0, 5.0, 10, "change of level at the amplifier / dB", 1.0)


def draw_player(sheet: Sheet, look: Look = USUAL) -> Figure:
    """Draw changes of level.

    Parameters
    ----------
    sheet : Sheet
        Curves in dB, with their bands.
    look : Look
        Theme and size.

    Returns
    -------
    Figure
        One decade is as long as 10 dB (IEC 60263:2020, 4.1).
    """
    theme = look.theme
    with drawing_style():
        figure, axes = empty_figure(sheet.title, sheet.caption, SCALE, look)
        drawn = [
            draw_curve(axes, curve, number, theme) for number, curve in enumerate(sheet.curves)
        ]
        draw_labels(axes, [label for label in drawn if label is not None], theme)
    return figure
