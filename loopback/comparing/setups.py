"""Whether two examinations were made with one setup, and so have causes of doubt in common."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from loopback.comparing.summary import Leads, Summary

Assumed = Literal["look", "one", "several"]
"""look: as the documents say; one, several: as the user says."""
SAME_FARAD = 0.05
"""Setup capacitances that differ by more than this part belong to other leads: plugging again and
moving a lead changes some picofarads of several hundred (common practice)."""


def one_setup(a: Summary, b: Summary, assumed: Assumed = "look") -> bool:
    """Tell whether two examinations have leads, coupler and resistor in common.

    A shared reference recording proves it. Otherwise interface, level and resistor leads must be
    the same, somebody must have named the interface (the simulator needs no name), and the setup
    capacitances must agree.

    Parameters
    ----------
    a, b : Summary
        Two examinations.
    assumed : {"look", "one", "several"}
        What the user says of them.

    Returns
    -------
    bool
        False where it is not known.
    """
    if assumed != "look":
        return assumed == "one"
    one, two = a.leads, b.leads
    if set(one.references) & set(two.references):
        return True
    named = one.name.strip() != "" or one.rig == "simulator"
    return named and _alike(one, two)


def _alike(one: Leads, two: Leads) -> bool:
    fields = ("rig", "name", "full_scale_dbu")
    if any(getattr(one, field) != getattr(two, field) for field in fields):
        return False
    if one.resistors and two.resistors and one.resistors != two.resistors:
        return False
    if one.setup_farad is None or two.setup_farad is None:
        return True
    largest = max(one.setup_farad, two.setup_farad)
    return abs(one.setup_farad - two.setup_farad) <= SAME_FARAD * largest


def setup_numbers(summaries: Sequence[Summary], assumed: Assumed = "look") -> tuple[int, ...]:
    """Give each setup of several examinations a number, in the order in which they come.

    Parameters
    ----------
    summaries : sequence of Summary
        Any number.
    assumed : {"look", "one", "several"}
        What the user says of them.

    Returns
    -------
    tuple of int
        From 1; equal numbers for one setup.
    """
    first: list[Summary] = []
    numbers: list[int] = []
    for summary in summaries:
        place = next((i for i, one in enumerate(first) if one_setup(one, summary, assumed)), None)
        if place is None:
            place = len(first)
            first.append(summary)
        numbers.append(place + 1)
    return tuple(numbers)
