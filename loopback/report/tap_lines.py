"""What tapping shows: one line per event, and what they come to."""

from __future__ import annotations

import math

from loopback.quantity import Estimate, round_together, with_prefix
from loopback.report.cable_lines import rounded_up
from loopback.report.layout import Row, lay_out, two_ends
from loopback.switching.result import TapEvent, TapFigures

_MOST = 8
_FINEST = 0.03
"""Of decibels and degrees: a hand moves no joint twice alike."""


def tap_event_line(event: TapEvent) -> str:
    """Write one event.

    Parameters
    ----------
    event : TapEvent
        It.

    Returns
    -------
    str
        Moment, length, size; signs as they are.
    """
    moment = f"{event.at_s:6.2f} s  {_length(event.lasts):>14}"
    at = "" if event.f_hz is None else f" at {with_prefix(event.f_hz, 'Hz', 2)}"
    if event.drops_out:
        return f"{moment}  drops out, {event.level_db.value:.0f} dB{at}"
    return f"{moment}  {_with_doubt(event.level_db)}, {_with_doubt(event.phase_deg)}{at}"


def tap_screen(figures: TapFigures, pedal: str, follow: str, *, signs: bool) -> str:
    """Write the result of watching.

    Parameters
    ----------
    figures : TapFigures
        It.
    pedal : str
        Name of the pedal.
    follow : str
        Commands that make sense next.
    signs : bool
        False writes signs out.

    Returns
    -------
    str
        20 lines or fewer; the largest events where there are many.
    """
    watched = f"{figures.watched_s:.0f} s watched"
    head = two_ends(f"{pedal.upper()[:50]}, tapped and bent", watched, signs=signs)
    return f"{head}\n{lay_out([*tap_rows(figures), Row('Next', follow)], signs=signs)}"


def tap_rows(figures: TapFigures) -> list[Row]:
    """Say what tapping shows, what that is consistent with, and what is resolved.

    Parameters
    ----------
    figures : TapFigures
        It.

    Returns
    -------
    list of Row
        The largest events where there are many; texts may be empty.
    """
    biggest = sorted(figures.events, key=lambda e: -abs(e.level_db.value))[:_MOST]
    lines = [tap_event_line(event) for event in sorted(biggest, key=lambda e: e.at_s)]
    if len(figures.events) > _MOST:
        lines.append(f"and {len(figures.events) - _MOST} smaller ones")
    return [
        Row("Result", _result(figures)),
        Row("Events", "\n".join(lines)),
        Row("Cause", _consistent(figures)),
        Row(
            "Resolved",
            f"at rest the tone moves less than {rounded_up(figures.level_99_db)} dB and"
            f" {rounded_up(figures.phase_99_deg)}° in 99 moments of 100"
            f"{_intervals(figures)}",
        ),
    ]


def _result(figures: TapFigures) -> str:
    drops = sum(event.drops_out for event in figures.events)
    parts = []
    if drops:
        parts.append(f"drops out {_times(drops)}")
    if more := len(figures.events) - drops:
        parts.append(f"changes {_times(more)} without dropping out")
    if figures.crackles:
        parts.append(f"crackles {_times(figures.crackles)} without a change of the tone")
    if not parts:
        return "Steady: nothing moved while it was watched."
    return f"The line {', '.join(parts)}."


def _consistent(figures: TapFigures) -> str:
    drops = [event for event in figures.events if event.drops_out]
    changes = [event for event in figures.events if not event.drops_out]
    words = []
    if drops:
        words.append(
            "Drop-outs are consistent with a broken or unsoldered joint, a broken core of the"
            " lead, a jack contact that lifts."
        )
    if changes:
        words.append(
            "Changes are consistent with a cold joint or an oxidised contact, some resistance in"
            " line for a moment; also with a hand near the lead."
        )
    if figures.crackles:
        words.append("Crackle is consistent with a dirty jack or potentiometer.")
    if words:
        words.append("Tap one joint at a time to find which.")
    return " ".join(words)


def _intervals(figures: TapFigures) -> str:
    """Say what ± covers, and how well a moment is known."""
    if not figures.events:
        return ""
    doubt = figures.events[0].at.half_width() * 1e3
    return f"; ± covers 95 %, moments are known to ± {max(1, math.ceil(doubt))} ms"


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _length(lasts: Estimate) -> str:
    scale, unit, finest = (1e3, "ms", 1.0) if lasts.value < 0.9995 else (1.0, "s", 0.01)
    value, doubt = round_together(scale * lasts.value, scale * lasts.half_width(), finest)
    return f"{value} {unit} ± {doubt}"


def _with_doubt(estimate: Estimate) -> str:
    value, doubt = round_together(estimate.value, max(estimate.half_width(), _FINEST))
    unit = "°" if estimate.unit == "deg" else f" {estimate.unit}"
    sign = "+" if estimate.value > 0 else ""
    return f"{sign}{value}{unit} ± {doubt}"
