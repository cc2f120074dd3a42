"""The answer as a record; sentences are written from it, never stored in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from loopback.circuit.hypotheses import HypothesisName
from loopback.identify.found import BufferInput as BufferInput
from loopback.identify.found import Network as Network
from loopback.identify.found import PartInLine as PartInLine
from loopback.identify.found import PlainBounds as PlainBounds
from loopback.identify.found import Shunt as Shunt
from loopback.quantity import Estimate
from loopback.verdict.codes import Family, NotTestedCode, ReasonCode, TellCode

PathClass = Literal[
    "wired", "loaded", "buffered", "converted", "silent", "faulty", "undecided", "none"
]
"""none: every run equals the reference, so no pedal was proven to be in the path."""
PowerClass = Literal["bypass_position", "always", "keeps_last", "never", "untested"]
GradeName = Literal["wire-like", "light", "loading", "heavy"]


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

    code: ReasonCode
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
        What lies across the line; None without a resistor run, and for an active path.
    reasons : tuple of Reason
        Evidence, most telling first.
    would_tell : tuple of str
        Codes of the runs that would settle what is open.
    power_alternatives : tuple of PowerClass
        What the runs without power cannot exclude beside `power`.
    families : tuple of str
        Kinds of pedal that the power and switch table allows.
    network : Network or None
        For a load behind a coupling capacitor.
    buffer : BufferInput or None
        For an active path.
    series_ohm : Estimate or None
        In to out, which may be no more than a bound; None without a plain and a resistor run.
    plain : PlainBounds or None
        What the plain runs exclude; None without one.
    excluded : tuple of PathClass
        For an undecided path: what the data rule out.
    not_tested : tuple of str
        Codes of what no run looked at.
    consistent : tuple of str
        Circuits that the runs cannot tell apart, most probable first; empty: nothing was fitted,
        or no circuit of the list explains the runs.
    in_line : PartInLine or None
        Values of a capacitor or a transformer in line; None without one, and where no fit has them.
    resistor, setup_c : Estimate or None
        Series resistor in ohms, as stated, and setup capacitance in farads, as measured, that the
        values rest on; None without a resistor run.
    """

    path: PathClass
    alternatives: tuple[PathClass, ...]
    power: PowerClass
    grades: tuple[GradeName, ...]
    bypass_position: str | None
    certainty: float | None
    shunt: Shunt | None
    reasons: tuple[Reason, ...]
    would_tell: tuple[TellCode, ...]
    power_alternatives: tuple[PowerClass, ...] = ()
    families: tuple[Family, ...] = ()
    network: Network | None = None
    buffer: BufferInput | None = None
    series_ohm: Estimate | None = None
    plain: PlainBounds | None = None
    excluded: tuple[PathClass, ...] = ()
    not_tested: tuple[NotTestedCode, ...] = ()
    consistent: tuple[HypothesisName, ...] = ()
    in_line: PartInLine | None = None
    resistor: Estimate | None = None
    setup_c: Estimate | None = None

    @property
    def resistor_ohm(self) -> float | None:
        """Value of `resistor`, ohms."""
        return None if self.resistor is None else self.resistor.value

    @property
    def setup_farad(self) -> float | None:
        """Value of `setup_c`, farads."""
        return None if self.setup_c is None else self.setup_c.value
