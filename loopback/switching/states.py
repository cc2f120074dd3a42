"""Which path the tone takes: bypass or effect, told by the data before the label."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import F64
from loopback.switching.contacts import amplitude_over_time
from loopback.switching.result import KnownBy

_NEAR_DB = 1.0
_APART_DB = 0.5
_CLEANER_DB = 10.0
_LONG_PERIODS = 200.0


def starts_in_bypass(
    start: float,
    other: float | None,
    expected: float | None,
    lamp: str | None,
    harmonics_db: tuple[float, float] | None,
) -> tuple[bool, KnownBy]:
    """Tell whether a recording begins in bypass.

    Parameters
    ----------
    start, other : float, float or None
        Amplitude of the tone at the beginning, and after an odd number of presses; None: not known.
    expected : float or None
        Amplitude in bypass, as a run with the sweep says; None: no such run.
    lamp : {"lit", "dark", "none"} or None
        What was seen at the beginning.
    harmonics_db : tuple of float, or None
        Second and third harmonic together against the tone, at the beginning and after a press.

    Returns
    -------
    bypass : bool
        Whether it begins in bypass.
    known_by : str
        What tells.
    """
    if expected and start > 0:
        here = abs(20 * math.log10(start / expected))
        there = math.inf if not other else abs(20 * math.log10(other / expected))
        if here < _NEAR_DB and (other is None or there > here + _APART_DB):
            return True, "level"
        if here > _NEAR_DB and (other is None or there < min(_NEAR_DB, here - _APART_DB)):
            return False, "level"
    if lamp in ("lit", "dark"):
        return lamp == "dark", "lamp"
    if harmonics_db is not None and abs(harmonics_db[0] - harmonics_db[1]) > _CLEANER_DB:
        return harmonics_db[0] < harmonics_db[1], "distortion"
    return True, "order"


def harmonics_of(part: F64, tone_hz: float, rate_hz: int) -> float:
    """Level of the second and third harmonic together, against the tone itself.

    Parameters
    ----------
    part : ndarray of float64, shape (n,)
        A steady stretch, some tens of milliseconds.
    tone_hz : float
        Frequency.
    rate_hz : int
        Sample rate.

    Returns
    -------
    float
        Decibel; noise counts as well, so it never gets below what the recording resolves.
    """
    middle = len(part) // 2
    powers = []
    for order in (1, 2, 3):
        if order * tone_hz < 0.48 * rate_hz:
            wave = amplitude_over_time(part, order * tone_hz, rate_hz, order * _LONG_PERIODS)
            powers.append(float(np.abs(wave[middle])) ** 2)
    if powers[0] <= 0:
        return math.inf
    return 10 * math.log10(max(sum(powers[1:]), 1e-30) / powers[0])
