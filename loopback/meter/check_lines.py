"""What a check plug says, in words."""

from __future__ import annotations

import math

from loopback.meter.check_plug import COARSE, Checked, KnownPart
from loopback.quality.finding import Finding
from loopback.quantity import estimate_text, with_prefix

_SYMBOL = {"farad": "F", "ohm": "Ω"}
_NOT_THERE = 0.1
"""Less than this share of the part is no part at all."""
_GOOD_ONES = "Take 100 pF to 100 nF, or 1 kΩ to 1 MΩ, of 1 % or better."


def part_text(part: KnownPart) -> str:
    """Write a part as stated.

    Parameters
    ----------
    part : KnownPart
        In the plug.

    Returns
    -------
    str
        Such as ``1 nF ± 1 %``.
    """
    number, unit = with_prefix(part.value, _SYMBOL[part.unit], 5).split()
    return f"{float(number):.15g} {unit} ± {100 * part.tolerance:.3g} %"


def resistor_text(ohm: float, tolerance: float) -> str:
    """Write the resistor as typed.

    Parameters
    ----------
    ohm, tolerance : float
        Ohms, and a share.

    Returns
    -------
    str
        Such as ``100.0 kΩ ± 1 %``.
    """
    return f"{with_prefix(ohm, 'Ω', 4)} ± {100 * tolerance:.3g} %"


def agreed_line(checked: Checked) -> str:
    """Write that plug and resistor agree.

    Parameters
    ----------
    checked : Checked
        Read, and compared.

    Returns
    -------
    str
        Reading, stated value, normalised error.
    """
    return f"{_both(checked)}: they agree, E_n {checked.e_n:.1f}"


def standard_line(checked: Checked) -> str:
    """Say which value of the resistor is used from here on.

    Parameters
    ----------
    checked : Checked
        A plug that agrees.

    Returns
    -------
    str
        The one found, or that the typed one stays.
    """
    typed = resistor_text(checked.typed_ohm, checked.typed_tolerance)
    found = estimate_text(checked.resistor, "Ω")
    if checked.better:
        return f"Resistor by the check plug {found}, used from here on; typed {typed}"
    return f"Resistor stays as typed, {typed}; by the check plug {found}, no closer"


def remark(checked: Checked) -> str:
    """Say in a few words what stands behind the resistor's value.

    Parameters
    ----------
    checked : Checked
        Read, and compared.

    Returns
    -------
    str
        For the setup file; empty where the plug said nothing.
    """
    plug = f"check plug {part_text(checked.part)}"
    if checked.better:
        return f"by {plug}; typed: {resistor_text(checked.typed_ohm, checked.typed_tolerance)}"
    if checked.word == "agree":
        return f"typed; agrees with {plug}"
    return f"typed; differs from {plug}" if checked.word == "differ" else ""


def judge_check_plug(checked: Checked) -> Finding | None:
    """Judge what a check plug says.

    Parameters
    ----------
    checked : Checked
        Read, and compared.

    Returns
    -------
    Finding or None
        Codes ``check_plug_silent``, ``check_plug_coarse``, ``check_plug_missing``,
        ``check_plug_differs``; None where plug and resistor agree.
    """
    word, part = checked.word, checked.part
    if word == "agree":
        return None
    if word == "nothing":
        return Finding(
            "check_plug_silent",
            "look",
            f"check plug {part_text(part)}: nothing passes with it in",
            "A short in the plug, or a part too heavy for the line. The resistor stays as typed.",
            _GOOD_ONES,
        )
    if word == "coarse":
        wide = 2 * part.tolerance / math.sqrt(3) > COARSE
        light = "too small" if part.unit == "farad" else "too large"
        return Finding(
            "check_plug_coarse",
            "look",
            f"check plug {part_text(part)}: {'tolerance too wide' if wide else light} to say"
            f" anything about the resistor (± {200 * checked.share_u:.2g} %)",
            "The resistor stays as typed, not checked.",
            _GOOD_ONES,
        )
    number = f"{_both(checked)}: they differ, E_n {checked.e_n:.1f}"
    if checked.share < _NOT_THERE:
        return Finding(
            "check_plug_missing",
            "look",
            number,
            "Next to nothing lies across the line; the resistor stays as typed, not checked.",
            "Check that the plug is in, and that its part is sound from tip to sleeve.",
        )
    return Finding(
        "check_plug_differs",
        "look",
        number,
        "Resistor value, its tolerance or the plug is not as stated; the resistor stays as typed.",
        "Measure the resistor lead from tip to tip with a multimeter: by this plug it has"
        f" {estimate_text(checked.resistor, 'Ω')}. Then give setup that reading.",
    )


def _both(checked: Checked) -> str:
    part = checked.part
    if checked.reading is None:
        return f"Check plug reads as an open line, stated {part_text(part)}"
    reading = estimate_text(checked.reading, _SYMBOL[part.unit])
    return f"Check plug {reading}, stated {part_text(part)}"
