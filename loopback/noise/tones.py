"""Tones in a silence: what stands out of the noise, its frequency and level with their doubt."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.noise.spectrum import LEAK_DB, LOWEST_HZ, Spectrum
from loopback.quantity import Estimate

THRESHOLD = 20.0
"""A bin counts as a tone when its power is this many times the noise: by chance one silence in a
thousand has one (exponential distribution of the power, some 500 000 bins)."""
HIGHEST_FRACTION = 0.9
MOST_TONES = 200
_NEAR_BINS = 6
_SKIRT_HZ, _SKIRT_DB = 1.5, -40.0
"""So near to a stronger tone, what is weaker by more than this is that tone's own unsteadiness."""
_DB = 20 / math.log(10)


@dataclass(frozen=True, slots=True)
class Tone:
    """One sine.

    Parameters
    ----------
    f_hz : Estimate
        Frequency, hertz.
    level_dbfs : Estimate
        Level; a full-scale sine is 0 dBFS.
    """

    f_hz: Estimate
    level_dbfs: Estimate


def find_tones(spectrum: Spectrum) -> tuple[Tone, ...]:
    """Find every tone that stands out of the noise.

    Parameters
    ----------
    spectrum : Spectrum
        Of a silence.

    Returns
    -------
    tuple of Tone
        By frequency, from 15 Hz to nine tenths of half the sample rate; the strongest 200.
    """
    power = np.square(spectrum.bins.real) + np.square(spectrum.bins.imag)
    first = max(_NEAR_BINS, math.ceil(LOWEST_HZ / spectrum.step_hz))
    last = int(HIGHEST_FRACTION * (len(power) - 1))
    if last <= first + 2:
        return ()
    inside = power[first:last]
    least = np.maximum(spectrum.floor[first:last] * THRESHOLD, _leak_power(spectrum))
    high = (inside > least) & (inside > 0)
    peak = high & (inside >= power[first - 1 : last - 1]) & (inside > power[first + 1 : last + 1])
    found: list[int] = []
    for at in first + np.flatnonzero(peak)[np.argsort(-inside[peak])]:
        if not any(_belongs(int(at), known, power, spectrum.step_hz) for known in found):
            found.append(int(at))
        if len(found) == MOST_TONES:
            break
    tones = [measure_tone(spectrum, at * spectrum.step_hz) for at in sorted(found)]
    return tuple(tones)


def measure_tone(spectrum: Spectrum, near_hz: float) -> Tone:
    """Measure the tone nearest to a frequency, within a bin of it.

    Frequency and level are those of the maximum of the windowed spectrum. Their variances follow
    from the noise beside it: with density S, duration T and window w,
    ``u²(A) = S·ENBW / T`` and ``u²(ω) = S·mean(w²t²) / (A²·T·mean(w t²)²)`` (for a flat window
    the bound of Rife and Boorstyn 1974).

    Parameters
    ----------
    spectrum : Spectrum
        Of a silence.
    near_hz : float
        Where to look.

    Returns
    -------
    Tone
        Also where there is none: its level is then that of the noise in one bin, and its
        uncertainty as large.
    """
    centre, course = spectrum.around(near_hz)
    start, width = near_hz / spectrum.step_hz - centre, 1.0
    for _ in range(4):
        offsets = start + np.linspace(-width, width, 21)
        size = np.abs(spectrum.at(course, offsets))
        start = float(offsets[int(np.argmax(size))])
        width /= 8
    offset = _summit(offsets, size)
    size_at = float(np.abs(spectrum.at(course, np.array([offset])))[0])
    f_hz = (centre + offset) * spectrum.step_hz
    u = line_u(spectrum, f_hz)
    # Noise beside the tone lengthens it: the mean of its square is A² + u².
    amplitude = math.sqrt(max(size_at**2 - u**2, 0.25 * size_at**2))
    density = u**2 * spectrum.seconds / spectrum.bandwidth_bins
    u_omega = math.sqrt(density * spectrum.fourth / spectrum.seconds) / (
        amplitude * spectrum.second if amplitude > 0 else math.inf
    )
    return Tone(
        Estimate(f_hz, u_omega / (2 * math.pi), "Hz"),
        level_of(amplitude, u),
    )


def line_u(spectrum: Spectrum, f_hz: float) -> float:
    """Return the standard uncertainty of the amplitude of a tone at a frequency.

    Parameters
    ----------
    spectrum : Spectrum
        Of a silence.
    f_hz : float
        Frequency.

    Returns
    -------
    float
        Fraction of full scale: half of the noise power in a bin lies along the tone.
    """
    return math.sqrt(spectrum.floor_at(f_hz) / 2)


def level_of(amplitude: float, u: float) -> Estimate:
    """Turn an amplitude into a level.

    Parameters
    ----------
    amplitude, u : float
        Fraction of full scale.

    Returns
    -------
    Estimate
        dBFS; minus infinity for zero.
    """
    if amplitude <= 0:
        return Estimate(-math.inf, math.inf if u > 0 else 0.0, "dB")
    return Estimate(_DB * math.log(amplitude), _DB * u / amplitude, "dB")


def limit_dbfs(spectrum: Spectrum, f_hz: F64) -> F64:
    """Level that a tone must have to be found.

    Parameters
    ----------
    spectrum : Spectrum
        Of a silence.
    f_hz : ndarray of float64, shape (k,)
        Frequencies.

    Returns
    -------
    ndarray of float64, shape (k,)
        dBFS: 13 dB over the noise of one bin, and never further below the strongest tone than the
        window allows.
    """
    at = np.clip(np.rint(f_hz / spectrum.step_hz).astype(np.int64), 0, len(spectrum.floor) - 1)
    power = np.maximum(spectrum.floor[at] * THRESHOLD, _leak_power(spectrum))
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(power))


def _leak_power(spectrum: Spectrum) -> float:
    return float(spectrum.strongest * 10 ** (LEAK_DB / 10))


def _belongs(at: int, known: int, power: F64, step_hz: float) -> bool:
    """Tell whether a peak is part of a stronger one: its main lobe, or its skirt."""
    apart = abs(at - known)
    if apart <= _NEAR_BINS:
        return True
    near = apart * step_hz <= _SKIRT_HZ
    return near and bool(power[at] < power[known] * 10 ** (_SKIRT_DB / 10))


def _summit(offsets: F64, size: F64) -> float:
    """Vertex of the parabola through the largest value and its neighbours."""
    at = min(max(int(np.argmax(size)), 1), len(size) - 2)
    left, middle, right = (float(v) for v in size[at - 1 : at + 2])
    bend = left - 2 * middle + right
    step = float(offsets[1] - offsets[0])
    return float(offsets[at]) + (0.5 * step * (left - right) / bend if bend < 0 else 0.0)
