"""Leads and sockets: what the runs say about each other's hook-up."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.examination.records import Run
from loopback.quality import limits
from loopback.quality.effect import harmonic_level_db
from loopback.quality.finding import Finding
from loopback.quality.seen import (
    RunSeen,
    difference_db,
    fall_db,
    passes,
    references_of,
    same_hookup,
)
from loopback.response.reading import RunResponse

_BAND_HZ = (200.0, 15_000.0)


def judge_references_present(runs: Sequence[Run], seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Look for pedal runs without a reference of the same feed and load.

    Parameters
    ----------
    runs : sequence of Run
        All counting runs.
    seen : sequence of RunSeen
        Those that can be used.

    Returns
    -------
    tuple of Finding
        Code ``reference_missing``, one for each feed.
    """
    coupler = [item.run for item in seen if item.run.label.path == "coupler"]
    lacking: dict[str, list[str]] = {}
    for run in runs:
        if run.label.path == "pedal" and not any(same_hookup(run, c) for c in coupler):
            lacking.setdefault(run.label.feed, []).append(run.id)
    return tuple(
        Finding(
            "reference_missing",
            "refuse",
            f"no usable reference with the {feed} lead",
            "Nothing can be said about a pedal without the same leads joined by the coupler.",
            f"Join the {feed} lead and the return lead with the coupler and record that.",
            " ".join(ids),
        )
        for feed, ids in lacking.items()
    )


def input_resistance_ohm(resistor: RunResponse, plain: RunResponse, resistor_ohm: float) -> float:
    """Resistance of the input, from the two references at low frequencies.

    Parameters
    ----------
    resistor, plain : RunResponse
        References with the same load.
    resistor_ohm : float
        Of the resistor lead.

    Returns
    -------
    float
        Ohm; ``inf`` when the resistor makes no loss.
    """
    ratio = 10 ** (float(np.mean(difference_db(resistor, plain, 100.0, 400.0))) / 20)
    return math.inf if ratio >= 1 else resistor_ohm * ratio / (1 - ratio)


def judge_feeds(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Compare plain and resistor references: forgotten, left in, or a line input.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Codes ``resistor_forgotten``, ``resistor_left_in``, ``line_input``.
    """
    coupler = [s for s in seen if s.run.label.path == "coupler"]
    plain = [s for s in coupler if s.run.label.feed == "plain"]
    resistor = [s for s in coupler if s.run.label.feed == "resistor"]
    found = [
        _forgotten(item.run.id, "through the coupler it is flat up to 15 kHz")
        for item in resistor
        if fall_db(item.response) > -limits.RESISTOR_TREBLE_DB and not _line(item, plain)
    ]
    forgotten = {f.where for f in found}
    for item in plain:
        twin = next(
            (
                r
                for r in resistor
                if r.run.id not in forgotten
                and _same(item.response, r.response, limits.SAME_FEED_DB)
            ),
            None,
        )
        if twin is not None:
            found.append(_left_in(item.run.id, f"the same as run {twin.run.id}"))
        elif fall_db(item.response) < -limits.PLAIN_TREBLE_DB:
            fall = f"through the coupler it falls by {-fall_db(item.response):.0f} dB to 15 kHz"
            found.append(_left_in(item.run.id, fall))
    spoilt = {f.where for f in found}
    for item in resistor:
        partner = next((p for p in plain if p.run.id not in spoilt and _loads_alike(p, item)), None)
        if item.run.id in spoilt or partner is None or item.run.label.load != "instrument":
            continue
        ohm = item.run.label.resistor_ohm or 100e3
        load = input_resistance_ohm(item.response, partner.response, ohm)
        if load < limits.LINE_LOAD_OHM[0]:
            grade = "refuse" if load < limits.LINE_LOAD_OHM[1] else "look"
            found.append(
                Finding(
                    "line_input",
                    "refuse" if grade == "refuse" else "look",
                    f"the input has {load / 1000:.0f} kΩ",
                    "A line input loads the line more than any pedal does.",
                    "Press INST (Hi-Z) on the input, then all runs again.",
                    item.run.id,
                )
            )
    return tuple(found)


def judge_pedal_feeds(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Look for pedal runs made with the other lead than their label says.

    Parameters
    ----------
    seen : sequence of RunSeen
        Runs whose references are not in doubt, in the order made.

    Returns
    -------
    tuple of Finding
        Codes ``resistor_forgotten``, ``resistor_left_in``.
    """
    found: dict[str, Finding] = {}
    for item in seen:
        label = item.run.label
        if label.path != "pedal" or not passes(item, references_of(item, seen)):
            continue
        for other in seen:
            one = other.run.label
            if one.feed == label.feed or (one.load, one.load_ohm) != (label.load, label.load_ohm):
                continue
            if one.path == "pedal" and (one.power, one.position) != (label.power, label.position):
                continue
            if not _same(item.response, other.response, limits.SAME_FEED_PEDAL_DB):
                continue
            # Two labels, one lead: a fall in the treble says that it was the resistor lead.
            wrong = "plain" if fall_db(item.response) < -limits.RESISTOR_TREBLE_DB else "resistor"
            if label.feed != wrong:
                continue
            make = _left_in if wrong == "plain" else _forgotten
            found.setdefault(item.run.id, make(item.run.id, f"the same as run {other.run.id}"))
    return tuple(found.values())


def judge_exchanged(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Look for a pedal that adds less than nothing: reference and pedal exchanged.

    Through the resistor a passive pedal can only take level away. A buffer lifts the treble by
    about 12 dB; a lift of a few tenths in every run, and without power, is a mix-up. A single run
    that is lifted at low frequencies as well had its gain moved.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Codes ``exchanged``, ``gain_moved``.
    """
    lifted: dict[str, tuple[RunSeen, float, float]] = {}
    others = 0
    for item in seen:
        label, references = item.run.label, references_of(item, seen)
        if label.path != "pedal" or label.feed != "resistor" or not passes(item, references):
            continue
        if not references:
            continue
        if harmonic_level_db(item) - harmonic_level_db(references[0]) > limits.SILICON_DB:
            continue  # a powered stage may lift
        levels = [difference_db(item.response, r.response, *_BAND_HZ) for r in references]
        lift = np.min(levels, axis=0)
        most, least = float(np.max(lift)), float(np.min(lift))
        shaped = most - least > limits.PASSIVE_LIFT_DB
        if limits.PASSIVE_LIFT_DB < most < limits.BUFFER_LIFT_DB and least > -0.02 and shaped:
            lifted[item.run.id] = (item, most, float(lift[0]))
        else:
            others += 1
    moved = [key for key, (_, _, low) in lifted.items() if low > limits.PASSIVE_LIFT_DB and others]
    found = [
        Finding(
            "gain_moved",
            "refuse",
            f"{lifted[key][1]:+.2f} dB over its reference through the resistor",
            "No other run is lifted: a gain or output knob was turned for this one.",
            "Leave all knobs alone and repeat this run.",
            key,
        )
        for key in moved
    ]
    left = {key: value for key, value in lifted.items() if key not in moved}
    if not left:
        return tuple(found)
    unpowered = any(item.run.label.power == "off" for item, _, _ in left.values())
    most = max(value[1] for value in left.values())
    against = [r.run.id for r in references_of(next(iter(left.values()))[0], seen)]
    found.append(
        Finding(
            "exchanged",
            "refuse" if unpowered else "look",
            f"{most:+.2f} dB over the reference through the resistor",
            "Nothing passive does that: reference and pedal appear to be exchanged."
            if unpowered
            else "Reference and pedal appear to be exchanged, or a buffer's input looks nearly"
            " like the lead.",
            "Check which recording is which, and repeat one of them.",
            " ".join([*left, *against]) if unpowered else " ".join(left),
        )
    )
    return tuple(found)


def _line(item: RunSeen, plain: Sequence[RunSeen]) -> bool:
    """Tell a line input, which flattens the treble too, by its loss at low frequencies."""
    return any(
        p.response is not None
        and float(np.mean(difference_db(item.response, p.response, 100.0, 400.0))) < -3.0
        for p in plain
    )


def _same(a: RunResponse, b: RunResponse, within_db: float) -> bool:
    return bool(np.max(np.abs(difference_db(a, b, *_BAND_HZ))) < within_db)


def _loads_alike(a: RunSeen, b: RunSeen) -> bool:
    one, other = a.run.label, b.run.label
    return (one.load, one.load_ohm) == (other.load, other.load_ohm)


def _forgotten(where: str, number: str) -> Finding:
    return Finding(
        "resistor_forgotten",
        "refuse",
        number,
        "The plain lead still seems to be plugged in, not the resistor lead.",
        "Plug in the resistor lead and repeat this run.",
        where,
    )


def _left_in(where: str, number: str) -> Finding:
    return Finding(
        "resistor_left_in",
        "refuse",
        number,
        "The resistor lead still seems to be plugged in.",
        "Plug in the plain lead and repeat this run.",
        where,
    )
