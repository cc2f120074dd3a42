"""What quantities are called in a comparison, and how their numbers are written."""

from __future__ import annotations

import math

from loopback.comparing.summary import Quantity
from loopback.quantity import Estimate, estimate_text, with_prefix
from loopback.verdict.wording import capacitance_text, decibel_text, ohm_text, resistance_text

NAMES: dict[Quantity, str] = {
    "c": "Capacitance, tip to sleeve",
    "g": "Resistance, tip to sleeve",
    "series": "In to out",
    "coupling": "Capacitor before the load",
    "c_input": "Input capacitance",
    "g_input": "Input resistance",
    "gain": "Gain",
    "output": "Output resistance",
    "level_plain": "Level, plain lead",
    "treble_plain": "20 kHz over 1 kHz, plain lead",
    "level_resistor": "Level, resistor lead",
    "treble_resistor": "20 kHz over 1 kHz, resistor lead",
    "noise": "Noise against the cable, A-weighted",
}
_SIGNS = {"farad": "F", "ohm": "Ω", "siemens": "S", "dB": "dB"}
FINEST_DB = 0.001
"""Nothing is printed finer than a thousandth of a decibel."""

PATH_WORDS = {
    "wired": "true bypass",
    "loaded": "passive, loaded",
    "buffered": "buffered",
    "converted": "digital",
    "silent": "silent",
    "faulty": "not working",
    "undecided": "not decided",
    "none": "no pedal seen",
}
POWER_WORDS = {
    "bypass_position": "passes in bypass without power",
    "always": "passes without power",
    "keeps_last": "keeps its state without power",
    "never": "silent without power",
    "untested": "not tested without power",
}


def value_text(quantity: Quantity, estimate: Estimate) -> str:
    """Write a value with what covers 95 %, or the bound beyond which it lies.

    Parameters
    ----------
    quantity : str
        Which.
    estimate : Estimate
        In its base unit.

    Returns
    -------
    str
        Such as ``12.8 pF ± 0.8`` or ``over 150 MΩ``.
    """
    if quantity in ("c", "c_input", "coupling"):
        return capacitance_text(estimate)
    if quantity in ("g", "g_input") and estimate.unit == "siemens":
        return resistance_text(estimate)
    if estimate.unit == "ohm":
        return ohm_text(estimate)
    return decibels_text(estimate)


def decibels_text(estimate: Estimate) -> str:
    """Write a level, never finer than a thousandth.

    Parameters
    ----------
    estimate : Estimate
        In dB.

    Returns
    -------
    str
        ``-0.74 dB ± 0.01``; where the 95 % interval holds zero, ``0 dB within 0.01``.
    """
    half = estimate.half_width()
    if abs(estimate.value) <= max(half, 0.5 * FINEST_DB):
        return f"0 dB within {bound_text(estimate).removesuffix(' dB')}"
    if half < 10 * FINEST_DB:
        return f"{estimate.value:+.3f} dB ± {max(1, math.ceil(half / FINEST_DB)) * FINEST_DB:.3f}"
    return decibel_text(estimate)


def size_text(estimate: Estimate) -> str:
    """Write the size of a difference, without its sign, with what covers 95 %.

    Parameters
    ----------
    estimate : Estimate
        In its base unit.

    Returns
    -------
    str
        Such as ``6.1 pF ± 1.0``.
    """
    size = Estimate(abs(estimate.value), estimate.u, estimate.unit, estimate.dof)
    if estimate.unit == "dB":
        return decibels_text(size).removeprefix("+")
    return estimate_text(size, _SIGNS[estimate.unit])


def bound_text(estimate: Estimate) -> str:
    """Write what a value cannot exceed in size: the farther end of its 95 % interval.

    Parameters
    ----------
    estimate : Estimate
        In its base unit.

    Returns
    -------
    str
        Rounded up to two digits, such as ``1.7 pF``.
    """
    size = abs(estimate.value) + estimate.half_width()
    unit = _SIGNS[estimate.unit]
    if unit == "dB":
        size = max(size, FINEST_DB)
        places = min(3, 1 - math.floor(math.log10(size)))
        step = 10.0**-places
        return f"{max(1, math.ceil(size / step - 1e-9)) * step:.{max(0, places)}f} dB"
    if size <= 0 or not math.isfinite(size):
        return f"{size:g} {unit}"
    step = 10.0 ** (math.floor(math.log10(size)) - 1)
    return with_prefix(math.ceil(size / step - 1e-9) * step, unit, 2)


def spread_text(value: float, unit: str) -> str:
    """Write a standard deviation with two digits.

    Parameters
    ----------
    value : float
        In the base unit.
    unit : str
        Of the quantity.

    Returns
    -------
    str
        Such as ``0.31 pF``.
    """
    if unit == "dB":
        if value < 0.00095:
            return f"{value:.2g} dB"
        return f"{value:.3f} dB" if value < 0.0995 else f"{value:.2g} dB"
    return with_prefix(value, _SIGNS[unit], 2)


def spread_range(low: float, high: float, unit: str) -> str:
    """Write an interval of a standard deviation.

    Parameters
    ----------
    low, high : float
        In the base unit.
    unit : str
        Of the quantity.

    Returns
    -------
    str
        Such as ``0.18 to 1.2 pF``.
    """
    first, last = spread_text(low, unit), spread_text(high, unit)
    number, sign = first.rsplit(" ", 1)
    return f"{number} to {last}" if last.endswith(f" {sign}") else f"{first} to {last}"


def bare_text(value: float, unit: str) -> str:
    """Write a value without its doubt, with three digits.

    Parameters
    ----------
    value : float
        In the base unit.
    unit : str
        Of the quantity.

    Returns
    -------
    str
        Such as ``12.9 pF``.
    """
    return f"{value:+.3f} dB" if unit == "dB" else with_prefix(value, _SIGNS[unit])
