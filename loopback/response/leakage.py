"""What steady tones, such as strong hum, leave in the response between their own frequencies.

A tone that runs through the window of a transform is cut off at both its ends, and those two edges
are heard at every frequency. The density of a silence, taken under a window that falls to zero,
does not show them: it has the tone itself, and nothing between two tones.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.sweeps import matched_filters, sweep_kernel
from loopback.signal.take import Signal

_STANDS_OUT = 30.0
"""A tone's density over that of its surroundings; by chance ten segments of noise reach 5."""
_BLOCK = 25
"""Points of the density that make the surroundings: 100 Hz."""
_SPREAD = 2
"""Points to either side that hold the power of a tone under a Hann window."""
_MOST_TONES = 40


def leaked_variance(
    signal: Signal, noise_f_hz: F64, noise_psd: F64, window_length: int, lead: float
) -> F64 | float:
    """Variance that the tones in a silence give the response of one sweep away from themselves.

    Parameters
    ----------
    signal : Signal
        What was played.
    noise_f_hz, noise_psd : ndarray of float64, shape (m,)
        One-sided density of the silence on even points from 0, full scale squared per hertz, Hann
        segments; nan where it is not known.
    window_length : int
        Recorded samples that went into the transform.
    lead : float
        Samples from its start to that of the sweep.

    Returns
    -------
    ndarray of float64, shape (k,), or 0.0
        E|error|² of each band over the phase of each tone; it comes on top of
        `loopback.response.silence.noise_variance`. Zero where nothing stands out.
    """
    spacing = float(noise_f_hz[1])
    total: F64 | float = 0.0
    for at in _tones(noise_psd):
        part = slice(at - _SPREAD, at + _SPREAD + 1)
        power = float(noise_psd[part].sum()) * spacing
        centre = float(np.average(noise_f_hz[part], weights=noise_psd[part]))
        total = total + power * _of_one_tone(signal, round(centre), window_length, lead, spacing)
    return total


def _tones(psd: F64) -> list[int]:
    """Points at which a tone stands out of its surroundings; the strongest, if there are many."""
    if not np.isfinite(psd).all():
        return []
    blocks = psd[: len(psd) // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    # A tone's own skirts fill a fifth of a block at most, so that the median is the noise.
    loud = np.flatnonzero(blocks > _STANDS_OUT * np.median(blocks, axis=1, keepdims=True))
    found = [
        int(at)
        for at in loud
        if _SPREAD <= at < len(psd) - _SPREAD
        and psd[at] == np.max(psd[at - _SPREAD : at + _SPREAD + 1])
    ]
    return sorted(found, key=lambda at: -psd[at])[:_MOST_TONES]


@lru_cache(maxsize=128)
def _of_one_tone(
    signal: Signal, f_hz: int, window_length: int, lead: float, spacing_hz: float
) -> F64:
    """Variance per unit of mean square of one tone.

    Beginning and end of the window each leave ``1 / (1 - exp(-jx))`` at the angle x from the tone;
    the phase between the two is not known well enough to add them as numbers.
    """
    kernel = sweep_kernel(signal)
    step = kernel.rate_hz / kernel.n_fft
    bins = np.arange(kernel.first, kernel.last, dtype=np.float64)
    # The edge at the window's end, on the bins: a turn that is one for a whole transform.
    turn = np.exp(-2j * np.pi * bins * ((window_length % kernel.n_fft) / kernel.n_fft))
    up, down, energy = matched_filters(signal, 0.0, lead, lead)
    total = np.zeros(len(kernel.f_hz))
    for tone in (f_hz / step, -f_hz / step):
        away = bins - tone
        away[np.abs(away) < 1] = 1.0
        edge: C128 = 1 / (1 - np.exp(-2j * np.pi * away / kernel.n_fft))
        for seen in (edge, edge * turn):
            for matched in (up, down):
                total += np.abs(kernel.band_sums(seen * matched)) ** 2 / 2
    # A tone of mean square 1 has two halves of amplitude 1/√2.
    total *= 0.5 / energy**2
    total[np.abs(kernel.f_hz - f_hz) < spacing_hz] = 0.0
    total.flags.writeable = False
    return total
