"""Noise against the sweep: mains, and too little signal."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.quality import limits
from loopback.quality.finding import Finding, Grade
from loopback.quality.seen import RunSeen
from loopback.response.reading import TakeReading


def snr_db(reading: TakeReading) -> float:
    """Signal over noise of one sweep after deconvolution, 100 Hz to 10 kHz.

    Parameters
    ----------
    reading : TakeReading
        A take.

    Returns
    -------
    float
        dB, median over frequency; nan when there was no silence to tell the noise from.
    """
    use = (reading.f_hz >= 100.0) & (reading.f_hz <= 10_000.0)
    size = np.abs(reading.up[use] + reading.down[use]) / 2
    with np.errstate(divide="ignore"):
        return float(20 * np.log10(np.median(size / np.sqrt(reading.var[use]))))


def judge_snr(reading: TakeReading, where: str) -> tuple[Finding, ...]:
    """Judge whether the sweep of a reference stands high enough over the noise.

    Not for a run with a pedal: of one that does not pass, nothing is asked.

    Parameters
    ----------
    reading : TakeReading
        A take.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Codes ``too_low``, ``no_silence``.
    """
    ratio = snr_db(reading)
    if math.isnan(ratio):
        return (
            Finding(
                "no_silence",
                "look",
                "no silence in this take",
                "The noise of the setup cannot be told.",
                "Record from half a second before the first tone.",
                where,
            ),
        )
    grade = limits.snr_grade(ratio)
    if grade == "good":
        return ()
    return (
        Finding(
            "too_low",
            grade,
            f"sweep {ratio:.0f} dB over the noise",
            "Too near to the noise: every interval gets wide."
            if grade == "look"
            else "So near to the noise nothing can be told about a pedal.",
            "Raise the input gain or the output, then all runs again.",
            where,
        ),
    )


def judge_mains(seen: Sequence[RunSeen]) -> tuple[Finding, ...]:
    """Judge the mains series of every run.

    Parameters
    ----------
    seen : sequence of RunSeen
        All counting runs, in the order made.

    Returns
    -------
    tuple of Finding
        Code ``hum``.
    """
    found: list[Finding] = []
    for item in seen:
        noise = item.noise
        if noise is None or noise.mains_hz is None:
            continue
        over = noise.mains_over_noise_db
        grade: Grade = limits.MAINS_DB.grade(over) if over > 0 else "good"
        if grade == "refuse":
            tones = [t.level_dbfs for take in item.takes for t in take.tones]
            sweep_dbfs = max(tones, default=0.0)
            if noise.unweighted_dbfs.value < sweep_dbfs - limits.MAINS_BELOW_SWEEP_DB:
                grade = "look"
        if grade == "good":
            continue
        found.append(
            Finding(
                "hum",
                grade,
                f"mains {noise.mains_hz:.0f} Hz: {over:.0f} dB above the noise",
                "Hum this high blurs the lowest octaves."
                if grade == "look"
                else "Hum drowns the sweep.",
                "Try the laptop on its battery, and the pedal on a battery of its own.",
                item.run.id,
            )
        )
    return tuple(found)
