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
    faint : bool
        True: a paler band, where many lie on each other.
    """

    label: str
    f_hz: F64
    level_db: F64
    half_width_db: F64 | None
    line: LineKind
    state: int
    faint: bool = False


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

    @property
    def empty(self) -> bool:
        """Whether there is nothing to show."""
        return not self.curves


@dataclass(frozen=True, slots=True)
class PressGroup:
    """All presses of one direction.

    Parameters
    ----------
    name : str
        Which way.
    said : str
        What is written beside its dots: how many are pops.
    number : ndarray of float64, shape (n,)
        Which presses, counted over both directions from 1.
    peak, half_width : ndarray of float64, shape (n,)
        Peak of each, and half of its 95 % interval, in the unit of the sheet.
    silence_99 : float
        Peak that silence exceeds in one window of a hundred.
    t_s, low, high : ndarray of float64, shape (m,)
        Course of the press that peaks highest, as an envelope; empty without a press.
    """

    name: str
    said: str
    number: F64
    peak: F64
    half_width: F64
    silence_99: float
    t_s: F64
    low: F64
    high: F64


@dataclass(frozen=True, slots=True)
class PressSheet:
    """The picture of a footswitch.

    Parameters
    ----------
    title, caption : str
        As in `Sheet`.
    unit : {"V", "FS"}
        Of amplitudes.
    groups : tuple of PressGroup
        Both directions; none where nothing was pressed.
    """

    title: str
    caption: str
    unit: Literal["V", "FS"]
    groups: tuple[PressGroup, ...]

    @property
    def empty(self) -> bool:
        """Whether there is nothing to show."""
        return not self.groups
