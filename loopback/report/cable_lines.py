"""What the runs in bypass show against the cable, in a few lines."""

from __future__ import annotations

import math
from collections.abc import Sequence

from loopback.facts import Analysis, RunFacts
from loopback.quantity import Estimate, estimate_text, round_together, with_prefix
from loopback.report.layout import columns
from loopback.report.run_names import feed_name, is_bypass

_FINEST = 0.001
"""Nothing is printed finer than a thousandth of a decibel, or of a microsecond."""


def decibels(estimate: Estimate) -> str:
    """Write a difference of levels, or that there is none; never finer than a thousandth.

    Parameters
    ----------
    estimate : Estimate
        In dB.

    Returns
    -------
    str
        ``"-0.74 dB ± 0.03"``; where the 95 % interval holds zero, ``"same within 0.03 dB"``.
    """
    half = estimate.half_width()
    if abs(estimate.value) <= max(half, 0.5 * _FINEST):
        return f"same within {rounded_up(abs(estimate.value) + half)} dB"
    if half < 10 * _FINEST:
        return f"{estimate.value:+.3f} dB ± {rounded_up(half)}"
    value, doubt = round_together(estimate.value, half)
    return f"{signed(value)} dB ± {doubt}"


def rounded_up(value: float) -> str:
    """Write a bound with two digits, never smaller than it is nor finer than a thousandth.

    Parameters
    ----------
    value : float
        Zero or more.

    Returns
    -------
    str
        A plain decimal.
    """
    places = min(3, 1 - math.floor(math.log10(max(value, _FINEST))))
    step = 10.0**-places
    return f"{max(1, math.ceil(value / step - 1e-9)) * step:.{max(0, places)}f}"


def signed(number: str) -> str:
    """Put a plus before a number that has no minus.

    Parameters
    ----------
    number : str
        As written.

    Returns
    -------
    str
        With its sign.
    """
    return number if number.startswith(("-", "−")) else f"+{number}"


def told_runs(analysis: Analysis) -> tuple[RunFacts, ...]:
    """Choose the runs that speak for bypass: for each feed the last powered one there is.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    tuple of RunFacts
        Plain feed first; empty where the data do not say which position is bypass.
    """
    position = analysis.result.bypass_position
    chosen: list[RunFacts] = []
    for feed in ("plain", "resistor"):
        mine = [
            facts
            for facts in analysis.pedal_runs
            if facts.ratio is not None
            and facts.run.label.feed == feed
            and facts.run.label.load == "instrument"
            and facts.run.label.direction == "forward"
            and not facts.run.label.level_db
            and is_bypass(facts.run.label, position)
        ]
        powered = [facts for facts in mine if facts.run.label.power != "off"]
        chosen += (powered or mine)[-1:]
    return tuple(chosen)


def cable_lines(analysis: Analysis, *, signs: bool) -> str:
    """Write level, treble, noise and polarity of the runs in bypass.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    signs : bool
        False writes Ω, ± and µ out.

    Returns
    -------
    str
        One line for each feed and one for the rest; empty where nothing can be said.
    """
    runs = told_runs(analysis)
    if not runs:
        return ""
    table = columns(cable_table(analysis), signs=signs)
    return "\n".join(part for part in (table, rest_line(analysis)) if part)


def cable_table(analysis: Analysis) -> list[tuple[str, str, str]]:
    """Write level and treble of the runs in bypass, one line for each feed under a head.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    list of tuple of str
        No more than the head where nothing can be said.
    """
    runs = told_runs(analysis)
    resistor_ohm = analysis.examination.setup.resistor_ohm
    treble_hz = max((facts.treble[-1][0] for facts in runs if facts.treble), default=None)
    above = "" if treble_hz is None else f"{with_prefix(treble_hz, 'Hz', 2)} over 1 kHz"
    table = [("", "level", above)]
    for facts in runs:
        feed = feed_name(facts.run.label, resistor_ohm)
        name = "plain lead" if feed == "plain" else f"through {feed}"
        level = "" if facts.level is None else decibels(facts.level)
        table.append((name, level, decibels(facts.treble[-1][1]) if facts.treble else ""))
    return table


def rest_line(analysis: Analysis) -> str:
    """Write noise, polarity and delay of the runs in bypass, as far as they are known.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    str
        One line, or empty.
    """
    return _rest(told_runs(analysis))


def corner_text(facts: RunFacts, drop_db: float) -> str:
    """Say where a run has dropped by so much, at both ends.

    Parameters
    ----------
    facts : RunFacts
        One run.
    drop_db : float
        Of those computed: 0.1, 1 or 3, by size.

    Returns
    -------
    str
        Such as ``"none down to 10 Hz, at 18.2 kHz"``; empty where it was not computed.
    """
    said: list[str] = []
    for corner in facts.corners:
        if abs(abs(corner.drop_db) - drop_db) > 1e-6:
            continue
        where = "down to" if corner.side == "low" else "up to"
        said.append(
            f"none {where} {with_prefix(corner.limit_hz, 'Hz')}"
            if corner.f_hz is None
            else _at(corner.f_hz)
        )
    return ", ".join(said)


def _at(f_hz: Estimate) -> str:
    if not math.isfinite(f_hz.u):
        return f"already at {with_prefix(f_hz.value, 'Hz')}"
    return f"at {estimate_text(f_hz, 'Hz')}"


def _rest(runs: Sequence[RunFacts]) -> str:
    parts = []
    # Feeds differ in their own noise; the plain one hides the pedal's least.
    noisy = next((facts for facts in runs if facts.noise_over_reference is not None), None)
    if noisy is not None and noisy.noise_over_reference is not None:
        parts.append(f"noise {decibels(noisy.noise_over_reference)} (A-weighted)")
    # What gets across an open path, or past a short, has no polarity of its own.
    polarities = {facts.polarity for facts in runs if facts.state not in ("open", "short")}
    if told := polarities - {None}:
        words = {1: "polarity kept", -1: "polarity inverted", 0: "polarity differs between runs"}
        parts.append(words[sum(p for p in told if p is not None)])
    delayed = next((facts for facts in runs if facts.delay is not None), None)
    if delayed is not None and delayed.delay is not None:
        parts.append(f"delay {delay_text(delayed.delay)}")
    return "; ".join(parts)


def delay_text(delay: Estimate) -> str:
    """Write a delay in microseconds, or that there is none.

    Parameters
    ----------
    delay : Estimate
        In seconds.

    Returns
    -------
    str
        Such as ``"1.2 µs ± 0.1"`` or ``"none within 0.02 µs"``.
    """
    half_us = delay.half_width() * 1e6
    value_us = delay.value * 1e6
    value, doubt = round_together(value_us, half_us)
    if abs(value_us) <= half_us:
        return f"none within {rounded_up(abs(value_us) + half_us)} µs"
    return f"{value} µs ± {doubt}"
