"""A path that moves by itself: what the gates then take for a disturbance is the pedal's own."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.plan.runs import RunLabel
from loopback.quality.finding import Finding
from loopback.response.movement import Movement, find_movement
from loopback.response.reading import TakeReading
from loopback.signal.take import Signal

_EXPLAINED = ("gain_drift", "gain_change", "disturbed", "unsteady")


def explain_movement(
    findings: Sequence[Finding], takes: Sequence[TakeReading], signal: Signal, label: RunLabel
) -> tuple[Finding, ...]:
    """Replace what a tremolo, a gate or a charging supply looks like by what it is.

    Parameters
    ----------
    findings : sequence of Finding
        Of one run.
    takes : sequence of TakeReading
        All of its takes that were read.
    signal : Signal
        What was played.
    label : RunLabel
        Of the run; a cable does not move by itself.

    Returns
    -------
    tuple of Finding
        The same, where nothing is explained; else with code ``moves`` (look) in place of those
        that are.
    """
    if label.path != "pedal" or not any(f.code in _EXPLAINED for f in findings):
        return tuple(findings)
    movement = find_movement(takes, signal)
    if movement is None or not movement.own:
        return tuple(findings)
    others = [finding for finding in findings if finding.code not in _EXPLAINED]
    return (*others, _moves(movement, takes[0].run_id))


def _moves(movement: Movement, run_id: str) -> Finding:
    if movement.rate_hz is not None and movement.depth_db is not None:
        number = (
            f"level up and down by {movement.depth_db.value:.2f} dB, "
            f"{movement.rate_hz.value:.2f} times a second"
        )
        meaning = "An effect that moves is on; its numbers are means over that."
    elif movement.kind == "gated":
        number = f"soft tone {min(movement.gate_db, 99.0):.0f} dB lower than it should be"
        meaning = "A gate shuts while little is played."
    else:
        number = f"loud tones moved by {movement.tones_db:.2f} dB, soft ones did not"
        meaning = "The signal charges something in the pedal, such as a supply that is off."
    return Finding("moves", "look", number, meaning, "", run_id)
