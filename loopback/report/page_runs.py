"""Runs, the power and switch table, and recordings with their hashes, as tables."""

from __future__ import annotations

from loopback.facts import Analysis, RunFacts
from loopback.quantity import with_prefix
from loopback.report.cable_lines import decibels
from loopback.report.page_records import Table
from loopback.report.run_names import is_bypass, run_name
from loopback.texts import one_line
from loopback.verdict.passing import RunState

_POSITIONS = {"a": "as found", "b": "pressed once", "none": "no footswitch"}
_STATES: dict[RunState, str] = {
    "passes": "passes",
    "altered": "passes, altered as by an effect",
    "open": "silent",
    "short": "silent, held to ground",
}
_NOT_MADE = "not tested"
_HELD = {"sweep": "takes", "silence": "silence", "presses": "presses", "tap": "taps"}


def power_table(analysis: Analysis) -> Table:
    """Say for each state of power and switch whether it passes.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Table
        One line for each switch position in which a run was made.
    """
    found = {facts.run.label.position or "none" for facts in analysis.pedal_runs}
    bypass = analysis.result.bypass_position
    lines = tuple(
        (
            f"{_POSITIONS[position]}{' (bypass)' if position == bypass else ''}",
            _state(analysis, position, "on"),
            _state(analysis, position, "off"),
        )
        for position in ("a", "b", "none")
        if position in found
    )
    return Table(
        "What passes; level against the cable from 200 Hz to 2 kHz",
        ("Footswitch", "With power", "Without power"),
        lines,
    )


def runs_table(analysis: Analysis) -> Table:
    """List every run with what it shows first.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Table
        References first.
    """
    return Table(
        "* marks those in bypass; cable: a reference",
        ("Run", "Takes", "Level", "Treble over 1 kHz", "Noise over the cable"),
        tuple(_run(analysis, facts) for facts in (*analysis.references, *analysis.pedal_runs)),
    )


def recordings_table(analysis: Analysis, *, private: bool) -> Table:
    """List every recording with its hash.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    private : bool
        Whether the names under which files were imported are shown.

    Returns
    -------
    Table
        Those of replaced runs as well.
    """
    document = analysis.examination
    replaced = {run.repeats for run in document.runs if run.repeats}
    lines = []
    for run in document.runs:
        for recording in run.recordings:
            held = _HELD[recording.kind] + ("; replaced" if run.id in replaced else "")
            origin = one_line(recording.origin) if private else ""
            name = recording.file + (f" (was {origin})" if origin else "")
            lines.append((name, held, recording.made, recording.sha256))
    return Table(
        "Every file, with the SHA-256 of its bytes",
        ("File", "Holds", "Recorded", "SHA-256"),
        tuple(lines),
    )


def _state(analysis: Analysis, position: str, power: str) -> str:
    mine = [
        facts
        for facts in analysis.pedal_runs
        if (facts.run.label.position or "none") == position
        and (facts.run.label.power or "on") == power
        and facts.run.label.direction == "forward"
        and facts.run.label.load == "instrument"
        and facts.state is not None
    ]
    if not mine:
        return _NOT_MADE
    # The plain lead counts where there is one: through the resistor a load takes the level down.
    chosen = next((f for f in reversed(mine) if f.run.label.feed == "plain"), mine[-1])
    state = _STATES[chosen.state] if chosen.state is not None else _NOT_MADE
    feed = "plain lead" if chosen.run.label.feed == "plain" else "through the resistor"
    level = "" if chosen.level is None else f", {decibels(chosen.level)}"
    return f"{state}{level} (run {chosen.run.id}, {feed})"


def _run(analysis: Analysis, facts: RunFacts) -> tuple[str, ...]:
    name = run_name(facts.run, bypass_position=analysis.result.bypass_position)
    takes = "none usable" if facts.response is None else str(facts.response.takes)
    level = "" if facts.level is None else decibels(facts.level)
    treble = ""
    if facts.treble and is_bypass(facts.run.label, analysis.result.bypass_position):
        f_hz, estimate = facts.treble[-1]
        treble = f"{decibels(estimate)} at {with_prefix(f_hz, 'Hz', 2)}"
    over = facts.noise_over_reference
    return name, takes, level, treble, "" if over is None else decibels(over)
