"""Limits of a wired path and the probability that each is kept (JCGM 106:2012)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from loopback.quantity import Estimate
from loopback.verdict.limits import IN_TO_OUT_OHM, INSULATION_OHM, WIRING_C, Limit
from loopback.verdict.probability import DECIDED, probability_below
from loopback.verdict.result import Result

Outcome = Literal["met", "not met", "undecided"]
LimitName = Literal["in_to_out", "tip_to_sleeve_r", "tip_to_sleeve_c"]


@dataclass(frozen=True, slots=True)
class Conformity:
    """One limit and how a result stands to it.

    Parameters
    ----------
    name : str
        Which.
    limit : Limit
        Value and source.
    estimate : Estimate or None
        What was measured: ohms, siemens, farads; None: no run showed it.
    probability : float or None
        That the true value conforms; None without an estimate.
    outcome : {"met", "not met", "undecided"}
        Met or not met beyond the guard of `loopback.verdict.probability.DECIDED`.
    """

    name: LimitName
    limit: Limit
    estimate: Estimate | None
    probability: float | None
    outcome: Outcome


def outcome_of(probability: float) -> Outcome:
    """Make a statement of a probability of conformity, with the guard on both sides.

    Parameters
    ----------
    probability : float
        Between 0 and 1.

    Returns
    -------
    str
        "undecided" in between.
    """
    if probability >= DECIDED:
        return "met"
    return "not met" if probability <= 1 - DECIDED else "undecided"


def conformities(result: Result) -> tuple[Conformity, ...]:
    """Compare a passive path with the limits of wiring.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    tuple of Conformity
        In to out, tip to sleeve R, tip to sleeve C; empty where wire limits do not apply or no
        run through a resistor was made.
    """
    shunt, network = result.shunt, result.network
    if shunt is None or result.buffer is not None:
        return ()
    c: Estimate | None = shunt.c_farad if network is None else network.c_farad
    g: Estimate | None = shunt.g_siemens
    if hidden_behind(result):
        c = g = None
    return (
        _below("in_to_out", IN_TO_OUT_OHM, result.series_ohm, IN_TO_OUT_OHM.value),
        _below("tip_to_sleeve_r", INSULATION_OHM, g, 1 / INSULATION_OHM.value),
        _below("tip_to_sleeve_c", WIRING_C, c, WIRING_C.value),
    )


def hidden_behind(result: Result) -> Literal["", "a winding", "a part in line"]:
    """Name what keeps the load across the line from being told.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        Empty where the load is told.
    """
    kinds = set(result.consistent)
    if not kinds:
        return ""
    if kinds <= {"transformer"}:
        return "a winding"
    if result.series_ohm is None and kinds <= {"inline", "blocked", "switched"}:
        return "a part in line"
    return ""


def all_kept(result: Result) -> float | None:
    """Probability that every limit with an estimate is kept, taken as independent.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    float or None
        None where no limit applies.
    """
    known = [c.probability for c in conformities(result) if c.probability is not None]
    return math.prod(known) if known else None


def _below(name: LimitName, limit: Limit, estimate: Estimate | None, most: float) -> Conformity:
    if estimate is None:
        return Conformity(name, limit, None, None, "undecided")
    probability = probability_below(estimate, most)
    return Conformity(name, limit, estimate, probability, outcome_of(probability))
