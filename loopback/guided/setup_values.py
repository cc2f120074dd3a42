"""Values that a user types while setting up: the resistor, and a meter's reading."""

from __future__ import annotations

import math

from loopback.errors import ArgumentError
from loopback.quantity import parse_value

ZERO_DBU_V = math.sqrt(0.6)
"""RMS value of 0 dBu: 1 mW in 600 Ω."""


def read_resistor(text: str) -> tuple[float, float]:
    """Read a resistor the way people write it: ``100k 1%``, ``99.6k``.

    Parameters
    ----------
    text : str
        Value, and perhaps its tolerance; without one it is 1 %.

    Returns
    -------
    ohm, tolerance : float
        Ohms, and a share.

    Raises
    ------
    ArgumentError
        If it cannot be read, or cannot be a resistor for this.
    """
    parts = text.split()
    if not 1 <= len(parts) <= 2:
        raise ArgumentError(f'"{text}" is not a resistor.', "", "Write it like 99.6k or 100k 1%.")
    ohm = parse_value(parts[0], "ohm")
    tolerance = parse_value(parts[1], "per cent") if len(parts) == 2 else 0.01
    if not 1e3 <= ohm <= 10e6 or not 0 <= tolerance <= 0.5:
        raise ArgumentError(
            f'"{text}" cannot be the resistor lead.', "", "Any resistor of 47k to 220k will do."
        )
    return ohm, tolerance


def full_scale_dbu(volts: float, level_dbfs: float, gain_db: float) -> float:
    """Level of a full-scale sine at the input.

    Parameters
    ----------
    volts : float
        Reading of the tone, volts RMS.
    level_dbfs : float
        At which the tone was played.
    gain_db : float
        Recorded over played, through the plain lead and the coupler.

    Returns
    -------
    float
        dBu: 0 dBu is sqrt(0.6) V.

    Raises
    ------
    ArgumentError
        If the reading cannot be that of such a tone.
    """
    if not 1e-4 <= volts <= 30.0:
        raise ArgumentError(
            f"A meter reading of {volts:g} V was given.",
            "A line output makes millivolts to a few volts of this tone.",
            "Set the meter to AC volts and read again.",
        )
    return 20 * math.log10(volts / ZERO_DBU_V) - (level_dbfs + gain_db)


def dbv_of(dbu: float) -> float:
    """Turn dBu into dBV: 0 dBV is 1 V RMS, 2.2 dB more than 0 dBu.

    Parameters
    ----------
    dbu : float
        Level, dBu.

    Returns
    -------
    float
        The same level, dBV.
    """
    return dbu + 20 * math.log10(ZERO_DBU_V)
