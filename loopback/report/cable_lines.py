"""What the runs in bypass show against the cable, in a few lines."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.facts import Analysis, RunFacts
from loopback.quantity import Estimate, round_together, with_prefix
from loopback.report.run_names import feed_name, is_bypass


def decibels(estimate: Estimate) -> str:
    """Write a difference of levels, or that there is none.

    Parameters
    ----------
    estimate : Estimate
        In dB.

    Returns
    -------
    str
        ``"-0.74 dB ± 0.03"``; where the 95 % interval holds zero, ``"none within 0.03 dB"``.
    """
    half = estimate.half_width()
    value, doubt = round_together(estimate.value, half)
    if abs(estimate.value) <= half:
        size = round_together(abs(estimate.value) + half, half)[0]
        return f"none within {size} dB"
    return f"{signed(value)} dB ± {doubt}"


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


def cable_lines(analysis: Analysis) -> list[str]:
    """Write level, treble, noise and polarity of the runs in bypass.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    list of str
        One line for each feed and one for the rest; empty where nothing can be said.
    """
    runs = told_runs(analysis)
    resistor_ohm = analysis.examination.setup.resistor_ohm
    lines = [f"{_feed(facts, resistor_ohm)}  {_response(facts)}" for facts in runs]
    rest = _rest(runs)
    return [*lines, rest] if rest else lines


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
            else f"at {with_prefix(corner.f_hz, 'Hz')}"
        )
    return ", ".join(said)


def _feed(facts: RunFacts, resistor_ohm: float | None) -> str:
    name = feed_name(facts.run.label, resistor_ohm)
    shown = "plain lead" if name == "plain" else f"through {name}"
    return f"{shown:<15}"


def _response(facts: RunFacts) -> str:
    parts = []
    if facts.level is not None:
        parts.append(f"level {decibels(facts.level)}")
    if facts.treble:
        f_hz, treble = facts.treble[-1]
        parts.append(f"at {with_prefix(f_hz, 'Hz', 2)} against 1 kHz {decibels(treble)}")
    return "; ".join(parts)


def _rest(runs: Sequence[RunFacts]) -> str:
    parts = []
    # Feeds differ in their own noise; the plain one hides the pedal's least.
    noisy = next((facts for facts in runs if facts.noise_over_reference is not None), None)
    if noisy is not None and noisy.noise_over_reference is not None:
        parts.append(f"noise over the cable {decibels(noisy.noise_over_reference)} (A-weighted)")
    polarities = {facts.polarity for facts in runs if facts.polarity is not None}
    if polarities:
        parts.append("polarity kept" if polarities == {1} else "polarity inverted")
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
        return f"none within {round_together(abs(value_us) + half_us, half_us)[0]} µs"
    return f"{value} µs ± {doubt}"
