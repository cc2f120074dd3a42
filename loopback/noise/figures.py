"""Noise levels of a silence with their intervals, and what a pedal adds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.noise.mains import find_mains
from loopback.noise.weighting import a_weighting_power
from loopback.noise.weighting_468 import AES17_SHIFT_DB, weighting_468_power
from loopback.quantity import Estimate

Weighting = Literal["a", "none", "468"]
"""Which level: A-weighted, unweighted, or through the network of BS.468-4 in the use of AES17."""
BAND_HZ = (20.0, 20_000.0)
FULL_SCALE_SINE_POWER = 0.5
REPEATABILITY_DB = 0.1
"""Standard uncertainty of a difference of two noise levels beyond their own scatter: gain, hum and
room are not quite the same in two runs. Judgement, to be tuned on real rigs."""

_DB = 10 / math.log(10)


@dataclass(frozen=True, slots=True)
class NoiseFigures:
    """Noise of one run.

    Parameters
    ----------
    unweighted_dbfs, a_weighted_dbfs : Estimate
        Level 20 Hz to 20 kHz, mains lines included.
    mains_hz : float or None
        50 or 60, as found in the data; None: no series stands out.
    mains_over_noise_db : float
        Power of the whole mains series over that of all other noise, 20 Hz to 20 kHz;
        minus infinity where `mains_hz` is None.
    weighted_468_dbfs : Estimate or None
        Level in rms through the network of ITU-R BS.468-4, 5.63 dB lower than that has it: the use
        of AES17-2015 (5.2.7), 0 dB at 2 kHz. None where only other figures were known.
    mains_u_db : float
        Standard uncertainty of `mains_over_noise_db`, from the scatter of the density.
    """

    unweighted_dbfs: Estimate
    a_weighted_dbfs: Estimate
    mains_hz: float | None
    mains_over_noise_db: float
    weighted_468_dbfs: Estimate | None = None
    mains_u_db: float = 0.0


@dataclass(frozen=True, slots=True)
class AddedNoise:
    """What the pedal itself adds to the noise of its reference.

    Parameters
    ----------
    level_dbfs : Estimate or None
        Level of the added noise; None when the setup's own noise hides it.
    below_dbfs : float
        Upper end of the 95 % interval of the added noise, dBFS; what may be claimed when
        `level_dbfs` is None.
    """

    level_dbfs: Estimate | None
    below_dbfs: float


def noise_figures(f_hz: F64, psd: F64, duration_s: float, takes: int = 1) -> NoiseFigures:
    """Integrate a density of `welch_density` to levels.

    Degrees of freedom of a band power are ``2 T (∫S)² / ∫S²`` with T the effective duration of
    half-overlapping Hann segments (Welch 1967; JCGM 100:2008, G.4 for the interval). A spectrum
    full of lines has few of them: hum is not steady, and the wide interval says so.

    Parameters
    ----------
    f_hz, psd : ndarray of float64, shape (k,)
        One-sided density on equally spaced points, full scale squared per hertz.
    duration_s : float
        Length of the silence it comes from, seconds; of one take where it is a mean of several.
    takes : int
        How many takes of that length the density is a mean of.

    Returns
    -------
    NoiseFigures
        Levels in dBFS. Digital zeros give minus infinity with an uncertainty of zero.

    Raises
    ------
    ArgumentError
        If the density has fewer than two points or does not reach 20 Hz.
    """
    if len(f_hz) < 2 or f_hz[-1] <= BAND_HZ[0]:
        raise ArgumentError("A density was given that does not reach 20 Hz.")
    step = float(f_hz[1] - f_hz[0])
    segments = max(1, math.floor((duration_s * step - 1) * 2 + 1e-6) + 1)
    effective_s = takes * 18 * segments**2 / ((38 * segments - 3) * step)
    point_dof = takes * 36 * segments**2 / (19 * segments - 1)
    inside = _share_inside(f_hz, step)
    plain = _level(psd * inside, step, effective_s, point_dof)
    weighted = _level(psd * inside * a_weighting_power(f_hz), step, effective_s, point_dof)
    shaped = psd * inside * weighting_468_power(f_hz) * 10.0 ** (AES17_SHIFT_DB / 10)
    through_468 = _level(shaped, step, effective_s, point_dof)
    mains = find_mains(f_hz, psd, point_dof)
    if mains is None:
        return NoiseFigures(plain, weighted, None, -math.inf, through_468)
    rest = float(np.sum(psd * inside)) * step - mains.power
    over = math.inf if mains.power > 0 else -math.inf
    u_db = 0.0
    if rest > 0 and mains.power > 0:
        over = 10 * math.log10(mains.power / rest)
        # Noise taken for line is missing in the rest; what only moves the line is not.
        exchanged = mains.u_noise * (1 / mains.power + 1 / rest)
        moved = mains.u_line / mains.power
        u_db = _DB * math.hypot(exchanged, moved, 1 / math.sqrt(effective_s * BAND_HZ[1]))
    return NoiseFigures(plain, weighted, mains.f_hz, over, through_468, u_db)


def noise_difference(
    pedal: NoiseFigures,
    reference: NoiseFigures,
    weighting: Weighting = "a",
    u_repeat_db: float = REPEATABILITY_DB,
) -> Estimate:
    """Level of the noise with the pedal over that of its reference.

    Parameters
    ----------
    pedal, reference : NoiseFigures
        Of runs with the same feed and load.
    weighting : {"a", "none", "468"}
        Which level; the A-weighted one is the less disturbed by hum.
    u_repeat_db : float
        Standard uncertainty for what differs between any two runs.

    Returns
    -------
    Estimate
        dB. An interval that holds 0 means: no different as far as this setup can tell.
    """
    a, b = _of(pedal, weighting), _of(reference, weighting)
    if not (math.isfinite(a.value) and math.isfinite(b.value)):
        return Estimate(a.value - b.value if a.value != b.value else 0.0, math.inf, "dB")
    u = math.sqrt(a.u**2 + b.u**2 + u_repeat_db**2)
    # Welch–Satterthwaite (JCGM 100:2008, equation G.2b).
    spread = a.u**4 / a.dof + b.u**4 / b.dof
    return Estimate(a.value - b.value, u, "dB", u**4 / spread if spread > 0 else math.inf)


def added_noise(
    pedal: NoiseFigures,
    reference: NoiseFigures,
    weighting: Weighting = "a",
    u_repeat_db: float = REPEATABILITY_DB,
) -> AddedNoise:
    """Take the reference's noise power off the pedal's: what the pedal adds by itself.

    Not for a pedal that changes the impedance of a resistor feed much: the thermal noise of the
    feed then differs between the two runs, and the difference may even be negative.

    Parameters
    ----------
    pedal, reference : NoiseFigures
        Of runs with the same feed and load.
    weighting : {"a", "none", "468"}
        Which level.
    u_repeat_db : float
        As in `noise_difference`.

    Returns
    -------
    AddedNoise
        A level where the 95 % interval of the difference lies above zero, else only a bound.
    """
    difference = noise_difference(pedal, reference, weighting, u_repeat_db)
    floor = _of(reference, weighting).value
    if not math.isfinite(difference.u):
        return AddedNoise(None, _of(pedal, weighting).value)
    low, high = difference.interval()
    below = floor + _added_db(high) if high > 0 else floor + _added_db(difference.half_width())
    if low <= 0:
        return AddedNoise(None, below)
    ratio = 10 ** (difference.value / 10)
    u = difference.u * ratio / (ratio - 1)
    return AddedNoise(Estimate(floor + _added_db(difference.value), u, "dB", difference.dof), below)


def _of(figures: NoiseFigures, weighting: Weighting) -> Estimate:
    if weighting == "468":
        return figures.weighted_468_dbfs or Estimate(-math.inf, math.inf, "dB")
    return figures.a_weighted_dbfs if weighting == "a" else figures.unweighted_dbfs


def _added_db(difference_db: float) -> float:
    return 10 * math.log10(math.expm1(difference_db / _DB))


def _share_inside(f_hz: F64, step: float) -> F64:
    """Share of each point's own width that lies in the band."""
    low = np.maximum(f_hz - step / 2, BAND_HZ[0])
    high = np.minimum(f_hz + step / 2, BAND_HZ[1])
    return np.asarray(np.clip((high - low) / step, 0.0, 1.0))


def _level(psd: F64, step: float, effective_s: float, point_dof: float) -> Estimate:
    power = float(np.sum(psd)) * step
    if power <= 0:
        return Estimate(-math.inf, 0.0, "dB")
    # The mean square of an estimated density is too large by 1 + 2 / dof of one point.
    square = float(np.sum(np.square(psd))) * step / (1 + 2 / point_dof)
    dof = 2 * effective_s * power**2 / square
    u = _DB * math.sqrt(2 / dof)
    return Estimate(10 * math.log10(power / FULL_SCALE_SINE_POWER), u, "dB", dof)
