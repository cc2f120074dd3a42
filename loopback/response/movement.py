"""Does a path change while it is measured? A tremolo, a gate, a level that settles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.quantity import Estimate
from loopback.response.modulation import TakeCourse, find_modulation
from loopback.response.reading import TakeReading, ToneReading
from loopback.response.tones import READ_MIDDLE_S, READ_S
from loopback.signal.sweep import time_of_frequency_s
from loopback.signal.take import MIDDLE_TONE_HZ, Signal, layout_of

MovementKind = Literal["steady", "modulated", "gated", "settling", "unsteady"]
"""steady: no change; modulated: up and down at one rate; gated: what is soft is cut off; settling:
the level goes one way only, or only that of loud tones changes; unsteady: another change."""

MOVES_DB = 0.02
"""Smaller changes are an interface's own."""
GATED_DB = 3.0
"""The soft tone further down than the loud one by this: no path that is only bent does that."""
_LOW_HZ, _TOP = 500.0, 0.9
_HEARD_DB = -50.0
_DOUBTFUL_DB = 0.1
_POINT_S = 0.01
"""Levels along a sweep are taken about so far apart."""
_DB = 20 / math.log(10)


@dataclass(frozen=True, slots=True)
class Movement:
    """What changes within and between the takes of one run.

    Parameters
    ----------
    kind : {"steady", "modulated", "gated", "settling", "unsteady"}
        See `MovementKind`.
    rate_hz, depth_db : Estimate or None
        Of a modulation: how often a second, and from end to end; None elsewhere.
    sweeps_db : float
        RMS difference of upward and downward sweep beyond noise, 500 Hz and up.
    tones_db : float
        Largest difference of one check tone between places of a take and between takes.
    gate_db : float
        How much further down than the loud tone the soft one is; below zero: less far.
    loud_only : bool
        True when the loud 1 kHz tone changes and the soft one does not.
    """

    kind: MovementKind
    rate_hz: Estimate | None
    depth_db: Estimate | None
    sweeps_db: float
    tones_db: float
    gate_db: float
    loud_only: bool = False

    @property
    def own(self) -> bool:
        """True when it is the pedal's own: no knob, lead or contact moves a level like this."""
        return self.kind in ("modulated", "gated") or (self.kind == "settling" and self.loud_only)


def find_movement(takes: Sequence[TakeReading], signal: Signal) -> Movement | None:
    """Look for change with time in the takes of one run.

    The two sweeps of a take meet every frequency at two times: what they differ by is change with
    time, whatever the response. Not for a path that passes nothing.

    Parameters
    ----------
    takes : sequence of TakeReading
        All that were read, refused ones as well.
    signal : Signal
        What was played.

    Returns
    -------
    Movement or None
        None where nothing passes, or no take was read.
    """
    if not takes or not _heard(takes):
        return None
    courses = [_course(take, signal) for take in takes]
    excess = [
        max(0.0, float(np.mean(np.square(c.up_db - c.down_db) - np.square(c.u_db))))
        for c in courses
    ]
    sweeps_db = math.sqrt(float(np.mean(excess)))
    tones_db, one_way = _tone_course(takes)
    gate_db = _gate_db(takes)
    loud_only = _loud_only(takes)
    rate = depth = None
    kind: MovementKind = "steady"
    if gate_db > GATED_DB:
        kind = "gated"
    elif (
        min(sweeps_db, tones_db) > MOVES_DB
        and (found := find_modulation(courses, READ_S)) is not None
    ):
        kind, (rate, depth) = "modulated", found
    elif max(sweeps_db, tones_db) > MOVES_DB:
        settles = loud_only or (one_way and tones_db > MOVES_DB / 2)
        kind = "settling" if settles else "unsteady"
    return Movement(kind, rate, depth, sweeps_db, tones_db, gate_db, loud_only)


def _heard(takes: Sequence[TakeReading]) -> bool:
    loud = [t for take in takes for t in take.tones if t.f_hz == MIDDLE_TONE_HZ]
    return any(t.level_dbfs > t.played_dbfs + _HEARD_DB and t.u_level_db < 0.1 for t in loud)


def _course(take: TakeReading, signal: Signal) -> TakeCourse:
    """Return when both sweeps and the tones pass, and the levels found there."""
    layout, rate = layout_of(signal), signal.rate_hz
    use = (take.f_hz >= _LOW_HZ) & (take.f_hz <= _TOP * signal.f2_hz)
    since = time_of_frequency_s(take.f_hz[use], signal.f1_hz, signal.constant_s)
    every = max(1, round(_POINT_S / float(since[-1] - since[0]) * len(since)))
    since = since[::every]
    up, down = (np.maximum(np.abs(h[use][::every]), 1e-12) for h in (take.up, take.down))
    u_db = _DB * np.sqrt(take.var[use][::every]) / ((up + down) / 2)
    # A take of a second, lower level plays the same tones, all of them lower by that much.
    lower_db = max(t.level_dbfs for t in layout.tones) - max(
        (t.played_dbfs for t in take.tones), default=signal.level_dbfs
    )
    placed = {(str(t.block), t.f_hz, round(t.level_dbfs, 6)): t for t in layout.tones}
    kinds = sorted({(t.f_hz, round(t.level_dbfs, 6)) for t in layout.tones})
    tones = [t for t in take.tones if t.u_level_db < _DOUBTFUL_DB]
    levels = [round(t.played_dbfs + lower_db, 6) for t in tones]
    middle = [placed[t.block, t.f_hz, level] for t, level in zip(tones, levels, strict=True)]
    return TakeCourse(
        up_s=layout.segment("up").start / rate + since,
        down_s=(layout.segment("down").stop - 1) / rate - since,
        up_db=np.asarray(_DB * np.log(up)),
        down_db=np.asarray(_DB * np.log(down)),
        u_db=np.asarray(u_db),
        tone_s=np.array([m.start / rate + READ_MIDDLE_S for m in middle]),
        tone_db=np.array([t.level_dbfs - t.played_dbfs for t in tones]),
        tone_kind=np.array(
            [float(kinds.index((t.f_hz, level))) for t, level in zip(tones, levels, strict=True)]
        ),
    )


def _tone_course(takes: Sequence[TakeReading]) -> tuple[float, bool]:
    """Largest change of a check tone beyond its doubt, and whether it went one way only."""
    worst, one_way = 0.0, False
    levels = {(t.f_hz, t.played_dbfs) for take in takes for t in take.tones}
    for which in levels:
        row = [
            tone
            for take in takes
            for block in ("tones_before", "tones_between", "tones_after")
            for tone in take.tones
            if tone.block == block and (tone.f_hz, tone.played_dbfs) == which
        ]
        values = np.array([t.level_dbfs for t in row])
        if len(values) < 2 or not np.isfinite(values).all():
            continue
        doubt = 3 * max(t.u_level_db for t in row)
        change = float(np.ptp(values)) - doubt
        if change > worst:
            worst = change
            one_way = _goes_one_way(values)
    return worst, one_way


def _loud_only(takes: Sequence[TakeReading]) -> bool:
    """Tell whether the loud 1 kHz tone changes by more than `MOVES_DB`, and the soft one hardly."""
    rows: dict[float, list[ToneReading]] = {}
    for tone in (tone for take in takes for tone in take.tones if tone.f_hz == MIDDLE_TONE_HZ):
        rows.setdefault(tone.played_dbfs, []).append(tone)
    if len(rows) != 2 or min(len(row) for row in rows.values()) < 2:
        return False
    loud, soft = (
        (float(np.ptp([t.level_dbfs for t in row])), 3 * max(t.u_level_db for t in row))
        for _, row in sorted(rows.items(), reverse=True)
    )
    return loud[0] - loud[1] > MOVES_DB and soft[0] < max(0.25 * loud[0], soft[1])


def _goes_one_way(values: F64) -> bool:
    """Tell whether a row goes from one end to near the other, and back by a third at most."""
    net, span = float(values[-1] - values[0]), float(np.ptp(values))
    course = values * (1.0 if net >= 0 else -1.0)
    back = float(np.max(np.maximum.accumulate(course) - course))
    return abs(net) >= 0.5 * span and back <= span / 3


def _gate_db(takes: Sequence[TakeReading]) -> float:
    gaps = [gap for take in takes for gap in pair_errors_db(take.tones)]
    return float(np.median(gaps)) if gaps else 0.0


def pair_errors_db(tones: Sequence[ToneReading]) -> list[float]:
    """Return by how much loud and soft 1 kHz tone of each block are further apart than played.

    Parameters
    ----------
    tones : sequence of ToneReading
        Of one take.

    Returns
    -------
    list of float
        dB, in the order of the blocks; above zero: the soft one is too soft.
    """
    out = []
    for block in ("tones_before", "tones_between", "tones_after"):
        pair = [t for t in tones if t.block == block and t.f_hz == MIDDLE_TONE_HZ]
        if len(pair) == 2:
            loud, soft = sorted(pair, key=lambda t: -t.played_dbfs)
            gap = (loud.level_dbfs - loud.played_dbfs) - (soft.level_dbfs - soft.played_dbfs)
            out.append(gap if math.isfinite(gap) else math.inf)
    return out
