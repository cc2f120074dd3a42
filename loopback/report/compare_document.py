"""A comparison as JSON facts."""

from __future__ import annotations

import msgspec

from loopback import __version__
from loopback.comparing.changes import Changes, Outcome
from loopback.comparing.comparison import Comparison, Examined
from loopback.comparing.difference import Difference
from loopback.comparing.repeats import Precision
from loopback.comparing.sentences import (
    cautions_of,
    change_sentence,
    pair_sentences,
    result_change_sentences,
)
from loopback.comparing.summary import UNITS, Quantity
from loopback.report.compare_records import (
    COMPARISON_VERSION,
    ComparisonFacts,
    DifferenceFact,
    ExaminedFact,
    LeftOutFact,
    PairFact,
    PrecisionFact,
    RepeatFact,
    ValueFact,
)
from loopback.report.plain_numbers import number
from loopback.texts import one_line


def comparison_json(comparison: Comparison, changes: Changes | None = None) -> str:
    """Write a comparison as indented JSON.

    Parameters
    ----------
    comparison : Comparison
        Of any number of examinations.
    changes : Changes or None
        Of a repair.

    Returns
    -------
    str
        One object.
    """
    facts = comparison_facts(comparison, changes)
    return msgspec.json.format(msgspec.json.encode(facts), indent=2).decode()


def comparison_facts(comparison: Comparison, changes: Changes | None = None) -> ComparisonFacts:
    """Collect the facts.

    Parameters
    ----------
    comparison : Comparison
        Of any number of examinations.
    changes : Changes or None
        Of a repair.

    Returns
    -------
    ComparisonFacts
        Plain numbers; text is as it was typed, but for names and folders, which are one line.
    """
    outcomes: dict[Quantity, Outcome] = {}
    repair: tuple[str, ...] = ()
    if changes is not None:
        outcomes = {c.difference.quantity: c.outcome for c in changes.changes}
        repair = (*result_change_sentences(changes), *map(change_sentence, changes.changes))
    return ComparisonFacts(
        version=COMPARISON_VERSION,
        program=__version__,
        examinations=tuple(_examined(e) for e in comparison.examined),
        pairs=tuple(
            PairFact(
                pair.first.number,
                pair.second.number,
                tuple(_difference(d, outcomes.get(d.quantity)) for d in pair.differences),
                pair_sentences(pair),
            )
            for pair in comparison.pairs
        ),
        repeats=tuple(
            RepeatFact(
                one.name, one.numbers, tuple(_precision(q, found) for q, found in one.precisions)
            )
            for one in comparison.repeats
        ),
        repair=repair,
        cautions=cautions_of(comparison),
        left_out=tuple(LeftOutFact(_text(o.folder), o.reason) for o in comparison.left_out),
    )


def _examined(e: Examined) -> ExaminedFact:
    s = e.summary
    measured = ((q, unit, s.estimate(q)) for q, unit in UNITS.items())
    return ExaminedFact(
        e.number, e.name, _text(e.folder), s.created, e.setup,
        one_line(s.leads.name or s.leads.rig), s.leads.setup_farad, s.rate_hz, s.path,
        s.power, s.certainty, s.grades, s.sentences,
        tuple(ValueFact(q, unit, number(v)) for q, unit, v in measured if v is not None),
        e.changed,
    )  # fmt: skip


def _difference(d: Difference, outcome: Outcome | None) -> DifferenceFact:
    return DifferenceFact(
        d.quantity, UNITS[d.quantity], number(d.difference), d.told, d.shared, outcome
    )


def _precision(quantity: Quantity, p: Precision) -> PrecisionFact:
    return PrecisionFact(
        quantity, p.mean.unit, p.groups, p.values, p.mean.value, p.within, p.between,
        p.all_together, p.low95, p.high95, p.dof, p.stated,
    )  # fmt: skip


def _text(folder: object) -> str:
    """Write a path as text that JSON can hold, whatever bytes its name is made of."""
    return str(folder).encode("utf-8", "replace").decode("utf-8")
