"""How it is connected, drawn in one line of plain letters."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.plan.runs import RunLabel

WIDTH = 74
_SHORTEST_NAME = 8


@dataclass(frozen=True, slots=True)
class Sockets:
    """Where the leads go.

    Parameters
    ----------
    output, input : int
        As printed on the interface.
    """

    output: int = 1
    input: int = 1


def draw(label: RunLabel, pedal: str = "pedal", sockets: Sockets | None = None) -> str:
    """Draw one hook-up.

    Parameters
    ----------
    label : RunLabel
        What is connected.
    pedal : str
        Its name; cut where the line would get too long.
    sockets : Sockets or None
        None: both 1.

    Returns
    -------
    str
        At most `WIDTH` letters.
    """
    at = sockets or Sockets()
    begin, end = f"OUT {at.output}", f"IN {at.input}"
    if label.path == "unplugged":
        return f"{begin}  (nothing plugged in)   (nothing plugged in)  {end}"
    box = f"[{_short(label.resistor_ohm)}]-" if label.feed == "resistor" else ""
    at_interface = label.resistor_end == "interface"
    feed = f"{begin} --{box if at_interface else ''}{label.feed} lead-"
    feed += "" if at_interface else box
    back = "-return lead--"
    if label.load == "plug":
        back += f"[{_short(label.load_ohm, 'load plug')}]-"
    back += f" {end}"
    if label.path == "coupler":
        return f"{feed}[coupler]{back}"
    first, second = ("OUT", "IN") if label.direction == "reversed" else ("IN", "OUT")
    room = WIDTH - len(f"{feed}> {first} [] {second} {back}")
    return f"{feed}> {first} [{pedal[: max(room, _SHORTEST_NAME)].strip()}] {second} {back}"


def _short(ohm: float | None, otherwise: str = "resistor") -> str:
    if ohm is None:
        return otherwise
    for factor, prefix in ((1e6, "M"), (1e3, "k")):
        if ohm >= factor:
            return f"{ohm / factor:.4g}{prefix}"
    return f"{ohm:.4g} ohm"
