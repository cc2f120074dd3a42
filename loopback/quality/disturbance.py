"""Clicks, slams and passing changes within a take, which tones and counters do not see."""

from __future__ import annotations

from loopback.arrays import F64
from loopback.quality.finding import Finding
from loopback.response.reading import TakeReading
from loopback.signal.take import Signal


def judge_disturbance(
    reading: TakeReading, signal: Signal, samples: F64, where: str
) -> tuple[Finding, ...]:
    """Judge what one take holds beside the response of a steady path."""
    return ()
