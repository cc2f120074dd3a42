"""One rate and one depth of a modulation, from the two times at which sweeps meet a frequency."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.quantity import Estimate

LEAST_DEPTH_DB = 0.04
_RATES_HZ = (0.4, 16.0)
_EXPLAINED = 0.8
_SCORE = 5.0
_RELATED = 4.0
"""Neighbouring points are not independent in what the model leaves: so much more variance."""
_MODEL_DEPTH, _MODEL_RATE = 1.5e-3, 1e-5
"""What the model itself leaves, relative, of the rate more with each decibel of depth: a level
that moves within a band or a tone is not quite its mean (computed, for up to 6 dB and 9 Hz)."""
_TONE_WEIGHT = 2.0
"""A tone is one of a dozen, a point of a sweep one of some hundred."""


@dataclass(frozen=True, slots=True)
class TakeCourse:
    """Level of one take over time: along its sweeps, and at its check tones.

    Parameters
    ----------
    up_s, down_s : ndarray of float64, shape (k,)
        When each sweep passes a frequency, seconds from the start of the take.
    up_db, down_db : ndarray of float64, shape (k,)
        Level there.
    u_db : ndarray of float64, shape (k,)
        What noise makes of either.
    tone_s, tone_db : ndarray of float64, shape (n,)
        Middle and level of each check tone, what was played taken off.
    tone_kind : ndarray of float64, shape (n,)
        A number for each frequency and level: the response to it is not known, and the same at
        all times.
    """

    up_s: F64
    down_s: F64
    up_db: F64
    down_db: F64
    u_db: F64
    tone_s: F64
    tone_db: F64
    tone_kind: F64


def find_modulation(
    takes: Sequence[TakeCourse], tone_length_s: float
) -> tuple[Estimate, Estimate] | None:
    """Fit one rate and one depth, with a phase for each take, to levels over time.

    The level is taken as a cosine in decibels on top of a response that does not change. That
    response falls out of the difference of the two sweeps of a take, and of one take and the mean
    of all; the check tones add the part that looks the same in both sweeps.

    Parameters
    ----------
    takes : sequence of TakeCourse
        Of one run.
    tone_length_s : float
        Length that a tone was read over, under a Hann window.

    Returns
    -------
    tuple of (Estimate, Estimate) or None
        Rate in hertz, and depth from end to end in dB; None where this does not explain four
        fifths of the changes.
    """
    problem = _Problem(takes, tone_length_s)
    longest = max(float(take.down_s.max()) for take in takes)
    rates = np.arange(*_RATES_HZ, 0.1 / longest)
    best = float(rates[int(np.argmin([problem.rest(rate) for rate in rates]))])
    step = 0.1 / longest
    for _ in range(8):
        near = best + step * np.linspace(-1, 1, 9)
        best = float(near[int(np.argmin([problem.rest(rate) for rate in near]))])
        step /= 4
    rows, d = problem.rows(best), problem.levels
    found, left = _solved(rows, d)
    constants = rows[:, 2 * len(takes) :]
    bare = d - constants @ _solved(constants, d)[0]
    # Tones alone as well: sweeps of a path that clamps differ without any rate in it.
    for part in (slice(None), slice(-sum(len(take.tone_s) for take in takes), None)):
        unexplained = float(np.sum(np.square((d - rows @ found)[part])))
        if unexplained > (1 - _EXPLAINED) * float(np.sum(np.square(bare[part]))):
            return None
    noise = left / max(1, len(d) - rows.shape[1] - 1) * _RELATED
    covariance = np.linalg.pinv(rows.T @ rows) * noise
    depths, weights = [], []
    for k in range(len(takes)):
        own = slice(2 * k, 2 * k + 2)
        size = math.hypot(*found[own])
        direction = found[own] / max(size, 1e-12)
        depths.append(2 * size)
        weights.append(1 / max(4 * float(direction @ covariance[own, own] @ direction), 1e-18))
    depth = float(np.average(depths, weights=weights))
    u_depth = math.hypot(1 / math.sqrt(sum(weights)), _MODEL_DEPTH * depth)
    if depth < max(LEAST_DEPTH_DB, _SCORE * u_depth):
        return None
    # What the rate changes and neither depth, phase nor response can imitate.
    apart = 0.01 / longest
    turned = (problem.rows(best + apart) - problem.rows(best - apart)) @ found / (2 * apart)
    turned = turned - rows @ _solved(rows, turned)[0]
    model = _MODEL_RATE * best * (1 + depth)
    u_rate = math.hypot(math.sqrt(noise / float(turned @ turned)), model)
    return Estimate(best, u_rate, "Hz"), Estimate(depth, u_depth, "dB")


class _Problem:
    """Rows of the linear problem that is left once the rate is chosen."""

    def __init__(self, takes: Sequence[TakeCourse], tone_length_s: float) -> None:
        self.takes = takes
        self.tone_length_s = tone_length_s
        self.tones = sorted({float(k) for take in takes for k in take.tone_kind})
        mean = np.mean([(take.up_db + take.down_db) / 2 for take in takes], axis=0)
        parts = [take.up_db - take.down_db for take in takes]
        parts += [(take.up_db + take.down_db) / 2 - mean for take in takes] * (len(takes) > 1)
        parts += [_TONE_WEIGHT * take.tone_db for take in takes]
        self.levels: F64 = np.concatenate(parts)

    def rows(self, rate_hz: float) -> F64:
        """Cosine and sine of every take, then one constant for each kind of tone."""
        count, width = len(self.takes), 2 * len(self.takes) + len(self.tones)
        up = [_waves(take.up_s, rate_hz) for take in self.takes]
        down = [_waves(take.down_s, rate_hz) for take in self.takes]
        blocks: list[F64] = []
        for k in range(count):
            block = np.zeros((len(up[k]), width))
            block[:, 2 * k : 2 * k + 2] = up[k] - down[k]
            blocks.append(block)
        if count > 1:
            for k in range(count):
                block = np.zeros((len(up[k]), width))
                for j in range(count):
                    share = (1.0 if j == k else 0.0) - 1 / count
                    block[:, 2 * j : 2 * j + 2] = share * (up[j] + down[j]) / 2
                blocks.append(block)
        blur = _hann_response(rate_hz * self.tone_length_s)
        for k, take in enumerate(self.takes):
            block = np.zeros((len(take.tone_s), width))
            block[:, 2 * k : 2 * k + 2] = blur * _waves(take.tone_s, rate_hz)
            for i, kind in enumerate(self.tones):
                block[:, 2 * count + i] = take.tone_kind == kind
            blocks.append(_TONE_WEIGHT * block)
        return np.concatenate(blocks)

    def rest(self, rate_hz: float) -> float:
        """Sum of the squares that a rate leaves."""
        return _solved(self.rows(rate_hz), self.levels)[1]


def _waves(t_s: F64, rate_hz: float) -> F64:
    angle = 2 * math.pi * rate_hz * t_s
    return np.stack([np.cos(angle), np.sin(angle)], axis=1)


def _hann_response(periods: float) -> float:
    """Mean of a cosine over so many of its periods under a Hann window."""
    if abs(periods - 1) < 1e-6:
        return 0.5
    return float(np.sinc(periods) / (1 - periods**2))


def _solved(rows: F64, d: F64) -> tuple[F64, float]:
    """Least squares, and the sum of the squares that are left."""
    gram = rows.T @ rows
    right = rows.T @ d
    found = np.linalg.solve(gram + 1e-9 * np.trace(gram) / len(gram) * np.eye(len(gram)), right)
    left = float(d @ d - 2 * found @ right + found @ gram @ found)
    return np.asarray(found), max(left, 0.0)
