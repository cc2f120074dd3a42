"""Clicks, slams, damaged blocks and passing changes of gain, which tones and counters miss."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.quality.processing import tone_pair_error_db
from loopback.response.agreement import up_down_difference
from loopback.response.reading import TakeReading
from loopback.response.residual import BlockResidual, block_residual
from loopback.signal.sweep import time_of_frequency_s
from loopback.signal.take import Signal, layout_of

_AUDIBLE = 0.03
"""Where the noise alone moves the response by more, the sweeps need not agree."""
_WIDTHS = (1, 4, 12, 36, 108)
"""Bands averaged: a moment of a sweep, up to more than two octaves of it."""
_BOTTOM, _TOP = 1.5, 0.88
"""Residuals below or above these multiples of lowest and highest frequency belong to the ends of
the sweep, where it is faded."""
_AROUND = 12
"""Bands to each side from which the scatter of one band is told: more than a quarter octave."""
_DB = float(20 / np.log(10))
_TOUCHED, _MOST_TOUCHED = 0.1, 0.5
"""A moment touches a few bands; a path that treats up and down differently, most of them."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """The widest gap between the two sweeps of a take that neither noise nor harmonics explain.

    Parameters
    ----------
    level_db : float
        Upward over downward sweep, averaged over the stretch; 0 where there is none.
    f_hz : float
        Its centre.
    first, last : int
        Its points on the grid, `last` excluded.
    """

    level_db: float
    f_hz: float
    first: int
    last: int


def judge_disturbance(
    reading: TakeReading, signal: Signal, channel: F64, where: str
) -> tuple[Finding, ...]:
    """Look for a click or a damaged block in one take.

    The two sweeps meet any moment of disturbance at different frequencies. Only where they
    disagree is the residual computed, in blocks of a millisecond. Not for an effect that is on:
    its harmonics are a residual of their own.

    Parameters
    ----------
    reading : TakeReading
        Of the take.
    signal : Signal
        What was played.
    channel : ndarray of float64, shape (n,)
        The channel of the recording that was read.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``disturbed``.
    """
    agreement = up_down_difference(reading)
    gap = widest_gap(agreement.f_hz, agreement.difference.real, agreement.sd, explained_db(reading))
    if gap.level_db == 0.0:
        return ()
    score, at_s, dbfs = _worst_block(block_residual(channel, signal, reading), signal)
    grade = limits.BLOCK_RESIDUAL.grade(score)
    if grade == "good":
        return ()
    return (
        Finding(
            "disturbed",
            grade,
            f"at {at_s:.2f} s, {dbfs:.0f} dBFS, {score:.0f} times what lies around it",
            "A click, a knock or a damaged block lies on the sweep.",
            "Leave table and leads alone, close other programs, and repeat the take.",
            where,
        ),
    )


def judge_agreement(readings: Sequence[TakeReading]) -> tuple[Finding, ...]:
    """Compare the sweeps of all takes of one run: what only one of them shows is a disturbance.

    What up and down differ by in every take alike, such as by harmonics or by charging, belongs
    to the path. With a single take that cannot be told, and it is only looked at unless it is far
    too large and too narrow for a path.

    Parameters
    ----------
    readings : sequence of TakeReading
        Usable takes of one run.

    Returns
    -------
    tuple of Finding
        Code ``gain_change``, for the take that disagrees.
    """
    if any(abs(tone_pair_error_db(r.tones)[0]) > limits.TONE_PAIR_DB.look for r in readings):
        return ()  # an effect is on, and moves as it likes
    agreements = [up_down_difference(reading) for reading in readings]
    found: list[Finding] = []
    for i, (reading, one) in enumerate(zip(readings, agreements, strict=True)):
        others = [other for j, other in enumerate(agreements) if j != i]
        own = one.difference.real
        sd = one.sd
        least = explained_db(reading)
        if others:
            own = own - np.mean([other.difference.real for other in others], axis=0)
            sd = np.sqrt(sd**2 + np.mean([other.sd**2 for other in others], axis=0) / len(others))
            least = 0.05 * least
        # Strong hum makes neighbouring bands scatter by more than the silence lets expect.
        gap = widest_gap(one.f_hz, own, np.maximum(sd, _scatter(own)), least)
        if gap.level_db == 0.0:
            continue
        stretch = slice(gap.first, gap.last)
        alone = abs(float(np.mean(one.difference.real[stretch])))
        if any(abs(float(np.mean(o.difference.real[stretch]))) > alone for o in others):
            continue  # it is the other take that moved
        grade = limits.UP_DOWN_DB.grade(gap.level_db)
        if grade == "good":
            continue
        found.append(
            Finding(
                "gain_change",
                grade if others or _is_a_moment(own, gap) else "look",
                f"upward and downward sweep differ by {gap.level_db:+.3f} dB around"
                f" {gap.f_hz:.0f} Hz",
                "The level moved for a moment, or a noise came in: no pedal does that in one of"
                " two sweeps.",
                "Repeat the take.",
                f"{reading.run_id}/{reading.number}",
            )
        )
    return tuple(found)


def _is_a_moment(difference: F64, gap: Disagreement) -> bool:
    """Tell whether a gap is so large, and the rest so alike, that a moment made it."""
    if abs(gap.level_db) < limits.UP_DOWN_ALONE_DB:
        return False
    touched = np.abs(_DB * difference) > _TOUCHED * abs(gap.level_db)
    return float(np.mean(touched)) < _MOST_TOUCHED


def explained_db(reading: TakeReading) -> float:
    """Difference of the sweeps that the harmonics of the path alone can make.

    In the lowest bands a harmonic is not yet apart from the linear response in time: there up and
    down differ by up to twice its size.

    Parameters
    ----------
    reading : TakeReading
        Of the take.

    Returns
    -------
    float
        dB.
    """
    known = reading.harmonics[np.isfinite(reading.harmonics)]
    return 2 * _DB * float(np.quantile(known, 0.95)) if len(known) else 0.0


def widest_gap(f_hz: F64, difference: F64, sd: F64, explained: float) -> Disagreement:
    """Find the stretch on which two sweeps disagree most beyond what is explained.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid.
    difference, sd : ndarray of float64, shape (k,)
        Relative difference of the sweeps, and its standard deviation from noise.
    explained : float
        dB that need no disturbance.

    Returns
    -------
    Disagreement
        With a level of 0 when nothing stands out, and always for a path as good as silent.
    """
    if not float(np.median(sd)) < _AUDIBLE:
        return Disagreement(0.0, 0.0, 0, 0)
    least = max(limits.UP_DOWN_SUSPICION_DB, explained)
    worst = Disagreement(0.0, 0.0, 0, 0)
    for width in _WIDTHS:
        if width > len(f_hz):
            break
        weight = np.ones(width) / width
        mean = _DB * np.convolve(difference, weight, "valid")
        doubt = _DB * np.sqrt(np.convolve(sd**2, weight**2, "valid"))
        mean[np.abs(mean) < np.maximum(limits.UP_DOWN_SCORE * doubt, least)] = 0.0
        at = int(np.argmax(np.abs(mean)))
        if abs(mean[at]) > abs(worst.level_db):
            worst = Disagreement(float(mean[at]), float(f_hz[at + width // 2]), at, at + width)
    return worst


def _scatter(difference: F64) -> F64:
    """Tell the standard deviation from band to band; a moment of gain does not touch it."""
    steps = np.abs(np.diff(difference))
    if len(steps) <= 2 * _AROUND:
        return np.zeros(len(difference))
    around = np.lib.stride_tricks.sliding_window_view(
        np.pad(steps, (_AROUND, _AROUND + 1), "edge"), 2 * _AROUND + 1
    )
    return np.asarray(np.median(around, axis=1) * (1.4826 / np.sqrt(2)))


def _worst_block(blocks: BlockResidual, signal: Signal) -> tuple[float, float, float]:
    """Score, time and level of the worst block, both ends of the sweeps left out."""
    layout = layout_of(signal)
    ends = np.array([_BOTTOM * signal.f1_hz, _TOP * signal.f2_hz])
    bottom_s, top_s = time_of_frequency_s(ends, signal.f1_hz, signal.constant_s)
    since = blocks.t_s - layout.segment("up").start / signal.rate_hz
    until = layout.segment("down").stop / signal.rate_hz - blocks.t_s
    inside = ((since > bottom_s) & (since < top_s)) | ((until > bottom_s) & (until < top_s))
    score = np.where(inside, blocks.score, 0.0)
    at = int(np.argmax(score))
    dbfs = 20 * np.log10(max(float(blocks.rms[at]) * np.sqrt(2), 1e-12))
    return float(score[at]), float(blocks.t_s[at]), float(dbfs)
