"""Signs that no pedal, or no analogue input, was in the path."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.arrays import F64
from loopback.examination.records import Run
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.seen import RunSeen, difference_db, references_of
from loopback.response.reading import TakeReading
from loopback.signal.take import Signal, layout_of, render_take


def judge_exact(x: F64, start: int, signal: Signal, bits: int, where: str) -> tuple[Finding, ...]:
    """Look for a recording that is the played signal itself, bit for bit or scaled.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        One channel of the recording.
    start : int
        First sample of the take, give or take two; negative when its head was cut.
    signal : Signal
        What was played.
    bits : int
        Word length of the recording.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``bit_exact``.
    """
    if start < 0 or np.any(x[start + 8 : start + layout_of(signal).segment("lead").stop - 8]):
        return ()  # an exact copy has an exact silence
    played = render_take(signal)
    energy = float(played @ played)
    nearest = np.inf
    for lag in range(-2, 3):
        take = x[max(0, start + lag) : start + lag + len(played)]
        if len(take) == len(played):
            gain = float(take @ played) / energy
            if gain != 0.0:
                nearest = min(nearest, float(np.max(np.abs(take - gain * played))))
    if nearest > limits.EXACT_INPUT_STEPS * 2.0 ** (1 - bits):
        return ()
    return (
        Finding(
            "bit_exact",
            "refuse",
            f"nowhere further than {nearest:.1e} of full scale from what was played",
            "No analogue input is that exact: a digital return of the interface, or the signal"
            " file itself, was recorded.",
            "Choose the input socket that the return lead is plugged into.",
            where,
        ),
    )


def judge_same_file(runs: Sequence[Run]) -> tuple[Finding, ...]:
    """Look for one file used for two runs.

    Parameters
    ----------
    runs : sequence of Run
        All counting runs.

    Returns
    -------
    tuple of Finding
        Code ``same_file``; it names both runs.
    """
    owners: dict[str, list[tuple[str, str]]] = {}
    for run in runs:
        for recording in run.recordings:
            name = recording.origin or recording.file
            owners.setdefault(recording.sha256, []).append((run.id, name))
    found = []
    for uses in owners.values():
        ids = list(dict.fromkeys(run_id for run_id, _ in uses))
        if len(ids) > 1:
            found.append(
                Finding(
                    "same_file",
                    "refuse",
                    f"{uses[0][1]} and {uses[-1][1]} are the same bytes",
                    f"Runs {', '.join(ids)} hold one and the same recording.",
                    "Add the right file for each run.",
                    " ".join(ids),
                )
            )
    return tuple(found)


def judge_equal(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Look for an examination in which every pedal run equals its reference.

    Only runs through the resistor count: through the plain lead many a true bypass is equal.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Code ``equals_reference``.
    """
    equal: list[str] = []
    worst = 0.0
    for item in seen:
        if item.run.label.path != "pedal" or item.run.label.feed != "resistor":
            continue
        references = references_of(item, seen)
        if not references:
            return ()
        nearest = min(
            float(np.max(np.abs(difference_db(item.response, r.response, 200.0, 15_000.0))))
            for r in references
        )
        if nearest > limits.EQUAL_DB:
            return ()
        worst = max(worst, nearest)
        equal.append(item.run.id)
    if not equal:
        return ()
    return (
        Finding(
            "equals_reference",
            "look",
            f"every run through the resistor equals the reference within {worst:.3f} dB",
            "A pedal does not do that; the coupler, the check cable or a digital return of the"
            " interface does.",
            f"Look at the hook-up and repeat run {equal[0]}.",
            " ".join(equal),
        ),
    )


def judge_polarity(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Compare the polarity of every run with its reference.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Code ``polarity``: looked at for a pedal, refused between two references.
    """
    found = []
    for item in seen:
        references = references_of(item, seen)
        if not references or polarity_between(item, references[0]) > 0:
            continue
        if item.run.label.path == "coupler":
            if item.run.id > references[0].run.id:
                found.append(
                    Finding(
                        "polarity",
                        "refuse",
                        f"upside down against run {references[0].run.id}",
                        "Two references cannot differ in polarity: a lead or a setting was"
                        " changed between them.",
                        "Use the same leads and settings for all runs.",
                        f"{references[0].run.id} {item.run.id}",
                    )
                )
            continue
        found.append(
            Finding(
                "polarity",
                "look",
                "upside down against its reference",
                "The pedal inverts the polarity, if nothing else was changed.",
                "",
                item.run.id,
            )
        )
    return tuple(found)


def judge_upside_down(reading: TakeReading, where: str) -> tuple[Finding, ...]:
    """Say when the setup itself turns the signal upside down.

    Parameters
    ----------
    reading : TakeReading
        Of a take through the coupler.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``upside_down``, good: the pedal is compared with that.
    """
    use = (reading.f_hz >= 200.0) & (reading.f_hz <= 2000.0)
    back = np.exp(2j * np.pi * reading.f_hz[use] * reading.delay_s)
    if float(np.mean(((reading.up + reading.down)[use] * back).real)) >= 0:
        return ()
    return (
        Finding(
            "upside_down",
            "good",
            "polarity reversed",
            "The setup turns the signal upside down; the pedal is compared with that.",
            "",
            where,
        ),
    )


def polarity_between(a: RunSeen, b: RunSeen) -> int:
    """Sign of one response against another at low frequencies, whatever the delay between them.

    Parameters
    ----------
    a, b : RunSeen
        On the same grid.

    Returns
    -------
    int
        +1 or -1; +1 also where nothing can be told.
    """
    f = a.response.f_hz
    use = (f >= 200.0) & (f <= 2000.0)
    ratio = a.response.h[use] / np.where(b.response.h[use] == 0, 1.0, b.response.h[use])
    phase = np.unwrap(np.angle(ratio))
    slope, constant = np.polyfit(f[use], phase, 1)
    rest = phase - slope * f[use] - constant
    if float(np.std(rest)) > 0.5:
        return 1
    return 1 if math.cos(constant) >= -0.5 else -1
