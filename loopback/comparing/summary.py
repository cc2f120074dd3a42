"""What one examination brings to a comparison, as records: plain numbers and words."""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from loopback.quantity import Estimate

Quantity = Literal[
    "c",
    "g",
    "series",
    "coupling",
    "c_input",
    "g_input",
    "gain",
    "output",
    "level_plain",
    "treble_plain",
    "level_resistor",
    "treble_resistor",
    "noise",
]
"""Tip to sleeve, in to out, the capacitor before a load; of an active path its input, gain and
output; then the run in bypass against the cable: level from 200 Hz to 2 kHz, 20 kHz over 1 kHz,
and A-weighted noise."""
UNITS: dict[Quantity, str] = {
    "c": "farad",
    "g": "siemens",
    "series": "ohm",
    "coupling": "farad",
    "c_input": "farad",
    "g_input": "siemens",
    "gain": "dB",
    "output": "ohm",
    "level_plain": "dB",
    "treble_plain": "dB",
    "level_resistor": "dB",
    "treble_resistor": "dB",
    "noise": "dB",
}
BY_SETUP: tuple[Quantity, ...] = ("level_resistor", "treble_resistor")
"""What a pedal does through a resistor depends on leads and input too, unlike its own values."""


class _Record(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Base: frozen, and unknown fields are refused."""


class Figure(_Record, frozen=True):
    """An estimate as it is stored.

    Attributes
    ----------
    value, u : float
        In the base unit of its quantity.
    dof : float or None
        Degrees of freedom; None: infinite.
    common : tuple of (str, float)
        As in `Estimate`.
    """

    value: float
    u: float
    dof: float | None = None
    common: tuple[tuple[str, float], ...] = ()

    def estimate(self, unit: str) -> Estimate:
        """Return it with its unit."""
        dof = math.inf if self.dof is None else self.dof
        return Estimate(self.value, self.u, unit, dof, self.common)


class Leads(_Record, frozen=True):
    """What an examination was made with.

    Attributes
    ----------
    rig, name : str
        As in the document.
    resistors : tuple of (float or None, float or None, str)
        Value, tolerance and place of every resistor lead that was used.
    full_scale_dbu : float or None
        As in the document.
    setup_farad : float or None
        Setup capacitance as found.
    references : tuple of str
        SHA-256 of every recording through the cable.
    """

    rig: str
    name: str
    resistors: tuple[tuple[float | None, float | None, str], ...]
    full_scale_dbu: float | None
    setup_farad: float | None
    references: tuple[str, ...]


class MeterText(_Record, frozen=True):
    """One line of "as on a meter", in words.

    Attributes
    ----------
    what, value, limit, outcome, note : str
        As in `loopback.verdict.sentences_meter.MeterLine`.
    """

    what: str
    value: str
    limit: str
    outcome: str
    note: str


class Identity(_Record, frozen=True):
    """Which pedal it was, as far as somebody said.

    Attributes
    ----------
    name, maker, model, serial, revision, mode, jacks : str
        As in the document.
    """

    name: str
    maker: str
    model: str
    serial: str
    revision: str
    mode: str
    jacks: str

    def same_as(self, other: Identity) -> bool:
        """Whether nothing that was said about two pedals speaks against their being one.

        A number on the pedal that differs tells two of a kind apart; a name alone is believed.
        """
        for field in self.__struct_fields__:
            one, two = (str(getattr(x, field)).strip().casefold() for x in (self, other))
            if one != two:
                return False
        return True


class Summary(_Record, frozen=True):
    """One examination, ready to be compared.

    Attributes
    ----------
    pedal : Identity
        Which pedal.
    created : str
        ISO 8601.
    leads : Leads
        What it was measured with.
    rate_hz : int
        Sample rate.
    signal : str
        What was played, in short; equal for equal signals.
    hook_ups : tuple of str
        Every kind of pedal run that counts, once, in alphabetical order.
    usable, runs : int
        How many runs could be used, of how many.
    recordings : str
        SHA-256 over those of all pedal recordings: equal for a folder and its copy.
    path, power : str
        As in `loopback.verdict.result.Result`, like the next line.
    grades : tuple of str
        Of the load.
    certainty : float or None
        Behind the path.
    sentences : tuple of str
        The result in words.
    meter : tuple of MeterText
        As on a meter.
    figures : dict of str to Figure
        By `Quantity`; what was not measured is absent.
    within : dict of str to list of float
        By `Quantity`, values of single runs of one hook-up and state in this examination, two or
        more of them, in base units.
    refused : int
        Findings that refuse something.
    faults : tuple of str
        Names of the wiring faults that its data carry.
    """

    pedal: Identity
    created: str
    leads: Leads
    rate_hz: int
    signal: str
    hook_ups: tuple[str, ...]
    usable: int
    runs: int
    recordings: str
    path: str
    power: str
    grades: tuple[str, ...]
    certainty: float | None
    sentences: tuple[str, ...]
    meter: tuple[MeterText, ...]
    figures: dict[str, Figure]
    within: dict[str, list[float]]
    refused: int
    faults: tuple[str, ...] = ()

    def estimate(self, quantity: Quantity) -> Estimate | None:
        """Return one of its values; None where it was not measured."""
        figure = self.figures.get(quantity)
        return None if figure is None else figure.estimate(UNITS[quantity])
