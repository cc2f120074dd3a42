"""Tones in the short silences of a run without a long one: coarse in frequency, yet heard."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import F64
from loopback.noise.figures import FULL_SCALE_SINE_POWER
from loopback.noise.survey import ToneSurvey
from loopback.noise.tones import Tone
from loopback.quantity import Estimate

_BLOCK = 48
_HALF = 2
_SCORE = 10.0
_MAINS_TOP_HZ = 1500.0
_DB = 10 / math.log(10)


def survey_density(f_hz: F64, psd: F64, seconds: float, takes: int) -> ToneSurvey:
    """Find tones in a density.

    For telling whether a tone of another run is there at all. Lines of the mains are left out by
    their place, up to 1.5 kHz; beyond, and between, lines 20 Hz apart are one.

    Parameters
    ----------
    f_hz, psd : ndarray of float64, shape (k,)
        One-sided density on equally spaced points, full scale squared per hertz.
    seconds : float
        Length of the silence of one take.
    takes : int
        How many it is a mean of.

    Returns
    -------
    ToneSurvey
        Frequencies to within a point; no mains series.
    """
    step = float(f_hz[1] - f_hz[0])
    dof = max(2.0, 1.2 * takes * (2 * seconds * step - 1))
    blocks = psd[: len(psd) // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    middles = (np.arange(len(blocks)) + 0.5) * _BLOCK
    # The median of a chi-square lies below its mean (Wilson and Hilferty 1931).
    medians = np.median(blocks, axis=1) / (1 - 2 / (9 * dof)) ** 3
    floor = np.interp(np.arange(len(psd)), middles, medians)
    least = floor * (1 + _SCORE * math.sqrt(2 / dof))
    points = np.arange(len(psd))
    inner = (f_hz > 3 * step) & (points > _HALF) & (points < len(psd) - _HALF - 1)
    peak = inner & (psd > least) & ~_on_mains(f_hz, step)
    tones = []
    for at in np.flatnonzero(peak):
        around = slice(at - _HALF, at + _HALF + 1)
        if psd[at] < np.max(psd[around]):
            continue
        power = float(np.sum(psd[around] - floor[at])) * step
        u_power = float(floor[at]) * step * math.sqrt((2 * _HALF + 1) * 4 / dof) + 0.02 * power
        level = _DB * math.log(max(power, 1e-30) / FULL_SCALE_SINE_POWER)
        tones.append(
            Tone(
                Estimate(float(f_hz[at]), step / math.sqrt(3), "Hz"),
                Estimate(level, _DB * u_power / max(power, 1e-30), "dB"),
            )
        )
    shown = np.geomspace(max(10.0, float(f_hz[1])), 0.9 * float(f_hz[-1]), 48)
    # A sine under a Hann window spreads its power over 1.5 points.
    limit = np.interp(shown, f_hz, least) * 1.5 * step / FULL_SCALE_SINE_POWER
    with np.errstate(divide="ignore"):
        limit_dbfs = np.asarray(10 * np.log10(limit))
    return ToneSurvey(None, tuple(tones), shown, limit_dbfs, seconds * takes)


def _on_mains(f_hz: F64, step: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    out = np.zeros(len(f_hz), dtype=np.bool_)
    for mains in (50.0, 60.0):
        out |= np.abs(f_hz - mains * np.rint(f_hz / mains)) <= 1.5 * step
    return np.asarray(out & (f_hz < _MAINS_TOP_HZ))
