"""What a picture is drawn from: curves, bands and words, already computed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from loopback.arrays import F64

LineKind = Literal["plain", "resistor", "cable", "other"]
"""How the run was fed; cable: a reference, drawn in grey; other: one of many, without a name."""


@dataclass(frozen=True, slots=True)
class Curve:
    """One line of a picture.

    Parameters
    ----------
    label : str
        Written beside the line.
    f_hz : ndarray of float64, shape (k,)
        Rising frequencies.
    level_db : ndarray of float64, shape (k,)
        Level; nan where it is not known.
    half_width_db : ndarray of float64, shape (k,) or None
        Half of the 95 % interval, drawn as a band; None: no band.
    line : {"plain", "resistor", "cable", "other"}
        Chooses the line style.
    state : int
        Chooses colour and marker; runs with the same power and switch position share it.
    """

    label: str
    f_hz: F64
    level_db: F64
    half_width_db: F64 | None
    line: LineKind
    state: int


@dataclass(frozen=True, slots=True)
class Floor:
    """Where the setup itself ends: differences from the cable below it are its own.

    Parameters
    ----------
    label : str
        Written beside it.
    f_hz : ndarray of float64, shape (k,)
        Rising frequencies.
    level_db : ndarray of float64, shape (k,)
        Largest difference from the cable that may be the setup's own; in a zoom, half-width of
        the zone around 0 dB in which a curve cannot be told from the cable.
    """

    label: str
    f_hz: F64
    level_db: F64


@dataclass(frozen=True, slots=True)
class Mark:
    """A single tone.

    Parameters
    ----------
    f_hz, level_db : float
        Frequency, and level of the tone itself.
    text : str
        Written above it.
    own : bool
        True for the pedal's own; False: of the mains, or of the setup.
    """

    f_hz: float
    level_db: float
    text: str
    own: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """One picture.

    Parameters
    ----------
    title : str
        What is shown, such as the pedal's name and the quantity.
    caption : str
        Pedal, setup, date and how to read it; burnt into the picture.
    curves : tuple of Curve
        In the order of the runs.
    floors : tuple of Floor
        The setup's own, one for each way of feeding.
    marks : tuple of Mark
        Single tones; empty in most pictures.
    """

    title: str
    caption: str
    curves: tuple[Curve, ...]
    floors: tuple[Floor, ...]
    marks: tuple[Mark, ...] = ()
