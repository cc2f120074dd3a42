"""The JSON facts about wiring faults."""

from __future__ import annotations

from loopback.report.fact_base import FactRecord


class ClueFact(FactRecord, frozen=True):
    """One piece of evidence.

    Attributes
    ----------
    code : str
        Which.
    numbers : dict
        Its numbers and words, in base units.
    """

    code: str
    numbers: dict[str, float | str | None]


class FaultFact(FactRecord, frozen=True):
    """One fault that the data carry.

    Attributes
    ----------
    code : str
        The likeliest cause.
    rank : int
        From 1: whose evidence goes furthest.
    weight : float
        How far, 0 to 1; it ranks and is no probability.
    name : str
        In words.
    clues : tuple of ClueFact
        Evidence as numbers, most telling first.
    evidence : tuple of str
        The same in sentences.
    where_to_look : str
        One sentence.
    consistent_with : tuple of str
        Codes of other faults with the same evidence, likeliest first.
    meant : tuple of str
        Codes of what a design may do on purpose that looks the same.
    expected : str or None
        Line of the expectation that it goes against.
    """

    code: str
    rank: int
    weight: float
    name: str
    clues: tuple[ClueFact, ...]
    evidence: tuple[str, ...]
    where_to_look: str
    consistent_with: tuple[str, ...]
    meant: tuple[str, ...]
    expected: str | None
