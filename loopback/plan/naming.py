"""File names that say what a recording is: ``pedal-on-a-resistor.wav``.

Words joined by hyphens, underscores or spaces, in any order and case:

=============== =================================================================
path            ``coupler`` (or ``reference``), ``pedal``, ``unplugged``
power           ``on``, ``off`` (pedal only)
switch          ``a`` as found, ``b`` after one press, ``noswitch`` (pedal only)
feed            ``plain``, ``resistor``; a value behind it: ``resistor-100k-1%``
resistor's end  ``interface`` when it is not at the pedal's end
load            ``line``, ``plug``; a value behind it: ``plug-1k``
lamp            ``lit``, ``dark``, ``nolamp``
others          ``reversed``, ``mating2``, ``lower20``: played 20 dB lower
which one       ``2`` second run of this hook-up, ``take2``, ``silence``
=============== =================================================================
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from pathlib import PurePath
from typing import Any

import msgspec

from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.quantity import parse_value

_WORDS: dict[str, tuple[str, str]] = {
    "coupler": ("path", "coupler"),
    "reference": ("path", "coupler"),
    "pedal": ("path", "pedal"),
    "unplugged": ("path", "unplugged"),
    "on": ("power", "on"),
    "off": ("power", "off"),
    "a": ("position", "a"),
    "b": ("position", "b"),
    "noswitch": ("position", "none"),
    "plain": ("feed", "plain"),
    "resistor": ("feed", "resistor"),
    "interface": ("resistor_end", "interface"),
    "line": ("load", "line"),
    "plug": ("load", "plug"),
    "lit": ("lamp", "lit"),
    "dark": ("lamp", "dark"),
    "nolamp": ("lamp", "none"),
    "reversed": ("direction", "reversed"),
    "silence": ("kind", "silence"),
}
_COUNTED = re.compile(r"(mating|take)([0-9]{1,4})|(lower)([0-9]+(?:\.[0-9]+)?)")
_SUFFIX = re.compile(r"\.(wav|wave|flac|aif|aiff|aifc|caf|w64|rf64|bwf)$", re.IGNORECASE)
_WHAT = {
    "path": "the path (coupler, pedal or unplugged)",
    "power": "the power (on or off)",
    "position": "the switch (a, b or noswitch)",
    "feed": "the feed (plain or resistor)",
}


@dataclass(frozen=True, slots=True)
class NamedRecording:
    """What a file name says.

    Parameters
    ----------
    label : RunLabel
        The hook-up.
    number : int
        Which run of this hook-up, from 1.
    take : int
        Which recording of that run, from 1.
    silence : bool
        Whether it is a long silence and no sweep.
    """

    label: RunLabel
    number: int = 1
    take: int = 1
    silence: bool = False


def label_from_name(name: str) -> RunLabel:
    """Read what was connected from a file name.

    Parameters
    ----------
    name : str
        File name, with or without folder and ending.

    Returns
    -------
    RunLabel
        The hook-up.

    Raises
    ------
    ArgumentError
        If a word is not known, two contradict each other, or one is missing; all are listed.
    """
    return read_name(name).label


def read_name(name: str) -> NamedRecording:
    """Read everything that a file name says.

    Parameters
    ----------
    name : str
        File name, with or without folder and ending.

    Returns
    -------
    NamedRecording
        The hook-up, and which recording of it.

    Raises
    ------
    ArgumentError
        See `label_from_name`.
    """
    shown = PurePath(name).name
    found, values, troubles = _sort_words(_SUFFIX.sub("", shown))
    _place_values(found, values, troubles)
    troubles += _contradictions(found)
    missing = [text for field, text in _WHAT.items() if _needed(found, field)]
    if missing:
        troubles.append(f"missing: {', '.join(missing)}")
    if troubles:
        raise ArgumentError(
            f'"{shown}" does not say what was recorded: {"; ".join(troubles)}.',
            "",
            "Name it like pedal-on-a-resistor.wav or coupler-plain.wav.",
        )
    number, take = int(found.pop("number", 1)), int(found.pop("take", 1))
    silence = found.pop("kind", "sweep") == "silence"
    label = msgspec.convert({"feed": "plain", **found}, RunLabel)
    return NamedRecording(label, number, take, silence)


def name_from_label(label: RunLabel) -> str:
    """Return the file name, without ending, from which `label_from_name` reads the label.

    Parameters
    ----------
    label : RunLabel
        A hook-up; its note is no part of a name.

    Returns
    -------
    str
        Words joined by hyphens.
    """
    words: list[str] = [label.path]
    words += [label.power] if label.power else []
    words += ["noswitch" if label.position == "none" else label.position] if label.position else []
    words.append(label.feed)
    if label.feed == "resistor":
        words += [_ohm_text(label.resistor_ohm)] if label.resistor_ohm is not None else []
        tolerance = label.resistor_tolerance
        words += [f"{_plain_text(round(tolerance * 100, 10))}%"] if tolerance is not None else []
        words += ["interface"] if label.resistor_end == "interface" else []
    if label.load != "instrument":
        words.append(label.load)
    if label.load == "plug" and label.load_ohm is not None:
        words.append(_ohm_text(label.load_ohm))
    words += ["reversed"] if label.direction == "reversed" else []
    words += [f"mating{label.mating}"] if label.mating else []
    words += [f"lower{_plain_text(-label.level_db)}"] if label.level_db else []
    words += ["nolamp" if label.lamp == "none" else label.lamp] if label.lamp else []
    return "-".join(words)


def _sort_words(text: str) -> tuple[dict[str, Any], list[tuple[str, float]], list[str]]:
    """Return fields, values with the word they stand behind, and what is wrong so far."""
    found: dict[str, Any] = {}
    values: list[tuple[str, float]] = []
    troubles: list[str] = []
    owner = ""
    field: str
    value: str | int | float
    for word in re.split(r"[-_\s]+", text):
        known = _WORDS.get(word.casefold())
        counted = _COUNTED.fullmatch(word.casefold())
        if not word:
            continue
        if known:
            field, value = known
            owner = known[1] if known[1] in ("resistor", "plug") else owner
        elif counted:
            field, value = _count(counted)
        elif re.fullmatch(r"[0-9]{1,2}", word):
            field, value = "number", int(word)
        else:
            try:
                ohm = parse_value(word, "ohm")
            except ArgumentError:
                hint = "has a comma, write a point" if "," in word else "is not understood"
                troubles.append(f'"{word}" {hint}')
                continue
            if word.endswith("%"):
                field, value = "resistor_tolerance", ohm
            else:
                values.append((owner, ohm))
                continue
        if found.setdefault(field, value) != value:
            troubles.append(f'"{word}" contradicts another word')
    return found, values, troubles


def _count(match: re.Match[str]) -> tuple[str, int | float]:
    if match[3]:
        return "level_db", -float(match[4])
    return match[1], int(match[2])


def _place_values(
    found: dict[str, Any], values: list[tuple[str, float]], troubles: list[str]
) -> None:
    """Give each resistance to the word it stands behind, or to the only one it can belong to."""
    for owner, ohm in values:
        open_fields = [
            field
            for word, field in (("resistor", "resistor_ohm"), ("plug", "load_ohm"))
            if owner in ("", word) and word in (found.get("feed"), found.get("load"))
        ]
        if len(open_fields) != 1 or open_fields[0] in found:
            troubles.append(f"{ohm:g} ohm stands behind neither resistor nor plug, or is a second")
        else:
            found[open_fields[0]] = ohm


def _contradictions(found: dict[str, Any]) -> list[str]:
    troubles = []
    if found.get("path") not in (None, "pedal"):
        troubles += [
            f"{field} {found[field]!r} with the path {found['path']}: only a pedal has one"
            for field in ("power", "position", "lamp", "direction")
            if field in found
        ]
    if found.get("feed") == "plain":
        troubles += [
            f"{field.replace('_', ' ')} with the plain feed"
            for field in ("resistor_tolerance", "resistor_end")
            if field in found
        ]
    return troubles


def _needed(found: dict[str, Any], field: str) -> bool:
    if field in found:
        return False
    if field in ("power", "position"):
        return found.get("path") == "pedal"
    return field == "path" or found.get("path") != "unplugged"


def _ohm_text(ohm: float) -> str:
    """Write a resistance so that reading it gives the very same number."""
    for factor, prefix in ((1e6, "M"), (1e3, "k")):
        text = f"{_plain_text(ohm / factor)}{prefix}"
        if ohm >= factor and parse_value(text) == ohm:
            return text
    return f"{_plain_text(ohm)}ohm"


def _plain_text(number: float) -> str:
    """Write a number without an exponent, whose minus sign would split the name."""
    text = format(Decimal(repr(float(number))), "f")
    return text.removesuffix(".0")
