"""A known capacitor or resistor across the line, against which the series resistor is checked.

What is read across the line goes with one over the series resistor, for R and for C alike. So a
part that is known better than the resistor tells the resistor, and any known part tells a wrong
one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from loopback.errors import ArgumentError
from loopback.meter.listen import Heard, joined
from loopback.meter.reading import Zero, read
from loopback.quantity import Estimate, parse_value
from loopback.signal.take import Signal

PLUG_U_FARAD = 1e-12
"""Of the bare plug around the part, standard uncertainty: 1 to 3 pF are usual (common practice)."""
COARSE = 0.1
"""A comparison whose interval is wider than this share of the part says nothing about a resistor
lead. Judgement."""
_MOST_TOLERANCE, _LEAST_TOLERANCE = 0.2, 1e-5
_LIMITS = {"farad": (0.0, 100e-6), "ohm": (1.0, 100e6)}
_FARAD_BELOW = 1e-3
"""Without a unit, a smaller value is a capacitor: nobody has a milliohm for this, nor a farad."""
_PER_CENT = re.compile(r"\s*\d*\.?\d+\s*%?\s*")
_UNITS: dict[str, Literal["farad", "ohm"]] = {"f": "farad", "ohm": "ohm", "ω": "ohm", "r": "ohm"}

Word = Literal["agree", "differ", "coarse", "nothing"]


@dataclass(frozen=True, slots=True)
class KnownPart:
    """The part in a check plug, as its owner states it.

    Parameters
    ----------
    unit : {"farad", "ohm"}
        Which kind it is.
    value : float
        Farads or ohms.
    tolerance : float
        A share; a limit, not a standard deviation.
    """

    unit: Literal["farad", "ohm"]
    value: float
    tolerance: float

    @property
    def relative_u(self) -> float:
        """Relative standard uncertainty: a rectangular distribution (JCGM 100:2008, 4.3.7)."""
        u = self.tolerance / math.sqrt(3)
        return u if self.unit == "ohm" else math.hypot(u, PLUG_U_FARAD / self.value)


@dataclass(frozen=True, slots=True)
class Checked:
    """A check plug as read against its stated value.

    Parameters
    ----------
    part : KnownPart
        As stated.
    reading : Estimate or None
        Farads or ohms, the tolerance of the resistor included; None where nothing passed, or where
        a resistor cannot be told from an open line.
    share : float
        What was read over what is stated: admittance in both cases. NaN where nothing passed.
    share_u : float
        Standard uncertainty of `share` without the series resistor, the part included.
    e_n : float
        Normalised error (ISO 13528:2022): difference over the root of the sum of both squared
        expanded uncertainties, k = 2. Up to 1 they agree.
    resistor : Estimate
        Series resistor, ohms, by this part alone.
    typed_ohm, typed_tolerance : float
        Series resistor as stated.
    """

    part: KnownPart
    reading: Estimate | None
    share: float
    share_u: float
    e_n: float
    resistor: Estimate
    typed_ohm: float
    typed_tolerance: float

    @property
    def word(self) -> Word:
        """What came of it; ``coarse`` where agreeing says nothing."""
        if math.isnan(self.share):
            return "nothing"
        if self.e_n > 1:
            return "differ"
        return "coarse" if 2 * self.share_u > COARSE else "agree"

    @property
    def better(self) -> bool:
        """Whether it tells the resistor more closely than the stated tolerance does."""
        typed_u = self.typed_tolerance / math.sqrt(3)
        return self.word == "agree" and self.resistor.u < typed_u * self.typed_ohm

    @property
    def standard(self) -> tuple[float, float]:
        """Resistor to go on with, and its tolerance: that of this part where it is `better`.

        The tolerance is such that a rectangular distribution has the standard uncertainty found.
        """
        if not self.better:
            return self.typed_ohm, self.typed_tolerance
        found = self.resistor
        return float(f"{found.value:.6g}"), float(f"{math.sqrt(3) * found.u / found.value:.3g}")


def read_known_part(text: str) -> KnownPart:
    """Read a part with its tolerance: ``1n:1%``, ``100pF:0.5%``, ``1M:0.1%``.

    Parameters
    ----------
    text : str
        Value, colon, tolerance; without a unit what is below a thousandth is a capacitor.

    Returns
    -------
    KnownPart
        See there.

    Raises
    ------
    ArgumentError
        If it cannot be read, or cannot be a part for this.
    """
    shown, colon, tolerance_text = text.partition(":")
    if not colon or "%" in shown or _PER_CENT.fullmatch(tolerance_text) is None:
        raise ArgumentError(
            f'"{text}" is not a check plug.',
            "Value and tolerance are both needed.",
            "Write it like 1n:1% or 100k:0.1%.",
        )
    value, tolerance = parse_value(shown), parse_value(tolerance_text, "per cent")
    unit = _unit(shown.strip(), value)
    low, high = _LIMITS[unit] if unit else (math.inf, 0.0)
    if unit is None or not low <= value <= high or value == 0:
        raise ArgumentError(
            f'"{text}" cannot be a check plug.',
            "A capacitor above zero up to 100 µF, or a resistor of 1 Ω to 100 MΩ, can be one.",
            "1n:1% and 100k:0.1% are good ones.",
        )
    if not _LEAST_TOLERANCE <= tolerance <= _MOST_TOLERANCE:
        raise ArgumentError(
            f'"{text}" has a tolerance of {tolerance:.3g} (1 % is 0.01).',
            "From 0.001 to 20 % can be used.",
            "Write it like 1n:1% or 100k:0.1%.",
        )
    return KnownPart(unit, value, tolerance)


def check_part(
    part: KnownPart,
    heard: Sequence[Heard],
    signal: Signal,
    zero: Zero,
    typed_ohm: float,
    typed_tolerance: float,
) -> Checked:
    """Compare a known part with what is read of it.

    Parameters
    ----------
    part : KnownPart
        Across the line now.
    heard : sequence of Heard
        Two or more sweeps of one stream with it.
    signal : Signal
        What was played.
    zero : Zero
        Without it; taken with the series resistor as stated and a tolerance of 0, so that its
        readings carry every doubt but that of the resistor.
    typed_ohm, typed_tolerance : float
        Series resistor as stated.

    Returns
    -------
    Checked
        See there.
    """
    mean = joined(heard, signal, "check plug")
    reading = read(Heard(mean.h, 0.0, max(one.peak for one in heard)), zero, 0.0)
    read_y = reading.c_farad if part.unit == "farad" else reading.g_siemens
    stated_y = part.value if part.unit == "farad" else 1 / part.value
    if read_y is None:
        nan = Estimate(math.nan, math.inf, "ohm")
        return Checked(part, None, math.nan, math.inf, math.inf, nan, typed_ohm, typed_tolerance)
    share = read_y.value / stated_y
    # What drives the line adds to the series resistor, and is not known better than this.
    scale_u = zero.setup.source_ohm.u / typed_ohm
    read_u = math.hypot(read_y.u / stated_y, share * scale_u)
    resistor_u = share * typed_tolerance / math.sqrt(3)
    share_u = math.hypot(read_u, part.relative_u)
    full = Estimate(read_y.value, stated_y * math.hypot(read_u, resistor_u), read_y.unit)
    shown: Estimate | None = full
    if part.unit == "ohm":
        shown = full.inverse("ohm") if full.value > 2 * full.u else None
    return Checked(
        part,
        shown,
        share,
        share_u,
        abs(share - 1) / (2 * math.hypot(share_u, resistor_u)),
        Estimate(typed_ohm * share, typed_ohm * share_u, "ohm"),
        typed_ohm,
        typed_tolerance,
    )


def _unit(shown: str, value: float) -> Literal["farad", "ohm"] | None:
    """Tell the kind by the letters at the end, else by the size; None: of neither kind."""
    letters = re.sub(r"^[+-]?[\d.]+(?:[eE][+-]?\d+)?\s*(?:meg|[pnuµμmkKMG])?", "", shown).strip()
    if letters:
        return _UNITS.get(letters.casefold())
    return "farad" if value < _FARAD_BELOW else "ohm"
