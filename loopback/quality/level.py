"""What the samples of one recording say by themselves: format, level, silence."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64
from loopback.plan.runs import RunLabel
from loopback.quality import limits
from loopback.quality.finding import Finding


def longest_run(mask: NDArray[np.bool_]) -> tuple[int, int]:
    """Find the longest run of true values.

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)
        Where something holds.

    Returns
    -------
    start, length : int
        Of the first longest run; length 0 when nothing is true.
    """
    true = np.flatnonzero(mask)
    if not len(true):
        return 0, 0
    starts = np.concatenate(([0], np.flatnonzero(np.diff(true) > 1) + 1))
    lengths = np.diff(starts, append=len(true))
    longest = int(np.argmax(lengths))
    return int(true[starts[longest]]), int(lengths[longest])


def peak_of(x: F64) -> float:
    """Find the largest absolute value.

    Parameters
    ----------
    x : ndarray of float64, any shape
        Finite samples.

    Returns
    -------
    float
        0 when there is none.
    """
    return max(float(np.max(x, initial=0.0)), -float(np.min(x, initial=0.0)))


def used_bits(x: F64) -> int:
    """Find how many bits the samples really use.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        Fraction of full scale.

    Returns
    -------
    int
        8, 16 or 24; 24 stands for anything finer than 16.
    """
    for bits in (8, 16):
        steps = 2.0 ** (bits - 1)
        # A short look first: nearly every file is decided by it.
        if all(np.array_equal(part * steps, np.rint(part * steps)) for part in (x[::257], x)):
            return bits
    return 24


def judge_numbers(samples: F64, where: str) -> tuple[Finding, ...]:
    """Look for values that are no numbers, or far beyond full scale.

    Parameters
    ----------
    samples : ndarray of float64, shape (n, channels) or (n,)
        Fraction of full scale.
    where : str
        Run and take, for the finding.

    Returns
    -------
    tuple of Finding
        Codes ``not_numbers``, ``over_full_scale``.
    """
    # What is no number passes through maximum and minimum, and is counted only if there is any.
    high, low = float(np.max(samples, initial=0.0)), float(np.min(samples, initial=0.0))
    if not (math.isfinite(high) and math.isfinite(low)):
        bad = int(np.count_nonzero(~np.isfinite(samples)))
        return (
            Finding(
                "not_numbers",
                "refuse",
                f"{bad} of {samples.size} values are not numbers",
                "The program that wrote this file went wrong; the sound is gone in those places.",
                "Export it again as 24-bit WAV.",
                where,
            ),
        )
    peak = max(high, -low)
    grade = limits.OVER_FULL_SCALE.grade(peak)
    if grade == "good":
        return ()
    return (
        Finding(
            "over_full_scale",
            grade,
            f"peak {peak:.3g} times full scale",
            "A floating-point file may pass full scale, and nothing is lost by it."
            if grade == "look"
            else "These are no fractions of full scale: the program wrote them in other units.",
            "" if grade == "look" else "Export it again as 24-bit WAV.",
            where,
        ),
    )


def judge_format(bits: int, where: str) -> tuple[Finding, ...]:
    """Tell recordings of 8 and 16 bits from finer ones, whatever the file's format.

    Parameters
    ----------
    bits : int
        From `used_bits`.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``few_bits``.
    """
    if bits > 16:
        return ()
    if bits == 16:
        return (
            Finding(
                "few_bits",
                "look",
                "16 bits",
                "Usable; the steps of 16 bits raise the noise and widen every interval a little.",
                "Record with 24 bits if the program can.",
                where,
            ),
        )
    return (
        Finding(
            "few_bits",
            "refuse",
            f"{bits} bits",
            f"Steps of {bits} bits drown everything a bypass does to the line.",
            "Record with 24 bits.",
            where,
        ),
    )


def judge_silence(x: F64, label: RunLabel, where: str) -> tuple[Finding, ...]:
    """Look for recordings in which nothing arrives, and for exact zeros.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        Fraction of full scale.
    label : RunLabel
        A coupler must pass; a pedal without power need not.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Codes ``digital_zeros``, ``silent``.
    """
    peak = peak_of(x)
    if peak == 0.0:
        return (
            Finding(
                "digital_zeros",
                "refuse",
                f"all {len(x)} samples are exactly zero",
                "An input always has some noise: the system does not let this program record,"
                " or another channel was recorded.",
                "Allow the terminal to use the microphone in the system's privacy settings.",
                where,
            ),
        )
    level = 20 * math.log10(peak)
    if level >= limits.SILENT_DBFS:
        return ()
    if label.path == "coupler":
        return (
            Finding(
                "silent",
                "refuse",
                f"peak {level:.0f} dBFS",
                "Nothing arrives, and through the coupler it must.",
                "Check leads, sockets and the output knob.",
                where,
            ),
        )
    return (
        Finding(
            "silent",
            "good" if label.power == "off" or label.path == "unplugged" else "look",
            f"peak {level:.0f} dBFS",
            "Nothing arrives: a pedal that does not pass here, or a lead that is not plugged in.",
            "If it should pass, check that both plugs are home and repeat.",
            where,
        ),
    )


def judge_offset(x: F64, where: str) -> tuple[Finding, ...]:
    """Look for a DC offset.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        A silence, or a whole recording; fraction of full scale.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``dc_offset``.
    """
    offset = float(np.mean(x)) if len(x) else 0.0
    grade = limits.DC_OFFSET.grade(offset)
    if grade == "good":
        return ()
    return (
        Finding(
            "dc_offset",
            grade,
            f"{offset:+.3f} of full scale",
            "A constant voltage lies on the recording. The sweep is not harmed by it, the room"
            " above it is."
            if grade == "look"
            else "A constant voltage takes up much of the room of this input.",
            "Switch 48 V (phantom) off, and use the jack input.",
            where,
        ),
    )
