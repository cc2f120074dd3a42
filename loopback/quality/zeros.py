"""Exact zeros: in a silence a gate or a digital return, in a sweep a lost buffer."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.level import longest_run
from loopback.signal.layout import Segment, SegmentName
from loopback.signal.take import Signal, layout_of


def judge_zeros(x: F64, start: int, signal: Signal, bits: int, where: str) -> tuple[Finding, ...]:
    """Look for exact zeros: in the silence a gate or a digital return, in the sweep a lost buffer.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        One channel of the recording.
    start : int
        First sample of the take; negative when its head was cut.
    signal : Signal
        What was played.
    bits : int
        What `loopback.quality.level.used_bits` found; with 16 bits or fewer a quiet silence is
        rightly full of zeros and is not judged.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Codes ``gated``, ``zero_block``.
    """
    layout = layout_of(signal)
    found: list[Finding] = []
    longest = 0
    silences: tuple[SegmentName, ...] = ("lead", "rest", "tail") if bits > 16 else ()
    sweeps: tuple[SegmentName, ...] = ("up", "down")
    for name in silences:
        _, run = longest_run(_part(x, start, layout.segment(name)) == 0.0)
        longest = max(longest, run)
    if longest >= limits.ZERO_RUN_S * signal.rate_hz:
        found.append(
            Finding(
                "gated",
                "refuse",
                f"{longest / signal.rate_hz * 1000:.0f} ms of exact zeros in the silence",
                "An analogue input always has some noise: a noise gate is at work, or a digital"
                " return of the interface was recorded instead of an input.",
                "Choose the analogue input and switch noise suppression off.",
                where,
            )
        )
        return tuple(found)
    for name in sweeps:
        segment = layout.segment(name)
        sweep = _part(x, start, segment)
        at, run = longest_run(sweep == 0.0)
        around = np.abs(sweep[max(0, at - 4 * run) : at + 5 * run])
        if run >= limits.ZERO_BLOCK and float(np.max(around, initial=0.0)) > 1e-3:
            seconds = (max(0, start + segment.start) - start + at) / signal.rate_hz
            found.append(
                Finding(
                    "zero_block",
                    "refuse",
                    f"{run} samples of exact zero at {seconds:.2f} s, in mid sweep",
                    "Sound was interrupted for a moment; nothing was shifted by it.",
                    "Close other programs, choose a larger buffer, and repeat the take.",
                    where,
                )
            )
    return tuple(found)


def _part(x: F64, start: int, segment: Segment) -> F64:
    return x[max(0, start + segment.start) : max(0, start + segment.stop)]
