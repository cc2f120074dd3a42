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
    "level": "on and off by the level of the tone",
    "lamp": "on and off by the lamp, as you said",
    "distortion": "on and off by the distortion of the tone",
    "order": 'nothing tells on from off: the first press is called "on"',
}
MOST_LINES = 20
_EXPLAIN = ("Decay to a tenth", "5-95 % energy", "Opens again", "50 ms burst")
"""What is left out first where there is not enough room; the JSON facts have it all."""
_STEPS = ((1.0, ""), (1e-3, "m"), (1e-6, "µ"))
_LEAST_DB = 0.1
_LEAST_SHARE = 0.003
"""Smaller doubts are not written: nobody needs a fourth digit of a pop."""


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
        At most `MOST_LINES` lines: figures that explain give way to those that answer.
    """
    heard = f"{len(figures.presses)} of {figures.asked} presses heard"
    right = f"{date_text(made)}, {heard}"
    head = two_ends(f"{pedal.upper()[: 78 - len(right) - 12]}, footswitch", right, signs=signs)
    for left_out in range(len(_EXPLAIN) + 1):
        rows = [
            Row("Pops", pop_sentences(figures)),
            Row("Median, worst", columns(press_table(figures, _EXPLAIN[:left_out]), signs=signs)),
            *other_rows(figures, fed),
            Row("Next", follow),
        ]
        screen = f"{head}\n{lay_out(rows, signs=signs)}"
        if screen.count("\n") < MOST_LINES:
            break
    return screen


def pop_sentences(figures: PressFigures) -> str:
    """Say for either direction whether it pops.

    Parameters
    ----------
    figures : PressFigures
        Of the run.

    Returns
    -------
    str
        Two sentences.
    """
    return " ".join(_pop_sentence(figures, which) for which in ("lit", "dark"))


def other_rows(figures: PressFigures, fed: str) -> list[Row]:
    """Say what a rest changes, what the figures are consistent with, and where they come from.

    Parameters
    ----------
    figures : PressFigures
        Of the run.
    fed : str
        What feeds the pedal, in words.

    Returns
    -------
    list of Row
        Texts may be empty.
    """
    return [
        Row("After a rest", _rested(figures)),
        Row("Cause", " ".join(_cause(cause) for cause in figures.causes)),
        Row("Known from", _known(figures, fed)),
    ]


def _pop_sentence(figures: PressFigures, which: Direction) -> str:
    one, name = figures.direction(which), _NAMES[which]
    if not one.pops or one.peak is None:
        rested = ", but for the one after a rest" if one.pops else ""
        limit = _amplitude_text(Estimate(one.silence_peak_99, 0.0, figures.unit), bare=True)
        return f"{name}: no pop above the noise{rested} (under {limit})."
    text = f"{name}: {one.pops} of {one.presses} pop"
    if figures.unit == "V" and one.peak.median.value > 0:
        level = _level(one.peak.median)
        against, half = level.value - 20 * math.log10(GUITAR_V), level.half_width()
        size, doubt = round_together(abs(against), half, 1.0)
        side = "above" if against > 0 else "below"
        text += f", {size} dB ± {doubt} {side} a guitar of 100 mV"
    return text + "."


def press_table(
    figures: PressFigures, left_out: tuple[str, ...] = ()
) -> list[tuple[str, str, str]]:
    """Write median and worst of either direction, one line for each figure under a head.

    Parameters
    ----------
    figures : PressFigures
        Of the run.
    left_out : tuple of str
        Figures that are not wanted.

    Returns
    -------
    list of tuple of str
        Empty where there is nothing to write.
    """
    lit, dark = figures.lit, figures.dark
    rows = (
        ("Peak", lit.peak, dark.peak),
        ("A-weighted", _in_db(lit.a_weighted_peak), _in_db(dark.a_weighted_peak)),
        ("50 ms burst", lit.burst_level, dark.burst_level),
        ("5-95 % energy", lit.energy_s, dark.energy_s),
        ("Decay to a tenth", lit.decay_s, dark.decay_s),
        ("DC step", lit.dc_step, dark.dc_step),
        ("Gap", lit.gap_s, dark.gap_s),
        ("Overlap", lit.overlap_s, dark.overlap_s),
    )
    table = [
        (name, "-" if one is None else _pair(one), "-" if other is None else _pair(other))
        for name, one, other in rows
        if (one is not None or other is not None) and name not in left_out
    ]
    if lit.bounces or dark.bounces:
        table.append(("Opens again", _often(lit.bounces), _often(dark.bounces)))
    return [("", "effect on", "effect off"), *table] if table else []


def _pair(figure: Figure) -> str:
    """Write median with its doubt, and worst, in one unit."""
    median, worst = figure.median, figure.worst
    if median.unit == "FS":
        median, worst = _level(median), _level(worst)
    if median.unit.startswith("dB"):
        most = max(_LEAST_DB, median.half_width())
        return f"{median.value:.1f} ± {most:.1f}, {worst.value:.1f} {median.unit}"
    half = max(median.half_width(), _LEAST_SHARE * abs(worst.value))
    if median.unit == "s" and half > 0.5 * abs(median.value):
        return "not resolved"
    size = max(abs(median.value), abs(worst.value), half)
    scale, prefix = next(((s, p) for s, p in _STEPS if size >= s), (1e-6, "µ"))
    value, doubt = round_together(median.value / scale, half / scale)
    places = len(value.partition(".")[2])
    return f"{value} ± {doubt}, {worst.value / scale:.{places}f} {prefix}{median.unit}"


def _often(bounces: int | None) -> str:
    if bounces is None:
        return "-"
    return ("never", "once")[bounces] if bounces < 2 else f"up to {bounces} times"


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
        parts.append(f"{_NAMES[which].lower()} {size} ({press.rest_s:.0f} s)")
    return "; ".join(parts)


def _cause(cause: Cause) -> str:
    numbers = cause.numbers
    match cause.code:
        case "leakage":
            times = max(numbers.values())
            return (
                f"Consistent with a capacitor that leaks: after a rest the pop is {times:.1f}"
                " times the usual one. 1 MΩ across that jack would drain it."
            )
        case "lamp":
            return (
                "Consistent with the lamp's current step on the audio ground: only switching on"
                " pops."
            )
        case "effect_gain":
            return "Or with the effect's own gain: turn its volume down, press again."
        case "electrolytic":
            return (
                "Consistent with a leaky or reversed electrolytic: the step goes with"
                f" {numbers['tail_s']:.2f} s ± {1.96 * numbers['u_s']:.2f}."
            )
        case "relay_mute":
            return f"Consistent with a relay's mute: silent for {numbers['gap_s'] * 1e3:.0f} ms."


def _known(figures: PressFigures, fed: str) -> str:
    words = [f"{fed}; {_KNOWN_BY[figures.known_by]}. ± covers 95 %; the worst is one press."]
    if figures.unit == "FS":
        words.append("Volts are not known: full scale of the input is not set, so dBFS.")
    if figures.corner_hz is None:
        words.append("No DC step without the input's high-pass (--corner, Hz).")
    return " ".join(words)
