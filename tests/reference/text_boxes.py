"""Where words come to lie on the paper, measured by the renderer."""

from __future__ import annotations

import warnings
from itertools import combinations

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from loopback.report.figures.frame import drawing_style

Box = tuple[str, np.ndarray]


def texts(figure: Figure) -> list[Text]:
    """Every text that shows something."""
    return [t for t in figure.findobj(Text) if t.get_text().strip() and t.get_visible()]


def boxes(figure: Figure) -> list[Box]:
    """Text and corners in pixels."""
    canvas = FigureCanvasAgg(figure)
    with drawing_style(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        canvas.draw()
        renderer = canvas.get_renderer()
        # Text's own extent: that of an annotation would take the line to its point along.
        found = [(t.get_text(), Text.get_window_extent(t, renderer)) for t in texts(figure)]
    return [(text, np.array([b.x0, b.y0, b.x1, b.y1])) for text, b in found]


def overlap(a: np.ndarray, b: np.ndarray) -> bool:
    """Whether two boxes share more than half a pixel each way."""
    return bool(min(a[2], b[2]) - max(a[0], b[0]) > 0.5 and min(a[3], b[3]) - max(a[1], b[1]) > 0.5)


def faults(figure: Figure) -> list[str]:
    """Every text that leaves the paper or lies on another."""
    width, height = figure.get_size_inches() * figure.dpi
    placed = boxes(figure)
    out = [
        f"off the paper: {text}"
        for text, b in placed
        if b[0] < 0 or b[1] < 0 or b[2] > width or b[3] > height
    ]
    touching = ((a[0], b[0]) for a, b in combinations(placed, 2) if overlap(a[1], b[1]))
    return out + [f"{one} | {other}" for one, other in touching]
