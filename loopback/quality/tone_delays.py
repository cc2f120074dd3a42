"""Delays from the phases of the check tones: where in a take time jumps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from loopback.quality import limits
from loopback.response.reading import TakeReading, ToneReading
from loopback.signal.layout import SegmentName
from loopback.signal.take import LOW_TONE_HZ, MIDDLE_TONE_HZ, Signal, layout_of

_BLOCKS: tuple[SegmentName, SegmentName, SegmentName] = (
    "tones_before",
    "tones_between",
    "tones_after",
)
_CLEAR_DB = 0.3
"""A tone with a larger uncertainty of its level (0.03 rad) tells no time."""


@dataclass(frozen=True, slots=True)
class DelayStep:
    """A jump in time between two blocks of check tones.

    Parameters
    ----------
    after_block : str
        The jump lies between this block and the next.
    samples : float
        Positive: the recording got later (samples inserted); negative: samples lost.
    """

    after_block: str
    samples: float


def block_delays_s(tones: Sequence[ToneReading]) -> tuple[float, ...]:
    """Delay of each block of check tones against the first, from their phases.

    The lowest tone says it without ambiguity up to half its period (6 ms); each higher one makes
    it finer. Phases are those of `ToneReading`: recorded minus played.

    Parameters
    ----------
    tones : sequence of ToneReading
        Of one channel of one take.

    Returns
    -------
    tuple of float
        Seconds, for the three blocks; empty when a block is missing or buried in noise.
    """
    blocks = _clear_blocks(tones)
    if not blocks:
        return ()
    delays = []
    for block in blocks:
        delay = 0.0
        for now, first in zip(block, blocks[0], strict=True):
            delay -= _rest_s(now, first, delay)
        delays.append(delay)
    return tuple(delays)


def broken_block(tones: Sequence[ToneReading], rate_hz: int) -> bool:
    """Tell whether samples were lost within a block of check tones.

    All tones of a block must have moved alike since the first block; a loss between two of them
    splits them.

    Parameters
    ----------
    tones : sequence of ToneReading
        Of one channel of one take.
    rate_hz : int
        Sample rate.

    Returns
    -------
    bool
        False as well when it cannot be told.
    """
    delays, blocks = block_delays_s(tones), _clear_blocks(tones)
    return any(
        abs(_rest_s(now, first, delay)) * rate_hz
        > limits.DELAY_STEP_SAMPLES.look + 6 * _u_delay_s(now) * rate_hz
        for delay, block in zip(delays, blocks, strict=True)
        for now, first in zip(block, blocks[0], strict=True)
    )


def _clear_blocks(tones: Sequence[ToneReading]) -> list[list[ToneReading]]:
    """Return the tones that are heard in all three blocks, from low to high, loud before soft."""
    clear = [
        t
        for t in tones
        if t.u_level_db < _CLEAR_DB and t.level_dbfs > t.played_dbfs + limits.TONES_HEARD_DB
    ]
    heard = [{(t.f_hz, t.played_dbfs) for t in clear if t.block == block} for block in _BLOCKS]
    everywhere = heard[0] & heard[1] & heard[2]
    if not {LOW_TONE_HZ, MIDDLE_TONE_HZ} <= {f_hz for f_hz, _ in everywhere}:
        return []
    clear = [t for t in clear if (t.f_hz, t.played_dbfs) in everywhere]
    return [
        sorted((t for t in clear if t.block == block), key=lambda t: (t.f_hz, t.played_dbfs))
        for block in _BLOCKS
    ]


def _u_delay_s(tone: ToneReading) -> float:
    """Return the standard uncertainty of a delay read from a tone's phase."""
    return tone.u_level_db * math.log(10) / 20 / (2 * math.pi * tone.f_hz)


def _rest_s(now: ToneReading, first: ToneReading, delay_s: float) -> float:
    """Return what a tone's phase says beyond a delay, within half its period."""
    turn = 2 * math.pi * now.f_hz
    return math.remainder(now.phase_rad - first.phase_rad + turn * delay_s, 2 * math.pi) / turn


def delay_steps(reading: TakeReading, signal: Signal) -> tuple[DelayStep, ...]:
    """Find where time jumps: what three blocks of tones show beyond one steady stretch.

    A stretch that is the same in both sweeps is a clock, not a jump; equal losses in both sweeps
    therefore appear as a stretch, and are caught there by their size.

    Parameters
    ----------
    reading : TakeReading
        Of the take.
    signal : Signal
        What was played.

    Returns
    -------
    tuple of DelayStep
        Empty without a jump of at least 0.1 sample.
    """
    delays = block_delays_s(reading.check_tones) or block_delays_s(reading.tones)
    if not delays:
        return ()
    layout = layout_of(signal)
    at = [layout.segment(name).start / signal.rate_hz for name in _BLOCKS]
    spans = [at[i + 1] - at[i] for i in range(2)]
    rates = [(delays[i + 1] - delays[i]) / spans[i] + reading.stretch for i in range(2)]
    # One gap holds the jump; the other shows the clock alone, and is the one nearer to no stretch.
    jumped = 0 if abs(rates[0]) >= abs(rates[1]) else 1
    jump = (rates[jumped] - rates[1 - jumped]) * spans[jumped] * signal.rate_hz
    if abs(jump) < limits.DELAY_STEP_SAMPLES.good:
        return ()
    return (DelayStep(_BLOCKS[jumped], jump),)
