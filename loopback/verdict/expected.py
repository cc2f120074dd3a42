"""A result held to what was expected: line by line met, not met or undecided (JCGM 106:2012)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from loopback.quantity import Estimate
from loopback.verdict.conformance import Outcome, outcome_of
from loopback.verdict.expectation import Expectation
from loopback.verdict.limits import GRADES, WIRING_C
from loopback.verdict.probability import probability_below
from loopback.verdict.result import PathClass, PowerClass, Result
from loopback.verdict.silicon import SILICON_CODES

Key = Literal[
    "true_bypass",
    "buffered",
    "pulldown",
    "least_resistance",
    "most_capacitance",
    "most_in_to_out",
    "passes_unpowered",
]
_PASSES: dict[PowerClass, bool | None] = {
    "bypass_position": True,
    "always": True,
    "keeps_last": True,
    "never": False,
    "untested": None,
}


@dataclass(frozen=True, slots=True)
class Expected:
    """One line of an expectation, and how the result stands to it.

    Parameters
    ----------
    key : str
        Which.
    wanted : float or bool
        In base units.
    outcome : {"met", "not met", "undecided"}
        Beyond the guard of `loopback.verdict.probability.DECIDED`, or open.
    probability : float or None
        That a value conforms; None for words, and where nothing was measured.
    by_allowance : bool
        True when it is met only because a pulldown is allowed.
    lacks_allowance : bool
        True when it is not met only because a pulldown is not allowed.
    """

    key: Key
    wanted: float | bool
    outcome: Outcome
    probability: float | None = None
    by_allowance: bool = False
    lacks_allowance: bool = False


def compare_expected(expectation: Expectation, result: Result) -> tuple[Expected, ...]:
    """Hold a result to an expectation.

    Parameters
    ----------
    expectation : Expectation
        What was promised.
    result : Result
        What was found.

    Returns
    -------
    tuple of Expected
        One for each thing that is expected, in a fixed order.
    """
    e = expectation
    lines: list[Expected] = []
    if e.true_bypass is not None:
        lines.append(_true_bypass(e, result, wanted=e.true_bypass))
    if e.buffered is not None:
        found = _is(result, ("buffered",))
        lines.append(Expected("buffered", e.buffered, _word(found, e.buffered)))
    c, g = _across(result)
    series = None if result.buffer is not None else result.series_ohm
    if e.pulldown is not None:
        low, high = e.pulldown * (1 - e.pulldown_tolerance), e.pulldown * (1 + e.pulldown_tolerance)
        inside = (
            None if g is None else probability_below(g, 1 / low) - probability_below(g, 1 / high)
        )
        lines.append(_value("pulldown", e.pulldown, inside))
    if e.least_resistance is not None:
        inside = None if g is None else probability_below(g, 1 / e.least_resistance)
        lines.append(_value("least_resistance", e.least_resistance, inside))
    if e.most_capacitance is not None:
        inside = None if c is None else probability_below(c, e.most_capacitance)
        lines.append(_value("most_capacitance", e.most_capacitance, inside))
    if e.most_in_to_out is not None:
        inside = None if series is None else probability_below(series, e.most_in_to_out)
        if result.path in ("buffered", "converted", "silent") and not result.alternatives:
            inside = 0.0
        lines.append(_value("most_in_to_out", e.most_in_to_out, inside))
    if e.passes_unpowered is not None:
        lines.append(_power(result, wanted=e.passes_unpowered))
    return tuple(lines)


def surely_not_met(lines: Sequence[Expected]) -> bool:
    """Tell whether any line is not met beyond the guard.

    Parameters
    ----------
    lines : sequence of Expected
        From `compare_expected`.

    Returns
    -------
    bool
        False also when lines are undecided.
    """
    return any(line.outcome == "not met" for line in lines)


def _value(key: Key, wanted: float, inside: float | None) -> Expected:
    if inside is None:
        return Expected(key, wanted, "undecided")
    return Expected(key, wanted, outcome_of(inside), inside)


def _across(result: Result) -> tuple[Estimate | None, Estimate | None]:
    """Capacitance and conductance across the line, or of a stage's input."""
    if result.buffer is not None:
        return result.buffer.c_farad, result.buffer.g_siemens
    if result.shunt is None:
        return None, None
    c = result.shunt.c_farad if result.network is None else result.network.c_farad
    return c, result.shunt.g_siemens


def _true_bypass(e: Expectation, result: Result, *, wanted: bool) -> Expected:
    strictly = _is(result, ("wired",))
    allowed = _one_pulldown(e, result)
    if strictly is False and allowed is not False:
        if not e.allow_pulldown:
            lacks = wanted and allowed is True
            return Expected("true_bypass", wanted, _word(False, wanted), lacks_allowance=lacks)
        return Expected(
            "true_bypass", wanted, _word(allowed, wanted), by_allowance=wanted and allowed is True
        )
    if strictly is None and e.allow_pulldown and allowed is True:
        return Expected("true_bypass", wanted, _word(True, wanted), by_allowance=wanted)
    return Expected("true_bypass", wanted, _word(strictly, wanted))


def _one_pulldown(e: Expectation, result: Result) -> bool | None:
    """Tell whether what was found is wiring and one plain resistor; None: near a limit."""
    shunt = result.shunt
    plain = bool(result.consistent) and set(result.consistent) <= {"wire", "shunt"}
    passive = result.path == "loaded" or result.alternatives == ("wired", "loaded")
    silicon = any(r.code in SILICON_CODES for r in result.reasons)
    if shunt is None or not plain or not passive or silicon:
        return False
    least = next(g.g_siemens for g in GRADES if g.name == "light")
    if e.pulldown is not None:  # the value has a line of its own
        least = max(least, 1 / (e.pulldown * (1 - e.pulldown_tolerance)))
    inside = probability_below(shunt.c_farad, WIRING_C.value)
    inside *= probability_below(shunt.g_siemens, least)
    outcome = outcome_of(inside)
    return None if outcome == "undecided" else outcome == "met"


def _is(result: Result, classes: tuple[PathClass, ...]) -> bool | None:
    """Tell whether the path is one of these classes; None: cannot be told."""
    if result.path == "none":
        return None
    if result.path in classes:
        return None if result.alternatives else True
    if result.path == "undecided":
        open_to = not result.alternatives or bool(set(classes) & set(result.alternatives))
        return None if open_to else False
    return None if set(classes) & set(result.alternatives) else False


def _word(found: bool | None, wanted: bool) -> Outcome:
    if found is None:
        return "undecided"
    return "met" if found is wanted else "not met"


def _power(result: Result, *, wanted: bool) -> Expected:
    seen = {_PASSES[p] for p in (result.power, *result.power_alternatives)}
    found = seen.pop() if len(seen) == 1 else None
    if result.path == "none":
        found = None
    return Expected("passes_unpowered", wanted, _word(found, wanted))
