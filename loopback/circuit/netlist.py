"""Elements of a linear circuit and the lines they are written in.

One element per line: a name whose first letter is its kind, its nodes, its value::

    Rpd IN 0 1M              resistor, ohm
    Cci IN 0 6p              capacitor, farad
    Lm  a  0 60              inductor, henry
    E1  e 0 b 0 0.985        voltage source e-0 of 0.985 times the voltage b-0
    G1  c 0 b 0 20m          current of 20 mA per volt b-0, flowing from c through it to 0
    T1  b 0 s 0 1            ideal transformer, n:1, first winding b-0 has n times the turns

``*`` at the start of a line and ``;`` anywhere begin a comment.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, TypeAlias, cast

from loopback.errors import ArgumentError, NetlistError
from loopback.quantity import parse_value

Kind: TypeAlias = Literal["R", "C", "L", "E", "G", "T"]
"""Resistor, capacitor, inductor, controlled voltage, controlled current, ideal transformer."""

GROUND = "0"
"""Name of the node that all voltages are measured against."""

_NODE_COUNT: dict[str, int] = {"R": 2, "C": 2, "L": 2, "E": 4, "G": 4, "T": 4}
_UNITS: dict[str, str] = {"R": "ohm", "C": "farad", "L": "henry", "G": "siemens"}
_NAME = re.compile(r"[A-Za-z0-9_]+")


@dataclass(frozen=True, slots=True)
class Element:
    """One element of a linear circuit.

    Parameters
    ----------
    kind : {"R", "C", "L", "E", "G", "T"}
        What it is; see the module's table.
    name : str
        Unique within its circuit; begins with `kind`.
    nodes : tuple of str
        Two for R, C and L; for E, G and T first the output pair, then the controlling pair (E, G)
        or first winding, then second winding (T).
    value : float
        Ohm, farad, henry, gain in V/V, transconductance in siemens, or turns ratio n of n:1.
    """

    kind: Kind
    name: str
    nodes: tuple[str, ...]
    value: float


def parse_elements(lines: Iterable[tuple[int, str]], source: str) -> tuple[Element, ...]:
    """Read element lines; empty lines and comments are passed over.

    Parameters
    ----------
    lines : iterable of (int, str)
        Line number, counted from 1 in the file, and the text of that line.
    source : str
        Name of the file, for messages.

    Returns
    -------
    tuple of Element
        In the order of the lines.

    Raises
    ------
    NetlistError
        If a line is not an element, has the wrong number of nodes, a value that cannot be read or
        is impossible (R, C, L not above zero; n zero), joins an R, C or L to the same node twice,
        or repeats a name. The message names file and line.
    """
    elements: list[Element] = []
    first_line: dict[str, int] = {}
    for number, raw in lines:
        text = strip_comment(raw)
        if not text:
            continue
        element = _parse_line(text, f"{source}, line {number}")
        if element.name in first_line:
            raise NetlistError(
                f"{source}, line {number}: {element.name} stands already on line "
                f"{first_line[element.name]}.",
                "Two elements cannot share a name.",
                "Rename one.",
            )
        first_line[element.name] = number
        elements.append(element)
    return tuple(elements)


def strip_comment(line: str) -> str:
    """Take the comment off a line.

    Parameters
    ----------
    line : str
        As it stands in the file.

    Returns
    -------
    str
        Without comment and surrounding space; empty when nothing is left.
    """
    text = line.split(";", 1)[0].strip()
    return "" if text.startswith("*") else text


def _parse_line(text: str, where: str) -> Element:
    words = text.split()
    name = words[0]
    kind = name[0]
    if kind not in _NODE_COUNT:
        raise NetlistError(
            f'{where}: "{name}" is no element.',
            "The first letter says what it is: R, C, L, E, G or T, in capitals.",
            "Write it like: Rpd IN 0 1M",
        )
    count = _NODE_COUNT[kind]
    nodes = tuple(words[1:-1])
    if len(words) != count + 2:
        raise NetlistError(
            f"{where}: {name} is followed by {len(words) - 1} words.",
            f"{kind} takes {count} nodes and a value.",
            "Separate them by spaces; a comment begins with a semicolon.",
        )
    for word in (name, *nodes):
        if not _NAME.fullmatch(word):
            raise NetlistError(
                f'{where}: "{word}" is no name.', "", "Use letters, digits and underscores."
            )
    try:
        value = parse_value(words[-1], _UNITS.get(kind, ""))
    except ArgumentError as error:
        raise NetlistError(f"{where}: {error.found}", error.means, error.action) from error
    _check_value(kind, name, nodes, value, where)
    return Element(cast(Kind, kind), name, nodes, value)


def _check_value(kind: str, name: str, nodes: tuple[str, ...], value: float, where: str) -> None:
    if not math.isfinite(value):
        raise NetlistError(f"{where}: {name} has the value {value!r}.", "", "Give a finite value.")
    if kind in "RCL" and value <= 0:
        raise NetlistError(
            f"{where}: {name} has the value {value:g}.",
            "Resistors, capacitors and inductors are above zero.",
            "Leave the line out for an open part; write 0.05 ohm for a piece of wire.",
        )
    if kind == "T" and value == 0:
        raise NetlistError(
            f"{where}: {name} has a turns ratio of zero.",
            "A winding has at least one turn.",
            "Write 1 for 1:1, -1 for reversed polarity.",
        )
    if kind in "RCL" and nodes[0] == nodes[1]:
        raise NetlistError(
            f"{where}: both ends of {name} are at {nodes[0]}.",
            "Nothing flows in it.",
            "Name the two nodes it joins.",
        )
