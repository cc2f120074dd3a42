"""Any number of examinations, sorted, named apart, compared with one of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from loopback.comparing.difference import Difference, differences
from loopback.comparing.repeated import Repeated, repeated
from loopback.comparing.setups import Assumed, setup_numbers
from loopback.comparing.summary import Summary
from loopback.texts import one_line

Order = Literal["load", "given", "name", "date"]
CautionCode = Literal[
    "one_setup", "several_setups", "rates", "signals", "hook_ups", "changed", "refused", "copies"
]
_PATHS = (
    "wired", "loaded", "buffered", "converted", "silent", "faulty", "undecided", "none",
)  # fmt: skip
_GRADES = ("wire-like", "light", "loading", "heavy")
_MOST_NAME = 60


@dataclass(frozen=True, slots=True)
class Examined:
    """One examination of a comparison.

    Parameters
    ----------
    number : int
        From 1, in the order shown.
    name : str
        Of the pedal, fit to be shown, and told from every other one by its folder where two are
        called alike.
    folder : Path
        As it was named.
    summary : Summary
        What it brings.
    setup : int
        Number of its setup: equal for one setup.
    changed : tuple of str
        Recordings that are no longer what was listed, or are gone.
    """

    number: int
    name: str
    folder: Path
    summary: Summary
    setup: int
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A folder that cannot be compared.

    Parameters
    ----------
    folder : Path
        As it was named.
    reason : str
        What was found.
    """

    folder: Path
    reason: str


@dataclass(frozen=True, slots=True)
class Pair:
    """Two examinations.

    Parameters
    ----------
    first, second : Examined
        A difference is the second less the first.
    differences : tuple of Difference
        Of everything that both measured.
    """

    first: Examined
    second: Examined
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class Caution:
    """Something to know before two numbers are held against each other.

    Parameters
    ----------
    code : str
        Which.
    numbers : tuple of int
        Of the examinations concerned; empty: all.
    """

    code: CautionCode
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """What there is to say of several examinations.

    Parameters
    ----------
    examined : tuple of Examined
        In the order shown.
    left_out : tuple of LeftOut
        Folders that gave nothing.
    pairs : tuple of Pair
        Each examination with the first of them.
    repeats : tuple of Repeated
        Of every pedal that was examined more than once.
    cautions : tuple of Caution
        What limits the comparison.
    """

    examined: tuple[Examined, ...]
    left_out: tuple[LeftOut, ...]
    pairs: tuple[Pair, ...]
    repeats: tuple[Repeated, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class Given:
    """One folder as it was named, and what was found in it.

    Parameters
    ----------
    folder : Path
        As it was named.
    summary : Summary
        What it brings.
    changed : tuple of str
        See `Examined`.
    """

    folder: Path
    summary: Summary
    changed: tuple[str, ...] = ()


def comparison_of(
    given: Sequence[Given],
    left_out: Sequence[LeftOut] = (),
    *,
    order: Order = "load",
    assumed: Assumed = "look",
    one_pedal: bool = False,
) -> Comparison:
    """Compare examinations with the first of those shown.

    Parameters
    ----------
    given : sequence of Given
        Any number.
    left_out : sequence of LeftOut
        Folders that gave nothing.
    order : {"load", "given", "name", "date"}
        How they are shown; load: wire first, the heaviest load last.
    assumed : {"look", "one", "several"}
        What the user says of the setups.
    one_pedal : bool
        True takes all of them for examinations of one pedal, whatever it is called.

    Returns
    -------
    Comparison
        Without pairs where there is only one.
    """
    names = _names(given)
    setups = setup_numbers([g.summary for g in given], assumed)
    made = [
        Examined(0, name, g.folder, g.summary, setup, g.changed)
        for g, name, setup in zip(given, names, setups, strict=True)
    ]
    shown = sorted(made, key=lambda e: _place(e, order)) if order != "given" else made
    examined = tuple(replace(e, number=i) for i, e in enumerate(shown, 1))
    pairs: list[Pair] = []
    if examined:
        base = examined[0]
        pairs = [
            Pair(base, other, differences(base.summary, other.summary, assumed))
            for other in examined[1:]
        ]
    copies = _copies(examined)
    return Comparison(
        examined,
        tuple(left_out),
        tuple(pairs),
        repeated([e for e in examined if e.number not in copies], assumed, one_pedal=one_pedal),
        _cautions(examined, copies),
    )


def _names(given: Sequence[Given]) -> list[str]:
    """Give every examination a name of its own: the pedal's, with its folder, with its path."""
    own = [one_line(g.summary.pedal.name, _MOST_NAME) or "no name" for g in given]
    names = list(own)
    for more in (lambda g: g.folder.absolute().name, lambda g: str(g.folder)):
        taken = Counter(name.casefold() for name in names)
        names = [
            f"{mine} ({one_line(more(g))})" if taken[name.casefold()] > 1 else name
            for name, mine, g in zip(names, own, given, strict=True)
        ]
    return names


def _place(examined: Examined, order: Order) -> tuple[float | str, ...]:
    summary = examined.summary
    name = examined.name.casefold()
    if order == "name":
        return (name, summary.created)
    if order == "date":
        return (summary.created, name)
    grade = max((_GRADES.index(g) for g in summary.grades if g in _GRADES), default=len(_GRADES))
    path = _PATHS.index(summary.path) if summary.path in _PATHS else len(_PATHS)
    g = summary.estimate("g") or summary.estimate("g_input")
    c = summary.estimate("c") or summary.estimate("c_input")
    load = 0.0 if g is None else g.value if g.value > 2 * g.u else 0.0
    return (path, grade, load, 0.0 if c is None else c.value, name, summary.created)


def _copies(examined: Sequence[Examined]) -> frozenset[int]:
    """Find the examinations that hold the recordings of one that is shown before them."""
    seen: dict[str, int] = {}
    found: set[int] = set()
    for e in examined:
        if e.summary.recordings in seen:
            found.add(e.number)
        else:
            seen[e.summary.recordings] = e.number
    return frozenset(found)


def _cautions(examined: Sequence[Examined], copies: frozenset[int]) -> tuple[Caution, ...]:
    if not examined:
        return ()
    found: list[Caution] = []
    if len(examined) > 1:
        several = len({e.setup for e in examined}) > 1
        found.append(Caution("several_setups" if several else "one_setup"))
        if len({e.summary.rate_hz for e in examined}) > 1:
            found.append(Caution("rates"))
        elif len({e.summary.signal for e in examined}) > 1:
            found.append(Caution("signals"))
        if len({e.summary.hook_ups for e in examined}) > 1:
            found.append(Caution("hook_ups"))
    of_some: tuple[tuple[CautionCode, list[int]], ...] = (
        ("changed", [e.number for e in examined if e.changed]),
        ("refused", [e.number for e in examined if e.summary.refused]),
        ("copies", sorted(copies)),
    )
    for code, hit in of_some:
        if hit:
            found.append(Caution(code, tuple(hit)))
    return tuple(found)
