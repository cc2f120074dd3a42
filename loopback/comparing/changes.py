"""Before and after: what a repair or a modification changed beyond doubt, and what it did not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from loopback.comparing.difference import Difference, differences
from loopback.comparing.setups import Assumed
from loopback.comparing.summary import UNITS, Quantity, Summary

BEYOND = 3.0
"""Standard uncertainties beyond which a difference counts as a change: of ten quantities that did
not change, one passes for changed by chance once in 37 comparisons (normal distribution)."""

Outcome = Literal["changed", "likely", "not_told"]


@dataclass(frozen=True, slots=True)
class Change:
    """One quantity before and after.

    Parameters
    ----------
    difference : Difference
        After less before.
    outcome : {"changed", "likely", "not_told"}
        Beyond doubt; outside the 95 % interval, but not beyond doubt; inside it.
    """

    difference: Difference
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class Changes:
    """Everything before and after.

    Parameters
    ----------
    before, after : Summary
        Two examinations.
    path, power, grades : bool
        Whether what was found of each differs in words.
    changes : tuple of Change
        Of everything that both examinations measured.
    lost, gained : tuple of str
        Quantities that only the first, or only the second, could measure.
    """

    before: Summary
    after: Summary
    path: bool
    power: bool
    grades: bool
    changes: tuple[Change, ...]
    lost: tuple[Quantity, ...]
    gained: tuple[Quantity, ...]


def changes_of(before: Summary, after: Summary, assumed: Assumed = "look") -> Changes:
    """Compare two examinations of one pedal.

    Parameters
    ----------
    before, after : Summary
        In this order.
    assumed : {"look", "one", "several"}
        What the user says of their setups.

    Returns
    -------
    Changes
        No change that was told does not mean that nothing changed: the difference says how much
        could have.
    """
    found = differences(before, after, assumed)
    return Changes(
        before,
        after,
        before.path != after.path,
        before.power != after.power,
        before.grades != after.grades,
        tuple(Change(d, outcome_of(d)) for d in found),
        tuple(q for q in UNITS if q in before.figures and q not in after.figures),
        tuple(q for q in UNITS if q in after.figures and q not in before.figures),
    )


def outcome_of(difference: Difference) -> Outcome:
    """Say whether a difference is a change.

    Parameters
    ----------
    difference : Difference
        Of one quantity.

    Returns
    -------
    str
        See `Change`.
    """
    if difference.in_u > BEYOND and difference.told:
        return "changed"
    return "likely" if difference.told else "not_told"
