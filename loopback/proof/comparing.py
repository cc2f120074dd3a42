"""Published facts against recomputed ones, leaf by leaf, with stated tolerances."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

U_SHARE = 0.01
"""A value with an uncertainty may move by this share of it on another kind of machine."""
RELATIVE = 1e-4
"""A number without one may move by this share of itself ..."""
ABSOLUTE = 1e-7
"""... or by this much, where it is larger than that; smaller than any step that is printed."""
ZERO = 1e-16
"""Rounding of what comes out as zero."""
NOT_COMPARED = ("$.program",)
"""Said in the publication itself."""

_ESTIMATE = {"value", "u", "low95", "high95"}
_PROSE = re.compile(r"\$\.result\.sentences\b|\$\.findings\[.*\]\.(?:number|meaning|action)$")
_PRINTED = re.compile(r"\d+(?:\.\d+)?")
_KEYS = ("id", "code", "where", "pickup", "name", "key", "file", "side", "drop_db")

Kind = Literal["number", "word", "prose", "gone", "new"]


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where published and recomputed facts are not the same.

    Parameters
    ----------
    path : str
        Where, as in the JSON facts.
    kind : {"number", "word", "prose", "gone", "new"}
        Word: text or a class. Prose: sentences about the result. Gone: published, and not found
        now. New: found now, and not published.
    published, found : object
        Both, as in JSON; None for what is not there.
    """

    path: str
    kind: Kind
    published: Any
    found: Any


@dataclass(frozen=True, slots=True)
class Compared:
    """What the comparison of two trees of facts came to.

    Parameters
    ----------
    leaves : int
        How many numbers, texts and absences were published.
    differences : tuple of Difference
        Beyond the tolerance.
    within : int
        Leaves that are not bit for bit the same, and within the tolerance.
    """

    leaves: int
    differences: tuple[Difference, ...]
    within: int


def compare_facts(published: Any, found: Any, *, exact: bool) -> Compared:
    """Compare two trees of facts.

    Parameters
    ----------
    published, found : object
        As decoded from JSON.
    exact : bool
        True: bit for bit. False: values within `U_SHARE` of their uncertainty, other numbers
        within `RELATIVE`, words exactly, numbers printed inside sentences to one step of their
        last digit.

    Returns
    -------
    Compared
        With every place that differs.
    """
    differences: list[Difference] = []
    leaves = within = 0
    for path, old, new in _leaves(published, found, "$"):
        if path in NOT_COMPARED:
            continue
        leaves += not isinstance(old, _Absent)
        kind = _kind(path, old, new, exact=exact)
        if kind == "within":
            within += 1
        elif kind is not None:
            differences.append(Difference(path, kind, _shown(old), _shown(new)))
    return Compared(leaves, tuple(differences), within)


class _Absent:
    """Stands for what one of the trees does not have."""


_ABSENT = _Absent()


def _leaves(old: Any, new: Any, path: str) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(old, dict) and isinstance(new, dict) and not old.keys() >= _ESTIMATE:
        for key in (*old, *(key for key in new if key not in old)):
            yield from _leaves(old.get(key, _ABSENT), new.get(key, _ABSENT), f"{path}.{key}")
    elif isinstance(old, list) and isinstance(new, list):
        olds, news = _by_key(old), _by_key(new)
        for key in (*olds, *(key for key in news if key not in olds)):
            yield from _leaves(olds.get(key, _ABSENT), news.get(key, _ABSENT), f"{path}[{key}]")
    else:
        yield path, old, new


def _by_key(items: list[Any]) -> dict[str, Any]:
    """Name the items of a list by what identifies them, so that one more does not move the rest."""
    named: dict[str, Any] = {}
    for number, item in enumerate(items):
        words = [str(item[k]) for k in _KEYS if item.get(k)] if isinstance(item, dict) else []
        name = ", ".join(words) or str(number)
        named[name if name not in named else f"{name}, {number}"] = item
    return named


def _kind(path: str, old: Any, new: Any, *, exact: bool) -> Kind | Literal["within"] | None:
    if isinstance(old, _Absent) or isinstance(new, _Absent):
        return "new" if isinstance(old, _Absent) else "gone"
    if type(old) is type(new) and old == new:
        return None
    prose = bool(_PROSE.match(path))
    if isinstance(old, dict) and isinstance(new, dict):
        alike = not exact and _estimates_agree(old, new)
    elif _is_number(old) and _is_number(new):
        alike = not exact and _near(float(old), float(new))
    elif isinstance(old, str) and isinstance(new, str):
        alike = not exact and _texts_agree(old, new)
        return "within" if alike else ("prose" if prose else "word")
    else:
        return "number" if _is_number(old) or _is_number(new) else "word"
    return "within" if alike else "number"


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _near(old: float, new: float) -> bool:
    least = ABSOLUTE if abs(old) > ABSOLUTE else ZERO
    return abs(new - old) <= max(RELATIVE * abs(old), least)


def _estimates_agree(old: dict[str, Any], new: dict[str, Any]) -> bool:
    u = old["u"]
    for name in ("value", "u", "low95", "high95"):
        a, b = old[name], new.get(name)
        if a is None or b is None:
            if a is not b:
                return False
        elif u:
            if abs(b - a) > U_SHARE * u:
                return False
        elif not _near(a, b):
            return False
    return True


def _texts_agree(old: str, new: str) -> bool:
    """Whether words are the same, and printed numbers within one step of their last digit."""
    if _PRINTED.split(old) != _PRINTED.split(new):
        return False
    for a, b in zip(_PRINTED.findall(old), _PRINTED.findall(new), strict=True):
        places = len(a.partition(".")[2])
        if len(b.partition(".")[2]) != places or abs(float(a) - float(b)) > 1.001 * 10.0**-places:
            return False
    return True


def _shown(value: Any) -> Any:
    return None if isinstance(value, _Absent) else value
