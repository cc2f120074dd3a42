"""The answer as a record; sentences are written from it, never stored in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from loopback.quantity import Estimate

PathClass = Literal[
    "wired", "loaded", "buffered", "converted", "silent", "faulty", "undecided", "none"
]
"""none: every run equals the reference, so no pedal was proven to be in the path."""
PowerClass = Literal["bypass_position", "always", "keeps_last", "never", "untested"]
GradeName = Literal["wire-like", "light", "loading", "heavy"]


@dataclass(frozen=True, slots=True)
class Shunt:
    """What lies across the line, by whatever method found it.

    Parameters
    ----------
    c_farad, g_siemens : Estimate
        Capacitance and conductance, unbounded (negative values are possible and mean something).
    residual_db : float
        What a plain R and C cannot explain, rms over the band.
    resistor_ohm : float
        Feed resistor used as the standard.
    node_c_farad : float
        Setup capacitance.
    """

    c_farad: Estimate
    g_siemens: Estimate
    residual_db: float
    resistor_ohm: float
    node_c_farad: float


@dataclass(frozen=True, slots=True)
class Reason:
    """One piece of evidence, to be written out by `sentences`.

    Parameters
    ----------
    code : str
        Which sentence.
    numbers : dict
        Named numbers and words for it.
    """

    code: str
    numbers: dict[str, float | str]


@dataclass(frozen=True, slots=True)
class Result:
    """The three lines and what they rest on.

    Parameters
    ----------
    path : PathClass
        Topology in bypass.
    alternatives : tuple of PathClass
        What the data cannot exclude beside `path`; empty when decided.
    power : PowerClass
        What happens without power.
    grades : tuple of GradeName
        One, or two adjacent ones, or empty where grades do not apply or cannot be told.
    bypass_position : {"a", "b", "none"} or None
        Which switch position is bypass, from the data; None: not found.
    certainty : float or None
        Probability behind `path` as far as the data decide it; None: no statement.
    shunt : Shunt or None
        None without a resistor run.
    reasons : tuple of Reason
        Evidence, most telling first.
    would_tell : tuple of str
        Codes of the runs that would settle what is open.
    """

    path: PathClass
    alternatives: tuple[PathClass, ...]
    power: PowerClass
    grades: tuple[GradeName, ...]
    bypass_position: str | None
    certainty: float | None
    shunt: Shunt | None
    reasons: tuple[Reason, ...]
    would_tell: tuple[str, ...]
