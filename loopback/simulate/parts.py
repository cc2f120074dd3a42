"""Loose parts for the live meter: plugged across the line, with the coupler left where it is.

``100p`` a capacitor, ``1M`` a resistor, ``1M+100p`` both, ``lead:3m`` a lead with nothing at its
end, ``switch`` an open contact, ``wiggle`` a lead with a broken core that comes and goes.
"""

from __future__ import annotations

import re

from loopback.errors import ArgumentError
from loopback.quantity import parse_value
from loopback.simulate.pedal import PedalFile, parse_pedal

LEAD_FARAD_PER_M = 100e-12
LEAD_LEAK_OHM = 5e9
BROKEN_FARAD = 12e-12
"""What is left of a lead whose core is broken in its first plug."""
COUPLER_FARAD = 2e-12
_LEAD = re.compile(r"lead:(?P<metres>.+?)m")
_VALUE = re.compile(r"\d[\d.]*(?:e-?\d+)?[pnuµkKM]?[FΩ]?|\d[\d.]*meg")


def is_part(text: str) -> bool:
    """Tell whether a text means a loose part, not a pedal.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    bool
        True for what `loose_part` reads.
    """
    return (
        text in ("switch", "wiggle")
        or _LEAD.fullmatch(text) is not None
        or all(_VALUE.fullmatch(piece) for piece in text.split("+"))
    )


def loose_part(text: str) -> PedalFile:
    """Make a loose part.

    Parameters
    ----------
    text : str
        See the head of this file.

    Returns
    -------
    PedalFile
        Coupler and part between the leads; state ``b`` is the other state of ``wiggle``.

    Raises
    ------
    ArgumentError
        If the text cannot be read.
    """
    lead = _LEAD.fullmatch(text)
    other: list[str] = []
    if text == "wiggle":
        across = _lead(3.0)
        other = [f"Cx IN 0 {BROKEN_FARAD:g}"]
    elif text == "switch":
        across = ["Cx IN 0 1.5p", "Rx IN 0 20G"]
    elif lead is not None:
        across = _lead(parse_value(lead["metres"], "m"))
    elif is_part(text):
        across = [_element(piece) for piece in text.split("+")]
    else:
        raise ArgumentError(
            f'"{text}" is not a part.', "", "Write it like 100p, 1M, lead:3m, switch or wiggle."
        )
    lines = [
        f".title {text}",
        ".about A loose part across the line.",
        ".family part",
        ".footswitch mechanical-latching",
        ".bypass as-is",
        ".common",
        "Rj IN OUT 1m",
        f"Cj IN 0 {COUPLER_FARAD:g}",
        ".state as-is",
        *across,
        ".state moved",
        *(other or across),
        ".table",
        "on a as-is",
        "on b moved",
        "off a as-is",
        "off b moved",
    ]
    return parse_pedal("\n".join(lines), text)


def _lead(metres: float) -> list[str]:
    return [f"Cx IN 0 {metres * LEAD_FARAD_PER_M:g}", f"Rx IN 0 {LEAD_LEAK_OHM:g}"]


def _element(piece: str) -> str:
    value = parse_value(piece)
    if not value > 0:
        raise ArgumentError(f'"{piece}" is not above zero.', "", "Write it like 100p or 1M.")
    # Nobody has a resistor of a millionth of an ohm, nor a capacitor of a farad.
    kind = "C" if value < 1e-3 else "R"
    return f"{kind}x{kind} IN 0 {value:.12g}"
