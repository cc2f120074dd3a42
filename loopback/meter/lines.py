"""Readings as lines for the screen, and as rows for a table."""

from __future__ import annotations

import math

from loopback.identify.learned import SetupLearned
from loopback.meter.reading import Reading, Zero, floor_farad
from loopback.meter.steadiness import LEAST_JUMP_FARAD, WINDOW_S, Watch
from loopback.quantity import Estimate, estimate_text, round_together

LEAD_FARAD_PER_M = 100e-12
LEAD_FROM_FARAD = 50e-12
"""From here on a capacitance is also said as a length of lead."""
_RESOLVED = 4.0
"""A resistance whose interval spans more than this is a bound only."""
LOG_HEADER = (
    "time (s)", "capacitance (F)", "u of it (F)", "conductance (S)", "u of it (S)",
    "level against zero (dB)", "state",
)  # fmt: skip


def zero_line(zero: Zero) -> str:
    """Say what zero is worth.

    Parameters
    ----------
    zero : Zero
        As taken.

    Returns
    -------
    str
        Setup capacitance, floor, and the common doubt where it is large.
    """
    setup, scale = zero.setup, f"{196 * zero.scale_u:.2g} %"
    text = (
        f"zero: setup {estimate_text(setup.node_c, 'F')}, "
        f"input {estimate_text(setup.load_r, 'Ω')}.\n"
        f"      Readings ± {floor_farad(zero) * 1e12:.1f} pF and ± {scale} (95 %)"
    )
    if zero.scale_u > 0.03:
        text += ".\n      A plain lead on the coupler first, or --input 1M, narrows the latter"
    if zero.learned is not None and zero.learned.references:
        text += f".\n      {learned_text(zero.learned)}"
    return text


def learned_text(learned: SetupLearned | None) -> str:
    """Say what the scatter of a setup rests on.

    Parameters
    ----------
    learned : SetupLearned or None
        From its references; None: there are none.

    Returns
    -------
    str
        Without a full stop.
    """
    references = 0 if learned is None else learned.references
    if references == 0:
        return "Scatter of plugs and gain: common practice, no references of this setup yet"
    runs = "1 reference run" if references == 1 else f"{references} reference runs"
    return f"Scatter of plugs and gain: learned from {runs} of this setup"


def reading_line(reading: Reading, watch: Watch) -> str:
    """Write one reading.

    Parameters
    ----------
    reading : Reading
        The latest, or the one held.
    watch : Watch
        With it in.

    Returns
    -------
    str
        Capacitance, resistance, steadiness; at most 79 columns, also with signs written out.
    """
    span = watch.span_farad
    if watch.word == "drops out" and span is not None:
        drops = len(watch.drops_s)
        times = "once" if drops == 1 else f"{drops} times"
        low_high = f"{span[0] * 1e12:.0f} ... {span[1] * 1e12:.0f} pF"
        return f"{low_high:<17}! drops out {times} in {WINDOW_S:.0f} s: broken screen or core"
    if reading.c_farad is None or reading.g_siemens is None:
        return f"nothing passes ({reading.level_db:.0f} dB): a short across, or a break in the line"
    word: str = "! input overloaded" if reading.clipped else watch.word
    if reading.c_farad.value < -max(reading.c_farad.half_width(), LEAST_JUMP_FARAD):
        word = "! less than at zero"
    return f"{capacitance(reading.c_farad):<20}{resistance(reading.g_siemens):<20}{word}".rstrip()


def held_line(reading: Reading) -> str:
    """Write a reading that is kept in view.

    Parameters
    ----------
    reading : Reading
        The one kept.

    Returns
    -------
    str
        Like `reading_line`, marked.
    """
    return f"{reading_line(reading, Watch()).removesuffix('waiting'):<40}held".rstrip()


def capacitance(c: Estimate) -> str:
    """Write a capacitance, a bound where it is not resolved.

    Parameters
    ----------
    c : Estimate
        Farads.

    Returns
    -------
    str
        Such as ``287.4 pF ± 3.6``, ``under 0.9 pF``.
    """
    half = c.half_width()
    if abs(c.value) <= half:
        return f"under {_two_digits((abs(c.value) + half) * 1e12)} pF"
    scale, unit = (1e9, "nF") if abs(c.value) >= 0.9995e-9 else (1e12, "pF")
    value, doubt = round_together(c.value * scale, half * scale)
    return f"{value} {unit} ± {doubt}"


def resistance(g: Estimate) -> str:
    """Write a conductance as a resistance, a bound where it is not resolved.

    Parameters
    ----------
    g : Estimate
        Siemens.

    Returns
    -------
    str
        Such as ``1.00 MΩ ± 0.02``, ``over 40 MΩ``.
    """
    low, high = g.interval()
    if low <= 0 or high > _RESOLVED * low:
        bound = 1 / (max(g.value, 0.0) + g.half_width())
        scale, unit = (1e6, "MΩ") if bound >= 1e6 else (1e3, "kΩ")
        return f"over {_two_digits(bound / scale, up=False)} {unit}"
    r = 1 / g.value
    half = (1 / low - 1 / high) / 2
    scale, unit = (1e6, "MΩ") if r >= 0.9995e6 else (1e3, "kΩ")
    value, doubt = round_together(r / scale, half / scale)
    return f"{value} {unit} ± {doubt}"


def closing_line(watch: Watch) -> str:
    """Write what was read at the end, and as a length of lead where that says something.

    Parameters
    ----------
    watch : Watch
        After the last reading.

    Returns
    -------
    str
        Empty without a reading.
    """
    reading = watch.held or (watch.readings[-1] if watch.readings else None)
    if reading is None or reading.c_farad is None:
        return ""
    c = reading.c_farad
    if c.value < -LEAD_FARAD_PER_M:
        return "Far less than at zero: a buffer takes the return lead off the line."
    if c.value < -c.half_width():
        return "Less than at zero: something was left on the coupler then. Zero again."
    if c.value < LEAD_FROM_FARAD:
        return ""
    metres, doubt = round_together(
        c.value / LEAD_FARAD_PER_M, c.half_width() / LEAD_FARAD_PER_M, 0.01
    )
    return f"{capacitance(c)}: as {metres} m ± {doubt} of lead at 100 pF/m."


def log_row(reading: Reading, watch: Watch) -> tuple[str, ...]:
    """Write one reading as a row of a table.

    Parameters
    ----------
    reading : Reading
        The latest.
    watch : Watch
        With it in.

    Returns
    -------
    tuple of str
        In the order of `LOG_HEADER`; empty where nothing passed.
    """
    numbers: list[str] = []
    for estimate in (reading.c_farad, reading.g_siemens):
        numbers += ["", ""] if estimate is None else [f"{estimate.value:.6g}", f"{estimate.u:.3g}"]
    return (f"{reading.at_s:.2f}", *numbers, f"{reading.level_db:.4f}", watch.word)


def _two_digits(value: float, *, up: bool = True) -> str:
    """Two digits, rounded away from what is claimed."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    rounded = (math.ceil if up else math.floor)(value / step * (1 - 1e-9 if up else 1 + 1e-9))
    return f"{rounded * step:.{max(0, -round(math.log10(step)))}f}"
