"""Which pedals were examined more than once, and how well their examinations agree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from loopback.comparing.difference import RESOLVED
from loopback.comparing.repeats import Precision, precision
from loopback.comparing.setups import Assumed, setup_numbers
from loopback.comparing.summary import BY_SETUP, UNITS, Quantity, Summary
from loopback.texts import one_line


class Numbered(Protocol):
    """An examination with a number."""

    @property
    def number(self) -> int:
        """From 1."""

    @property
    def summary(self) -> Summary:
        """What it brings."""


@dataclass(frozen=True, slots=True)
class Repeated:
    """One pedal that was examined more than once.

    Parameters
    ----------
    name : str
        What the first is called, fit to be shown.
    numbers : tuple of int
        Of its examinations.
    precisions : tuple of (str, Precision)
        By quantity, of those that two or more examinations measured; what lies across the line in
        ohms.
    """

    name: str
    numbers: tuple[int, ...]
    precisions: tuple[tuple[Quantity, Precision], ...]


def repeated(
    examined: Sequence[Numbered], assumed: Assumed = "look", *, one_pedal: bool = False
) -> tuple[Repeated, ...]:
    """Find the pedals that were examined more than once.

    Parameters
    ----------
    examined : sequence of Numbered
        Without copies of one examination, which would agree with themselves.
    assumed : {"look", "one", "several"}
        What the user says of the setups.
    one_pedal : bool
        True takes all for one pedal.

    Returns
    -------
    tuple of Repeated
        In the order of their first examinations.
    """
    groups: list[list[Numbered]] = []
    for e in examined:
        mine = next(
            (g for g in groups if one_pedal or g[0].summary.pedal.same_as(e.summary.pedal)), None
        )
        if mine is None:
            groups.append([e])
        else:
            mine.append(e)
    return tuple(
        Repeated(
            one_line(group[0].summary.pedal.name, 60),
            tuple(e.number for e in group),
            _precisions(group, assumed),
        )
        for group in groups
        if len(group) > 1
    )


def _precisions(
    group: Sequence[Numbered], assumed: Assumed
) -> tuple[tuple[Quantity, Precision], ...]:
    one = len(set(setup_numbers([e.summary for e in group], assumed))) == 1
    found: list[tuple[Quantity, Precision]] = []
    for quantity, unit in UNITS.items():
        if quantity in BY_SETUP and not one:
            continue
        values: list[list[float]] = []
        stated: list[float] = []
        for e in group:
            estimate = e.summary.estimate(quantity)
            if estimate is None:
                continue
            if unit == "siemens":
                if estimate.half_width() > RESOLVED * estimate.value:
                    continue  # no more than a bound
                estimate = estimate.inverse("ohm")
            values.append(e.summary.within.get(quantity, [estimate.value]))
            common = math.fsum(moved**2 for _, moved in estimate.common) if one else 0.0
            stated.append(math.sqrt(max(estimate.u**2 - common, 0.0)))
        found_here = precision(values, stated, "ohm" if unit == "siemens" else unit)
        if found_here is not None:
            found.append((quantity, found_here))
    return tuple(found)
