"""Noise of the silences over frequency: the pedal's runs and the cable's."""

from __future__ import annotations

from matplotlib.figure import Figure

from loopback.report.figures.curves import Sheet
from loopback.report.figures.frame import USUAL, Look, Scale, drawing_style, empty_figure
from loopback.report.figures.labels import draw_labels
from loopback.report.figures.lines import draw_curve
from loopback.report.figures.stems import draw_stems

SCALE = Scale(-180.0, -60.0, 10.0, 50, "noise in 1 Hz / dBFS")


def draw_noise(sheet: Sheet, look: Look = USUAL) -> Figure:
    """Draw noise spectra.

    Parameters
    ----------
    sheet : Sheet
        Curves in dBFS in 1 Hz; the cable's own noise is the floor and is one of the curves. Marks
        are single tones, in dBFS.
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
        draw_stems(axes, sheet.marks, theme)
        drawn = [
            draw_curve(axes, curve, number, theme) for number, curve in enumerate(sheet.curves)
        ]
        draw_labels(axes, [label for label in drawn if label is not None], theme)
    return figure
