"""What the gates between runs look at, and the few readings of it that they share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.examination.records import Run
from loopback.noise.figures import NoiseFigures
from loopback.response.reading import RunResponse, TakeReading

PASSES_DB = -20.0
"""A run below its reference by more than this, 200 Hz to 2 kHz, is not passing."""


@dataclass(frozen=True, slots=True)
class RunSeen:
    """One run that can be used, with what was read from it.

    Parameters
    ----------
    run : Run
        As recorded.
    takes : tuple of TakeReading
        Its usable takes, at least one.
    response : RunResponse
        Their mean.
    noise : NoiseFigures or None
        Of its silence; None: not known.
    """

    run: Run
    takes: tuple[TakeReading, ...]
    response: RunResponse
    noise: NoiseFigures | None


def same_hookup(a: Run, b: Run) -> bool:
    """Tell whether two runs share feed and load, so that one can be the other's reference.

    Parameters
    ----------
    a, b : Run
        Any two.

    Returns
    -------
    bool
        What else differs does not count.
    """
    one, other = a.label, b.label
    return (one.feed, one.load, one.load_ohm) == (other.feed, other.load, other.load_ohm)


def references_of(item: RunSeen, seen: Iterable[RunSeen]) -> tuple[RunSeen, ...]:
    """Find the coupler runs with the feed and load of a run.

    Parameters
    ----------
    item : RunSeen
        A run.
    seen : iterable of RunSeen
        Where to look.

    Returns
    -------
    tuple of RunSeen
        In the order made; never the run itself.
    """
    return tuple(
        other
        for other in seen
        if other.run.label.path == "coupler"
        and other.run.id != item.run.id
        and same_hookup(other.run, item.run)
    )


def difference_db(a: RunResponse, b: RunResponse, low_hz: float, high_hz: float) -> F64:
    """Level of one response over another, point by point.

    Parameters
    ----------
    a, b : RunResponse
        On the same grid.
    low_hz, high_hz : float
        Band.

    Returns
    -------
    ndarray of float64, shape (m,)
        dB, `a` over `b`.
    """
    use = (a.f_hz >= low_hz) & (a.f_hz <= high_hz)
    ratio = np.abs(a.h[use]) / np.maximum(np.abs(b.h[use]), 1e-15)
    return np.asarray(20 * np.log10(np.maximum(ratio, 1e-12)))


def fall_db(response: RunResponse) -> float:
    """Level around 15 kHz over that around 1 kHz.

    Parameters
    ----------
    response : RunResponse
        Of a run.

    Returns
    -------
    float
        dB; negative for a fall.
    """
    level = 20 * np.log10(np.maximum(np.abs(response.h), 1e-12))
    f = response.f_hz
    treble = float(np.mean(level[(f >= 14_000) & (f <= 16_000)]))
    return treble - float(np.mean(level[(f >= 900) & (f <= 1100)]))


def passes(item: RunSeen, references: Sequence[RunSeen]) -> bool:
    """Tell whether a run passes the signal, against its reference or else by itself.

    Parameters
    ----------
    item : RunSeen
        A run.
    references : sequence of RunSeen
        Its references; the first is used, and none are needed.

    Returns
    -------
    bool
        Level at 200 Hz to 2 kHz above `PASSES_DB`; 20 dB less is asked without a reference.
    """
    if references:
        level = difference_db(item.response, references[0].response, 200.0, 2000.0)
        return float(np.mean(level)) > PASSES_DB
    f = item.response.f_hz
    middle = np.abs(item.response.h[(f >= 200) & (f <= 2000)])
    return 20 * math.log10(max(float(np.mean(middle)), 1e-12)) > PASSES_DB - 20
