"""Clicks, slams, damaged blocks and passing changes of gain, which tones and counters miss."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.response.agreement import Agreement, up_down_difference
from loopback.response.reading import TakeReading
from loopback.response.residual import block_residual
from loopback.signal.take import Signal

_AUDIBLE = 0.03
"""Where the noise alone moves the response by more, the sweeps need not agree."""


def judge_disturbance(
    reading: TakeReading, signal: Signal, channel: F64, where: str, *, level_dependent: bool
) -> tuple[Finding, ...]:
    """Judge what a take holds beside the response of a steady path.

    The two sweeps meet any moment of disturbance at different frequencies. Where they disagree
    beyond the noise, the residual in blocks of a millisecond tells a click or a damaged block from
    a change of gain.

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
    level_dependent : bool
        An effect is on: then the sweeps may disagree by themselves, and only blocks count.

    Returns
    -------
    tuple of Finding
        Codes ``disturbed``, ``gain_change``.
    """
    agreement = up_down_difference(reading)
    if not suspicious(agreement):
        return ()
    blocks = block_residual(channel, signal, reading)
    grade = limits.BLOCK_RESIDUAL.grade(blocks.worst_score)
    if grade != "good":
        return (
            Finding(
                "disturbed",
                grade,
                f"at {blocks.worst_t_s:.2f} s, {blocks.worst_dbfs:.0f} dBFS"
                f" ({blocks.worst_score:.0f} times what lies around it)",
                "A click, a knock or a damaged block lies on the sweep.",
                "Leave table and leads alone, close other programs, and repeat the take.",
                where,
            ),
        )
    grade = limits.UP_DOWN_DB.grade(agreement.worst_db)
    if grade == "good" or level_dependent:
        return ()
    return (
        Finding(
            "gain_change",
            grade,
            f"upward and downward sweep differ by {agreement.worst_db:+.3f} dB around"
            f" {agreement.worst_f_hz:.0f} Hz",
            "The level moved for a moment, or a noise came in: no pedal does that in one of two"
            " sweeps.",
            "Repeat the take.",
            where,
        ),
    )


def suspicious(agreement: Agreement) -> bool:
    """Tell whether the two sweeps of a take differ by more than noise does.

    Parameters
    ----------
    agreement : Agreement
        Of the take.

    Returns
    -------
    bool
        Always False for a path that is as good as silent.
    """
    return (
        float(np.median(agreement.sd)) < _AUDIBLE
        and agreement.worst_score > limits.UP_DOWN_SCORE
        and abs(agreement.worst_db) > limits.UP_DOWN_SUSPICION_DB
    )
