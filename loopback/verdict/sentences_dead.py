"""What a path through which nothing passes shows, as sentences."""

from __future__ import annotations

import math
from collections.abc import Callable

from loopback.verdict.codes import ReasonCode
from loopback.verdict.limits import LUGS_DB
from loopback.verdict.wording import decibel, number

Numbers = dict[str, float | str]


def less_than_lugs(numbers: Numbers) -> bool:
    """Tell whether less gets across a dead path than open lugs let across.

    Parameters
    ----------
    numbers : dict
        Of the reason, with the level at 1 kHz as ``db_1k``.

    Returns
    -------
    bool
        True: it is not simply open, and its rise with frequency is that of the setup's crosstalk.
    """
    return number(numbers, "db_1k") < LUGS_DB.value


def _dead(n: Numbers, how: str) -> str:
    return f"In bypass the level is {decibel(number(n, 'db_1k'), 0)} at 1 kHz{how}"


def _open(n: Numbers) -> str:
    if less_than_lugs(n):
        return _dead(n, ", less than open lugs let across: muted, screened, or held to ground.")
    return _dead(n, ", rising with frequency: the path is open.")


def _without_power(n: Numbers) -> str:
    level = number(n, "db_1k")
    down = "" if math.isnan(level) else f" ({decibel(level, 0)} at 1 kHz)"
    return f"Nothing passes without power in the bypass position{down}."


DEAD: dict[ReasonCode, Callable[[Numbers], str]] = {
    "dead_open": _open,
    "dead_short": lambda n: _dead(n, " and flat: the line is held to ground."),
    "dead_without_power": _without_power,
}
