"""Colours, markers and line styles, chosen for this project.

Six inks for either paper, found by a random search that held the smallest CIELAB difference between
any two of them as large as possible in normal vision and in simulated protanopia, deuteranopia and
tritanopia, with a contrast of at least 3:1 on white and 4.5:1 on the dark paper. Colour never
stands alone: marker and line style say the same. Words are written in the ink of text.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from loopback.report.figures.curves import LineKind

ThemeName = Literal["light", "dark"]


@dataclass(frozen=True, slots=True)
class Theme:
    """Paper and inks. No two inks of a theme are equal, so that one can be told by its colour.

    Parameters
    ----------
    name : {"light", "dark"}
        What it is called.
    paper, text, grid : str
        As ``#rrggbb``.
    floor, cable, other : str
        The setup's own floor; a reference; curves beyond those that are named.
    inks : tuple of str
        For the states of a pedal, or for pedals.
    """

    name: ThemeName
    paper: str
    text: str
    grid: str
    floor: str
    cable: str
    other: str
    inks: tuple[str, str, str, str, str, str]

    @property
    def all_inks(self) -> tuple[str, ...]:
        """Every colour of the theme, in an order that is the same for all themes."""
        return self.paper, self.text, self.grid, self.floor, self.cable, self.other, *self.inks

    def ink(self, line: LineKind, number: int) -> str:
        """Choose the colour of a curve.

        Parameters
        ----------
        line : {"plain", "resistor", "cable", "other"}
            What the curve is.
        number : int
            State of power and switch, or place in the picture; beyond the last ink it begins again.

        Returns
        -------
        str
            As ``#rrggbb``.
        """
        if line == "cable":
            return self.cable
        return self.other if line == "other" else self.inks[number % len(self.inks)]


LIGHT = Theme(
    "light",
    paper="#ffffff",
    text="#1d2226",
    grid="#d3d7da",
    floor="#8a9299",
    cable="#5d646b",
    other="#a9b0b6",
    inks=("#298fc2", "#12308f", "#ad7e0b", "#d7556c", "#700a48", "#463600"),
)
DARK = Theme(
    "dark",
    paper="#15181b",
    text="#e6e9eb",
    grid="#343a40",
    floor="#79828a",
    cable="#a7afb6",
    other="#636b72",
    inks=("#42f4fe", "#a665ec", "#f9c50c", "#cb662d", "#d0ecb3", "#09917e"),
)
THEMES: dict[ThemeName, Theme] = {"light": LIGHT, "dark": DARK}

MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
LINES: dict[LineKind, tuple[float, tuple[float, ...] | None, float]] = {
    "resistor": (0.0, None, 1.5),
    "plain": (0.0, (4.0, 1.6), 1.3),
    "cable": (0.0, (1.0, 1.2), 1.2),
    "other": (0.0, (6.0, 1.0, 1.0, 1.0), 0.7),
}
"""Offset and pattern of the dashes (None: unbroken), and the width in points."""


def marker(line: LineKind, number: int) -> str:
    """Choose the marker of a curve.

    Parameters
    ----------
    line : {"plain", "resistor", "cable", "other"}
        What the curve is.
    number : int
        As for its colour; there are more markers than inks.

    Returns
    -------
    str
        As matplotlib takes it; empty for the cable and for curves without a name.
    """
    return "" if line in ("cable", "other") else MARKERS[number % len(MARKERS)]


def line_style(line: LineKind) -> str | tuple[float, tuple[float, ...]]:
    """Choose the line style of a curve.

    Parameters
    ----------
    line : {"plain", "resistor", "cable", "other"}
        What the curve is.

    Returns
    -------
    str, or tuple of float and tuple of float
        As matplotlib takes it.
    """
    offset, dashes, _ = LINES[line]
    return "-" if dashes is None else (offset, dashes)
