"""From wiring faults to their JSON facts."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.report.fault_records import ClueFact, FaultFact
from loopback.report.plain_numbers import finite
from loopback.verdict.faults.record import Clue, Fault
from loopback.verdict.sentences_faults import fault_words


def fault_facts(faults: Sequence[Fault]) -> tuple[FaultFact, ...]:
    """Turn faults into facts.

    Parameters
    ----------
    faults : sequence of Fault
        Ranked.

    Returns
    -------
    tuple of FaultFact
        In the same order; plain numbers only.
    """
    return tuple(
        FaultFact(
            code=fault.code,
            rank=words.rank,
            weight=float(fault.weight),
            name=words.name,
            clues=tuple(_clue(clue) for clue in fault.clues),
            evidence=words.evidence,
            where_to_look=words.where_to_look,
            consistent_with=fault.consistent_with,
            meant=fault.meant,
            expected=fault.expected,
        )
        for fault, words in zip(faults, fault_words(faults), strict=True)
    )


def _clue(clue: Clue) -> ClueFact:
    numbers = {
        key: value if isinstance(value, str) else finite(value)
        for key, value in clue.numbers.items()
    }
    return ClueFact(clue.code, numbers)
