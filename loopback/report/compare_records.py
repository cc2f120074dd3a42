"""The JSON facts about several examinations: records of plain numbers."""

from __future__ import annotations

from typing import Literal

from loopback.comparing.changes import Outcome
from loopback.comparing.summary import Quantity
from loopback.report.fact_base import FactRecord, Number

COMPARISON_VERSION: Literal[1] = 1


class ValueFact(FactRecord, frozen=True):
    """One value.

    Attributes
    ----------
    quantity, unit : str
        Which, and its base unit.
    value : Number
        With its doubt.
    """

    quantity: Quantity
    unit: str
    value: Number


class ExaminedFact(FactRecord, frozen=True):
    """One examination.

    Attributes
    ----------
    number : int
        From 1, in the order shown.
    name, folder, created : str
        Told from every other one; as it was named; ISO 8601.
    setup : int
        Equal for examinations that were taken as of one setup.
    interface : str
        Its name, or the kind of rig where it has none.
    setup_farad : float or None
        Setup capacitance as found.
    rate_hz : int
        Sample rate.
    path, power, certainty, grades, sentences
        As in the facts of one examination.
    values : tuple of ValueFact
        What was measured.
    changed : tuple of str
        Recordings that are no longer what was listed, or are gone.
    """

    number: int
    name: str
    folder: str
    created: str
    setup: int
    interface: str
    setup_farad: float | None
    rate_hz: int
    path: str
    power: str
    certainty: float | None
    grades: tuple[str, ...]
    sentences: tuple[str, ...]
    values: tuple[ValueFact, ...]
    changed: tuple[str, ...]


class DifferenceFact(FactRecord, frozen=True):
    """Second less first.

    Attributes
    ----------
    quantity, unit : str
        Which, and its base unit.
    difference : Number
        With the doubt that is left.
    told : bool
        Whether the 95 % interval leaves zero out.
    shared : bool
        Whether causes in common were taken off the doubt.
    outcome : str or None
        Of a repair: changed, likely, not_told; None for other comparisons.
    """

    quantity: Quantity
    unit: str
    difference: Number
    told: bool
    shared: bool
    outcome: Outcome | None = None


class PairFact(FactRecord, frozen=True):
    """Two examinations, by number.

    Attributes
    ----------
    first, second : int
        Numbers.
    differences : tuple of DifferenceFact
        Of what both measured.
    sentences : tuple of str
        The same in words.
    """

    first: int
    second: int
    differences: tuple[DifferenceFact, ...]
    sentences: tuple[str, ...]


class PrecisionFact(FactRecord, frozen=True):
    """Scatter of one quantity.

    Attributes
    ----------
    quantity, unit : str
        Which, and its unit.
    examinations, values : int
        How many.
    mean, within, between, all_together, low95, high95, dof, stated
        As in `loopback.comparing.repeats.Precision`.
    """

    quantity: Quantity
    unit: str
    examinations: int
    values: int
    mean: float
    within: float | None
    between: float | None
    all_together: float
    low95: float
    high95: float
    dof: float
    stated: float


class RepeatFact(FactRecord, frozen=True):
    """One pedal that was examined more than once.

    Attributes
    ----------
    name : str
        Of the first.
    numbers : tuple of int
        Of its examinations.
    precisions : tuple of PrecisionFact
        By quantity.
    """

    name: str
    numbers: tuple[int, ...]
    precisions: tuple[PrecisionFact, ...]


class LeftOutFact(FactRecord, frozen=True):
    """A folder that gave nothing.

    Attributes
    ----------
    folder, reason : str
        As it was named; what was found.
    """

    folder: str
    reason: str


class ComparisonFacts(FactRecord, frozen=True, tag_field="format", tag="loopback-comparison"):
    """The whole comparison.

    Attributes
    ----------
    version : int
        Of this format.
    program : str
        Version of the program that computed it.
    examinations : tuple of ExaminedFact
        In the order shown.
    pairs : tuple of PairFact
        Each with number 1; of a repair, before and after.
    repeats : tuple of RepeatFact
        Pedals that were examined more than once.
    repair : tuple of str
        What changed and what did not, one sentence each; empty without ``--repair``.
    cautions : tuple of str
        What limits the comparison.
    left_out : tuple of LeftOutFact
        Folders that gave nothing.
    """

    version: Literal[1]
    program: str
    examinations: tuple[ExaminedFact, ...]
    pairs: tuple[PairFact, ...]
    repeats: tuple[RepeatFact, ...]
    repair: tuple[str, ...]
    cautions: tuple[str, ...]
    left_out: tuple[LeftOutFact, ...]
