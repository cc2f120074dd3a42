"""A small circuit as data: what lies in line, what lies across it, and what is written beside."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

LineKind = Literal[
    "wire", "resistor", "capacitor", "winding", "joint", "open", "stage", "converter"
]
"""joint: a contact that comes and goes; stage: powered, drives what follows."""
AcrossKind = Literal["resistor", "capacitor", "wire"]


@dataclass(frozen=True, slots=True)
class InLine:
    """One part between input and output.

    Parameters
    ----------
    kind : str
        Which symbol.
    text : str
        Written above it; may be empty.
    below : str
        Written below it; may be empty.
    """

    kind: LineKind
    text: str = ""
    below: str = ""


@dataclass(frozen=True, slots=True)
class Across:
    """One branch from the line to ground.

    Parameters
    ----------
    parts : tuple of (str, str)
        From the line downwards, each with what is written beside it; one or two.
    """

    parts: tuple[tuple[AcrossKind, str], ...]


@dataclass(frozen=True, slots=True)
class Circuit:
    """A circuit between input and output.

    Parameters
    ----------
    items : tuple of InLine or Across
        From left to right.
    note : str
        What the drawing does not show; may be empty.
    """

    items: tuple[InLine | Across, ...]
    note: str = ""
