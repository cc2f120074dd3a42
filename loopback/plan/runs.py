"""The label of a run: what was done and seen, never what is hoped for."""

from __future__ import annotations

from typing import Literal

import msgspec

PathKind = Literal["coupler", "pedal", "unplugged"]
Power = Literal["on", "off"]
Position = Literal["a", "b", "none"]
"""a: as found; b: after one more press; none: the pedal has no footswitch."""
Lamp = Literal["lit", "dark", "none"]
Feed = Literal["plain", "resistor"]
Load = Literal["instrument", "line", "plug"]
Direction = Literal["forward", "reversed"]
ResistorEnd = Literal["pedal", "interface"]


class RunLabel(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One hook-up, as it was set and seen.

    Attributes
    ----------
    path : {"coupler", "pedal", "unplugged"}
        What joins the two leads; the coupler makes a reference.
    feed : {"plain", "resistor"}
        How the pedal is fed.
    power, position : str or None
        None for references, and where nobody said.
    lamp : {"lit", "dark", "none"} or None
        What was seen; a note, never evidence.
    resistor_ohm, resistor_tolerance : float or None
        Value and relative tolerance (0.01 is 1 %); None: not known.
    resistor_end : {"pedal", "interface"}
        Which end of the feeding lead the resistor sits at.
    load, load_ohm : str, float or None
        What the return lead ends in; `load_ohm` for a load plug.
    mating : int
        How often coupler or pedal was plugged again since the first run of this hook-up.
    direction : {"forward", "reversed"}
        Reversed: in and out of the pedal exchanged.
    note : str
        Free text.
    level_db : float
        Level of the take against the examination's signal, dB, 0 or below: a second, lower level.
    """

    path: PathKind
    feed: Feed
    power: Power | None = None
    position: Position | None = None
    lamp: Lamp | None = None
    resistor_ohm: float | None = None
    resistor_tolerance: float | None = None
    resistor_end: ResistorEnd = "pedal"
    load: Load = "instrument"
    load_ohm: float | None = None
    mating: int = 0
    direction: Direction = "forward"
    note: str = ""
    level_db: float = 0.0
