"""Level, treble, corners and polarity of a ratio."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.quantity import Estimate
from loopback.response.ratio import SHAPE_HZ
from loopback.response.reading import Ratio

LEVEL_LOW_HZ, LEVEL_HIGH_HZ = 200.0, 2000.0
TREBLE_HZ = (5000.0, 10_000.0, 15_000.0, 20_000.0)
DROPS_DB = (0.1, 1.0, 3.0)
_DB = 20 / np.log(10)
_REACH_OCTAVES = 1 / 8
_NOISY_BANDS = 9
_RUN = 3
"""A drop counts when this many bands in a row lie below it."""
_SLOPE_BANDS = 4
"""On either side, for the slope at a corner: steeper than the noise between two bands."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A frequency at which the level has dropped.

    Parameters
    ----------
    side : {"low", "high"}
        Below or above the middle.
    drop_db : float
        0.1, 1 or 3 dB below the level of 200 Hz to 2 kHz.
    f_hz : Estimate or None
        None: none that stands out of the doubt inside what was measured. An infinite doubt: 1 kHz
        itself lies below already.
    limit_hz : float
        Where the measurement ends on that side.
    """

    side: Literal["low", "high"]
    drop_db: float
    f_hz: Estimate | None
    limit_hz: float


def level_db(ratio: Ratio) -> tuple[F64, F64]:
    """Level of each band and its standard uncertainty from noise and repeats.

    Parameters
    ----------
    ratio : Ratio
        Pedal over reference.

    Returns
    -------
    level : ndarray of float64, shape (k,)
        dB.
    u : ndarray of float64, shape (k,)
        dB; without the common gain doubt.
    """
    size = np.maximum(np.abs(ratio.t), 1e-300)
    return _DB * np.log(size), _DB * np.sqrt(ratio.var / 2) / size


def level_offset(ratio: Ratio) -> Estimate:
    """Mean level from 200 Hz to 2 kHz, every band alike.

    Parameters
    ----------
    ratio : Ratio
        Pedal over reference.

    Returns
    -------
    Estimate
        dB; the gain drift between runs is in its uncertainty.
    """
    level, u = level_db(ratio)
    band = _clean((ratio.f_hz >= LEVEL_LOW_HZ) & (ratio.f_hz <= LEVEL_HIGH_HZ), u)
    count = np.count_nonzero(band)
    noise = float(np.sqrt(np.sum(u[band] ** 2))) / count
    return Estimate(float(np.mean(level[band])), float(np.hypot(noise, ratio.u_gain_db)), "dB")


def treble(ratio: Ratio, f_hz: float) -> Estimate | None:
    """Level at a frequency against 1 kHz.

    Parameters
    ----------
    ratio : Ratio
        Pedal over reference.
    f_hz : float
        Such as 10 kHz.

    Returns
    -------
    Estimate or None
        dB; None outside what was measured. A common gain cancels, drift of the treble does not.
    """
    top, middle = _local_level(ratio, f_hz), _local_level(ratio, 1000.0)
    if top is None or middle is None:
        return None
    shape = ratio.u_shape_db * (f_hz / SHAPE_HZ) ** 2
    u = float(np.sqrt(top[1] ** 2 + middle[1] ** 2 + shape**2))
    return Estimate(top[0] - middle[0], u, "dB")


def corners(ratio: Ratio) -> tuple[Corner, ...]:
    """Frequencies of -0.1, -1 and -3 dB on either side, against the level of 200 Hz to 2 kHz.

    Parameters
    ----------
    ratio : Ratio
        Pedal over reference.

    Returns
    -------
    tuple of Corner
        Low then high, small drop to large. The doubt of a frequency is that of the level there
        (noise, drift of the treble's shape, the middle) over the slope; a common gain cancels.
    """
    level, u = level_db(ratio)
    offset = level_offset(ratio)
    middle = offset.value
    u_middle = math.sqrt(max(offset.u**2 - ratio.u_gain_db**2, 0.0))
    u_common = np.hypot(u_middle, ratio.u_shape_db * (ratio.f_hz / SHAPE_HZ) ** 2)
    found = []
    for side in ("low", "high"):
        chosen = ratio.f_hz <= 1000.0 if side == "low" else ratio.f_hz >= 1000.0
        f_hz, lv = ratio.f_hz[chosen], level[chosen] - middle
        doubt, common = u[chosen], u_common[chosen]
        if side == "low":
            f_hz, lv, doubt, common = f_hz[::-1], lv[::-1], doubt[::-1], common[::-1]
        for drop in DROPS_DB:
            at = _crossing(f_hz, lv, doubt, common, drop)
            found.append(Corner(side, drop, at, float(f_hz[-1])))
    return tuple(found)


def polarity(ratio: Ratio) -> int:
    """Sign of the response between 200 Hz and 2 kHz.

    Parameters
    ----------
    ratio : Ratio
        Pedal over reference.

    Returns
    -------
    int
        +1 or -1.
    """
    band = (ratio.f_hz >= LEVEL_LOW_HZ) & (ratio.f_hz <= LEVEL_HIGH_HZ)
    t = ratio.t[band]
    if ratio.delay_held:
        t = t * np.exp(2j * np.pi * ratio.f_hz[band] * ratio.delay_s)
    return 1 if float(np.sum(t.real / ratio.var[band])) >= 0 else -1


def _clean(band: np.ndarray[tuple[int], np.dtype[np.bool_]], u: F64) -> F64:
    return np.asarray(band & (u <= 5 * np.median(u[band])))


def _local_level(ratio: Ratio, f_hz: float) -> tuple[float, float] | None:
    """Weighted parabola through the bands within an eighth of an octave, read at the frequency."""
    if not ratio.f_hz[0] <= f_hz <= ratio.f_hz[-1]:
        return None
    level, u = level_db(ratio)
    octaves = np.log2(ratio.f_hz / f_hz)
    near = np.abs(octaves) <= _REACH_OCTAVES
    basis = np.vander(octaves[near] / _REACH_OCTAVES, 3, increasing=True)
    weighted = basis / u[near, None] ** 2
    covariance = np.linalg.inv(basis.T @ weighted)
    value = covariance @ (weighted.T @ level[near])
    return float(value[0]), float(np.sqrt(covariance[0, 0]))


def _crossing(f_hz: F64, level: F64, doubt: F64, common: F64, drop_db: float) -> Estimate | None:
    """Walk outwards to the first lasting drop; average over a fifth of an octave where noisy."""
    if float(np.median(doubt)) > drop_db / 20:
        weight = np.ones(_NOISY_BANDS) / _NOISY_BANDS
        pad = _NOISY_BANDS // 2
        f_hz, common = f_hz[pad:-pad], common[pad:-pad]
        level = np.convolve(level, weight, "valid")
        doubt = np.sqrt(np.convolve(doubt**2, weight**2, "valid"))
    below = (level < -drop_db) & (doubt < drop_db / 3)
    lasting = np.flatnonzero(np.convolve(below, np.ones(_RUN), "valid") > _RUN - 0.5)
    if not len(lasting):
        return None
    i = int(lasting[0])
    if i == 0:
        return Estimate(float(f_hz[0]), math.inf, "Hz")
    share = (level[i - 1] + drop_db) / (level[i - 1] - level[i])
    place = float(np.exp(np.interp(share, (0, 1), np.log(f_hz[i - 1 : i + 1]))))
    near = slice(max(0, i - _SLOPE_BANDS), i + _SLOPE_BANDS)
    slope = float(np.polyfit(np.log(f_hz[near]), level[near], 1)[0])
    u_db = float(np.hypot(doubt[i - 1 : i + 1].max(), common[i]))
    return Estimate(place, place * u_db / max(abs(slope), 1e-6), "Hz")
