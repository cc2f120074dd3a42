"""Whether takes repeat, and whether level and setup stayed the same between references."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from loopback.quality import limits
from loopback.quality.effect import shows_effect
from loopback.quality.finding import Finding, Grade
from loopback.quality.seen import (
    PASSES_DB,
    RunSeen,
    difference_db,
    passes,
    references_of,
    same_hookup,
)
from loopback.response.reading import RunResponse, TakeReading


def judge_contact(readings: Sequence[TakeReading]) -> tuple[Finding, ...]:
    """Look for takes of one run that are so far apart that they must not be averaged.

    Parameters
    ----------
    readings : sequence of TakeReading
        Usable takes of one run.

    Returns
    -------
    tuple of Finding
        Code ``intermittent``; it refuses the whole run, since no take can be preferred.
    """
    levels = []
    for reading in readings:
        use = (reading.f_hz >= 200.0) & (reading.f_hz <= 2000.0)
        size = np.abs(reading.up[use] + reading.down[use]) / 2
        levels.append(20 * float(np.mean(np.log10(np.maximum(size, 1e-12)))))
    # Of a path that passes nothing there are only noise and crosstalk, and they need not repeat.
    if not levels or max(levels) - min(levels) < limits.CONTACT_DB or max(levels) < PASSES_DB - 20:
        return ()
    return (
        Finding(
            "intermittent",
            "refuse",
            f"one take lies {max(levels) - min(levels):.0f} dB below another",
            "A contact comes and goes, or a plug or a knob was moved between the takes.",
            "Check that all plugs are home, and repeat the run.",
            readings[0].run_id,
        ),
    )


def judge_repeats(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Judge how far the takes of one run differ.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Code ``unsteady``.
    """
    found: list[Finding] = []
    for item in seen:
        response = item.response
        if response.takes < 2:
            continue
        references = references_of(item, seen)
        if not passes(item, references):
            continue  # of a path that is dead only noise repeats, or does not
        if item.run.label.path == "pedal" and references and shows_effect(item, references):
            continue  # an effect may move
        grade = limits.REPEAT_DB.grade(response.repeat_db)
        if grade == "good":
            continue
        reference = item.run.label.path == "coupler"
        found.append(
            Finding(
                "unsteady",
                grade,
                f"takes differ by {response.repeat_db:.3f} dB",
                "A contact, a lead or a knob moved between the takes."
                if reference
                else "What passes changes with time: a moving effect, or a bad contact.",
                "Check the plugs, tape the leads down, and repeat the run.",
                item.run.id,
            )
        )
    return tuple(found)


def capacitance_change_f(
    earlier: RunResponse, later: RunResponse, plain: RunResponse, resistor_ohm: float
) -> float:
    """Change of the setup's capacitance between two references through the resistor.

    ``Y = (1/T − 1)/Zth`` with T their ratio and ``Zth = Rs · H_resistor / H_plain``; C is read
    from the level at 5 to 15 kHz, where a change of gain of 0.01 dB weighs 0.5 pF.

    Parameters
    ----------
    earlier, later : RunResponse
        Resistor references.
    plain : RunResponse
        A plain reference with the same load.
    resistor_ohm : float
        Of the resistor lead.

    Returns
    -------
    float
        Farad.
    """
    level = difference_db(later, earlier, 5000.0, 15_000.0)
    level = level - float(np.mean(difference_db(later, earlier, 200.0, 1000.0)))
    use = (earlier.f_hz >= 5000.0) & (earlier.f_hz <= 15_000.0)
    size = np.abs(earlier.h[use]) / np.abs(plain.h[use])
    # Through Rs into R and C in parallel, |T| − 1 = −ΔC/C · |Zth|²/|Zc|² as long as it is small.
    low = 10 ** (float(np.mean(difference_db(earlier, plain, 200.0, 400.0))) / 20)
    lag = np.clip(1 - np.square(size / low), 0.0, 1.0)
    omega = 2 * np.pi * earlier.f_hz[use]
    corner = np.sqrt(lag / np.maximum(1 - lag, 1e-9)) / omega
    setup_f = float(np.median(corner)) / (resistor_ohm * low)
    weight = np.maximum(lag, 0.05)
    return -setup_f * float(np.sum(level * weight) / np.sum(weight**2)) / (20 / math.log(10))


def judge_references(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Compare each reference with the one before it.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Codes ``gain_moved`` (it names the pedal runs in between) and ``setup_moved``.
    """
    found: list[Finding] = []
    coupler = [s for s in seen if s.run.label.path == "coupler"]
    order = {item.run.id: i for i, item in enumerate(seen)}
    for hookup in _groups(coupler):
        for earlier, later in itertools.pairwise(hookup):
            level = difference_db(later.response, earlier.response, 200.0, 15_000.0)
            middle = difference_db(later.response, earlier.response, 200.0, 2000.0)
            change, shape = float(np.mean(middle)), float(np.ptp(level))
            between = [
                s.run.id
                for s in seen[order[earlier.run.id] : order[later.run.id]]
                if s.run.label.path == "pedal" and same_hookup(s.run, later.run)
            ]
            span = f"from run {earlier.run.id} to {later.run.id}"
            grade = limits.REFERENCE_DRIFT_DB.grade(change)
            if grade != "good" and shape < 0.3 * abs(change):
                found.append(_gain_moved(grade, change, span, between, later.run.id))
                continue
            if grade == "refuse":
                found.append(
                    _setup_moved(
                        "refuse",
                        f"level {change:+.2f} dB at 200 Hz to 2 kHz {span},"
                        " and another change in the treble",
                        between,
                        later.run.id,
                    )
                )
                continue
            plain = _plain_for(later, coupler)
            if later.run.label.feed != "resistor" or plain is None:
                continue
            ohm = later.run.label.resistor_ohm or 100e3
            moved = capacitance_change_f(earlier.response, later.response, plain, ohm)
            grade = limits.SETUP_CAPACITANCE_F.grade(moved)
            if grade != "good":
                number = f"setup capacitance {moved * 1e12:+.1f} pF {span}"
                found.append(_setup_moved(grade, number, between, later.run.id))
    return tuple(found)


def _gain_moved(
    grade: Grade, change: float, span: str, between: Sequence[str], later: str
) -> Finding:
    refuse = grade == "refuse"
    return Finding(
        "gain_moved",
        grade,
        f"level {change:+.3f} dB {span}",
        "A knob was turned between these runs."
        if refuse
        else "The interface is still warming up, or a knob was touched.",
        "Leave all knobs alone and repeat the runs in between."
        if refuse
        else "Give it half an hour before the next examination.",
        " ".join(between) if refuse else later,
    )


def _setup_moved(grade: Grade, number: str, between: Sequence[str], later: str) -> Finding:
    return Finding(
        "setup_moved",
        grade,
        number,
        "A lead was moved or exchanged between these runs, or one of them was not the coupler.",
        "Tape both leads to the table, and repeat the run with the coupler.",
        " ".join(between) if grade == "refuse" else later,
    )


def _groups(coupler: Sequence[RunSeen]) -> list[list[RunSeen]]:
    groups: list[list[RunSeen]] = []
    for item in coupler:
        for group in groups:
            if same_hookup(group[0].run, item.run):
                group.append(item)
                break
        else:
            groups.append([item])
    return groups


def _plain_for(item: RunSeen, coupler: Sequence[RunSeen]) -> RunResponse | None:
    label = item.run.label
    for other in coupler:
        one = other.run.label
        if one.feed == "plain" and (one.load, one.load_ohm) == (label.load, label.load_ohm):
            return other.response
    return None
