"""Colours, markers and line styles, chosen for this project.

Six inks found by a random search that held the smallest CIELAB difference between any two of them
as large as possible in normal vision and in simulated protanopia, deuteranopia and tritanopia, with
a contrast of at least 3:1 on white. Colour never stands alone: marker and line style say the same.
"""

from __future__ import annotations

from loopback.report.figures.curves import LineKind

INKS = ("#298fc2", "#12308f", "#ad7e0b", "#d7556c", "#700a48", "#463600")
MARKERS = ("o", "s", "^", "D", "v", "P")
CABLE_INK = "#5d646b"
FLOOR_INK = "#8a9299"
GRID_INK = "#d3d7da"
TEXT_INK = "#1d2226"

LINES: dict[LineKind, tuple[float, tuple[float, ...] | None, float]] = {
    "resistor": (0.0, None, 1.5),
    "plain": (0.0, (4.0, 1.6), 1.3),
    "cable": (0.0, (1.0, 1.2), 1.2),
}
"""Offset and pattern of the dashes (None: unbroken), and the width in points."""


def ink(line: LineKind, state: int) -> str:
    """Choose the colour of a curve.

    Parameters
    ----------
    line : {"plain", "resistor", "cable"}
        How the run was fed.
    state : int
        State of power and switch; beyond the last ink it begins again.

    Returns
    -------
    str
        As ``#rrggbb``.
    """
    return CABLE_INK if line == "cable" else INKS[state % len(INKS)]


def marker(line: LineKind, state: int) -> str:
    """Choose the marker of a curve.

    Parameters
    ----------
    line : {"plain", "resistor", "cable"}
        How the run was fed.
    state : int
        State of power and switch; beyond the last ink it begins again.

    Returns
    -------
    str
        As matplotlib takes it; empty for the cable.
    """
    return "" if line == "cable" else MARKERS[state % len(MARKERS)]


def line_style(line: LineKind) -> str | tuple[float, tuple[float, ...]]:
    """Choose the line style of a curve.

    Parameters
    ----------
    line : {"plain", "resistor", "cable"}
        How the run was fed.

    Returns
    -------
    str, or tuple of float and tuple of float
        As matplotlib takes it.
    """
    offset, dashes, _ = LINES[line]
    return "-" if dashes is None else (offset, dashes)
