"""What the footswitch does, on one screen."""

from __future__ import annotations

import math

from loopback.quantity import Estimate, estimate_text, round_together, with_prefix
from loopback.report.dates import date_text
from loopback.report.layout import Row, columns, lay_out, two_ends
from loopback.switching.result import Cause, Direction, Figure, PressFigures

GUITAR_V = 0.1
"""Peak of a guitar played softly, for comparison (common practice)."""
_NAMES: dict[Direction, str] = {"lit": "Effect on", "dark": "Effect off"}
_KNOWN_BY = {
    "level": "told apart by the level of the tone, which in bypass is that of the bypass runs",
    "lamp": "told apart by the lamp, as you said",
    "distortion": "told apart by the distortion of the tone: bypass is the cleaner one",
    "order": 'not told apart by anything: the first press is called "on"',
}


def press_screen(
    figures: PressFigures, pedal: str, made: str, fed: str, follow: str, *, signs: bool
) -> str:
    """Write the result of a run of presses.

    Parameters
    ----------
    figures : PressFigures
        Of the run.
    pedal : str
        Its name.
    made : str
        When, ISO 8601.
    fed : str
        What feeds the pedal, in words.
    follow : str
        Commands that make sense next, one per line.
    signs : bool
        False writes Ω, ± and µ out.

    Returns
    -------
    str
        20 lines or fewer.
    """
    heard = f"{len(figures.presses)} of {figures.asked} presses heard in silence"
    right = f"{date_text(made)}, {heard}"
    head = two_ends(f"{pedal.upper()[: 78 - len(right) - 12]}, footswitch", right, signs=signs)
    rows = [
        Row("Pops", " ".join(_pop_sentence(figures, which) for which in ("lit", "dark"))),
        Row("", _table(figures, signs)),
        Row("After a rest", _rested(figures)),
        Row("Contacts", " ".join(_contacts(figures, which) for which in ("lit", "dark")).strip()),
        Row("Consistent", " ".join(_cause(cause) for cause in figures.causes)),
        Row("Known from", _known(figures, fed)),
        Row("Next", follow),
    ]
    return f"{head}\n{lay_out(rows, signs=signs)}"


def _pop_sentence(figures: PressFigures, which: Direction) -> str:
    one, name = figures.direction(which), _NAMES[which]
    if not one.presses:
        return f"{name}: nothing was heard."
    if not one.pops or one.peak is None:
        rested = ", but for the one after a rest" if one.pops else ""
        limit = _amplitude_text(Estimate(one.silence_peak_99, 0.0, figures.unit), bare=True)
        return f"{name}: no pop above the noise{rested} (under {limit})."
    text = f"{name}: {one.pops} of {one.presses} pop"
    if figures.unit == "V" and one.peak.median.value > 0:
        against = 20 * math.log10(one.peak.median.value / GUITAR_V)
        side = "above" if against > 0 else "below"
        text += f", {abs(against):.0f} dB {side} a guitar of 100 mV"
    return text + "."


def _table(figures: PressFigures, signs: bool) -> str:
    lit, dark = figures.lit, figures.dark
    rows = (
        ("Peak", lit.peak, dark.peak),
        ("A-weighted peak", _in_db(lit.a_weighted_peak), _in_db(dark.a_weighted_peak)),
        ("50 ms burst", lit.burst_level, dark.burst_level),
        ("5-95 % of energy", lit.energy_s, dark.energy_s),
        ("Decay to a tenth", lit.decay_s, dark.decay_s),
        ("DC step", lit.dc_step, dark.dc_step),
        ("Gap", lit.gap_s, dark.gap_s),
        ("Overlap", lit.overlap_s, dark.overlap_s),
    )
    table = [
        (name, *_cells(one), *_cells(other))
        for name, one, other in rows
        if one is not None or other is not None
    ]
    if not table:
        return ""
    return columns([("median, worst", "on", "", "off", ""), *table], signs=signs)


def _cells(figure: Figure | None) -> tuple[str, str]:
    if figure is None:
        return "-", ""
    return _amplitude_text(figure.median), _amplitude_text(figure.worst, bare=True)


def _in_db(figure: Figure | None) -> Figure | None:
    """Turn amplitudes into dBV or dBFS, as this figure is usually stated."""
    if figure is None:
        return None
    return Figure(_level(figure.median), _level(figure.worst))


def _level(estimate: Estimate) -> Estimate:
    unit = "dBV" if estimate.unit == "V" else "dBFS"
    if estimate.value == 0:
        return Estimate(-math.inf, 0.0, unit, estimate.dof)
    size = abs(estimate.value)
    return Estimate(
        20 * math.log10(size), 20 / math.log(10) * estimate.u / size, unit, estimate.dof
    )


def _amplitude_text(estimate: Estimate, *, bare: bool = False) -> str:
    """Write an estimate; bare: without its doubt, to three digits."""
    if estimate.unit == "FS":
        estimate = _level(estimate)
    if estimate.unit.startswith("dB"):
        if not math.isfinite(estimate.value):
            return "-"
        if bare:
            return f"{estimate.value:.1f} {estimate.unit}"
        value, doubt = round_together(estimate.value, max(0.05, estimate.half_width()))
        return f"{value} {estimate.unit} ± {doubt}"
    if bare or estimate.u == 0:
        return with_prefix(estimate.value, estimate.unit)
    return estimate_text(estimate, estimate.unit)


def _rested(figures: PressFigures) -> str:
    parts = []
    for which in ("lit", "dark"):
        press = figures.direction(which).rested
        if press is None:
            continue
        size = _amplitude_text(press.pop.peak) if press.is_pop else "no pop"
        parts.append(f"{_NAMES[which].lower()} after {press.rest_s:.0f} s: {size}")
    return ", ".join(parts)


def _contacts(figures: PressFigures, which: Direction) -> str:
    one = figures.direction(which)
    if one.bounces is None or not one.bounces:
        return ""
    often = "once" if one.bounces == 1 else f"up to {one.bounces} times"
    return f"{_NAMES[which]}: opens again {often} before it stays."


def _cause(cause: Cause) -> str:
    numbers = cause.numbers
    match cause.code:
        case "leakage":
            times = max(numbers.values())
            return (
                f"A capacitor that leaks: the pop after a rest is {times:.1f} times the usual one."
                " A resistor of 1 MΩ across that jack drains it."
            )
        case "lamp":
            return "The lamp's current step on the audio ground: only switching on pops."
        case "effect_gain":
            return "Or the effect's own gain: turn its volume down and press again."
        case "electrolytic":
            return (
                f"A leaky or reversed electrolytic: the step takes {numbers['tail_s']:.1f} s to go."
            )
        case "relay_mute":
            return f"A relay with a mute: silent for {numbers['gap_s'] * 1e3:.0f} ms."


def _known(figures: PressFigures, fed: str) -> str:
    words = [f"{fed}; on and off {_KNOWN_BY[figures.known_by]}."]
    if figures.unit == "FS":
        words.append("Volts are not known: full scale of the input is not set, so dBFS.")
    if figures.corner_hz is None:
        words.append("No DC step without the input's high-pass (--corner, Hz).")
    return " ".join(words)
