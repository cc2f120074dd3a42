"""Tops that are cut off: at full scale, at any other exact value, or by an analogue stage."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import F64
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.level import longest_run, peak_of


def judge_clipping(x: F64, bits: int, where: str) -> tuple[Finding, ...]:
    """Look for samples that stay at full scale, or at any other exact value that is the peak.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        Fraction of full scale.
    bits : int
        Word length; in steps of 16 bits a slow peak is flat by itself.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Codes ``clipped``, ``flat_tops``.
    """
    peak = peak_of(x)
    if peak > limits.OVER_FULL_SCALE.good:
        return ()  # full scale is no limit in such a file
    least = min(peak, limits.FULL_SCALE)
    top = (x >= least) | (x <= -least)
    _, run = longest_run(top)
    if run < limits.FULL_SCALE_RUN:
        return ()
    count = int(np.count_nonzero(top))
    if peak < limits.FULL_SCALE:
        return _cut_by_number(peak, count, run, bits, where)
    return (
        Finding(
            "clipped",
            "refuse",
            f"{count} samples at full scale, up to {run} in a row",
            "The input of the interface is overdriven.",
            "Turn the input gain, or the output, down by 6 to 12 dB; then all runs again.",
            where,
        ),
    )


def _cut_by_number(peak: float, count: int, run: int, bits: int, where: str) -> tuple[Finding, ...]:
    if bits <= 16 or peak <= 1e-3:
        return ()
    return (
        Finding(
            "flat_tops",
            "refuse",
            f"{count} samples at exactly {20 * math.log10(peak):.1f} dBFS, up to {run} in a row",
            "A limiter cut the tops off, or a recording that was too hot was turned down.",
            "Turn the output down by 6 to 12 dB, switch limiters off, and do not normalise.",
            where,
        ),
    )


def flat_top_share(tone: F64) -> float:
    """Share of samples within 2 % of the peak: ``2/π acos 0.98 = 0.1275`` for a sine.

    Parameters
    ----------
    tone : ndarray of float64, shape (n,)
        Whole periods of a steady tone, without its fades.

    Returns
    -------
    float
        Between 0 and 1; 0 for silence.
    """
    size = np.abs(tone - np.mean(tone))
    # Not the very largest sample: one click must not hide a cut-off top.
    peak = float(np.quantile(size, 0.995)) if len(size) else 0.0
    return float(np.mean(size >= 0.98 * peak)) if peak > 0 else 0.0


def judge_flat_tops(tone: F64, where: str) -> tuple[Finding, ...]:
    """Look for a check tone whose tops are cut below full scale: an analogue stage at its end.

    Not for a run with a pedal: an effect may do that.

    Parameters
    ----------
    tone : ndarray of float64, shape (n,)
        Full-level 1 kHz check tone without its fades, as recorded.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``flat_tops``.
    """
    share = flat_top_share(tone)
    grade = limits.FLAT_TOP_SHARE.grade(share)
    if grade == "good":
        return ()
    peak_dbfs = 20 * math.log10(float(np.max(np.abs(tone))))
    number = f"tops cut off at {peak_dbfs:.1f} dBFS"
    return (
        Finding(
            "flat_tops",
            grade,
            number,
            "An analogue stage of the interface is overdriven, although its converter is not.",
            "Turn the output down by 6 to 12 dB; then all runs again.",
            where,
        ),
    )
