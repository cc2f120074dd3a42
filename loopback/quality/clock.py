"""Time as the sweeps and check tones show it: two clocks, lost samples, a wrong rate label."""

from __future__ import annotations

import math

from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.tone_delays import block_delays_s, broken_block, delay_steps
from loopback.response.locate import MOST_STRETCH
from loopback.response.reading import TakeReading
from loopback.signal.take import Signal, layout_of

_ANOTHER_RATE = 0.01
"""Usual sample rates differ by 8 % at least; lost samples never make so much."""
_RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


def judge_clock(reading: TakeReading, signal: Signal, where: str) -> tuple[Finding, ...]:
    """Judge stretch and jumps of one take.

    Parameters
    ----------
    reading : TakeReading
        Of the take.
    signal : Signal
        What was played.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Codes ``samples_lost``, ``two_clocks``; a jump is never also called a second clock.
    """
    if broken_block(reading.check_tones or reading.tones, signal.rate_hz):
        return (
            Finding(
                "samples_lost",
                "refuse",
                "check tones of one block shifted against each other",
                "Sound was interrupted.",
                "Close other programs, choose a larger buffer, and repeat the take.",
                where,
            ),
        )
    steps = delay_steps(reading, signal)
    worst = max((abs(s.samples) for s in steps), default=0.0)
    grade = limits.DELAY_STEP_SAMPLES.grade(worst)
    if grade != "good":
        step = max(steps, key=lambda s: abs(s.samples))
        layout = layout_of(signal)
        start_s = layout.segment("up" if step.after_block == "tones_before" else "down").start
        what = "lost" if step.samples < 0 else "inserted"
        sweep = "upward" if step.after_block == "tones_before" else "downward"
        return (
            Finding(
                "samples_lost",
                grade,
                f"{abs(step.samples):.1f} samples {what} in the {sweep} sweep,"
                f" after {start_s / signal.rate_hz:.1f} s",
                "Sound was interrupted.",
                "Close other programs, choose a larger buffer, and repeat the take.",
                where,
            ),
        )
    heard = block_delays_s(reading.check_tones) or block_delays_s(reading.tones)
    grade = limits.STRETCH.grade(reading.stretch)
    if grade == "good" or not heard:
        return ()
    ppm = reading.stretch * 1e6
    return (
        Finding(
            "two_clocks",
            grade,
            f"{ppm:+.1f} ppm",
            "Playing and recording run on two clocks. Levels are corrected for it; a delay cannot"
            " be told."
            if grade == "look"
            else "Playing and recording differ by more than two clocks ever do.",
            "Use one interface for both.",
            where,
        ),
    )


def _distance(signal: Signal) -> float:
    """Return the samples between the two passages of 1.2 kHz, by which takes are located."""
    layout = layout_of(signal)
    passing = signal.constant_s * math.log(1200.0 / signal.f1_hz) * signal.rate_hz
    return layout.segment("down").stop - layout.segment("up").start - 2 * passing


def judge_header_rate(rate_hz: int, signal: Signal, where: str) -> tuple[Finding, ...]:
    """Compare the sample rate in the header with the one the signal was made for.

    Parameters
    ----------
    rate_hz : int
        Sample rate in the header.
    signal : Signal
        What was played.
    where : str
        Run.

    Returns
    -------
    tuple of Finding
        Code ``other_rate``.
    """
    if rate_hz == signal.rate_hz:
        return ()
    return (
        Finding(
            "other_rate",
            "refuse",
            f"recorded at {rate_hz / 1000:g} kHz, played at {signal.rate_hz / 1000:g} kHz",
            "Between two sample rates the sweep is not the same sweep any more.",
            f"Set the recorder to {signal.rate_hz / 1000:g} kHz, or write the signal for"
            f" {rate_hz / 1000:g} kHz, and record again.",
            where,
        ),
    )


def judge_length(stretch: float, signal: Signal, where: str) -> tuple[Finding, ...]:
    """Look for sound whose sample rate is not what its header says.

    Parameters
    ----------
    stretch : float
        Recorded over played duration, minus 1, as located.
    signal : Signal
        What was played.
    where : str
        Run.

    Returns
    -------
    tuple of Finding
        Codes ``wrong_rate``, ``samples_lost``.
    """
    if abs(stretch) <= MOST_STRETCH:
        return ()
    if abs(stretch) < _ANOTHER_RATE:
        lost = abs(stretch) * _distance(signal)
        what = "nearer to each other than" if stretch < 0 else "further apart than"
        return (
            Finding(
                "samples_lost",
                "refuse",
                f"the sweeps are about {lost:.0f} samples {what} they were played",
                "Sound was interrupted.",
                "Close other programs, choose a larger buffer, and repeat the take.",
                where,
            ),
        )
    true_hz = min(_RATES_HZ, key=lambda rate: abs(rate - signal.rate_hz * (1 + stretch)))
    return (
        Finding(
            "wrong_rate",
            "refuse",
            f"the sweep takes {1 + stretch:.4f} times as long as it was played",
            f"The file says {signal.rate_hz / 1000:g} kHz and holds sound of"
            f" {true_hz / 1000:g} kHz.",
            f"Set device, program and export all to {signal.rate_hz / 1000:g} kHz.",
            where,
        ),
    )
