"""A ripple along frequency in a reference: the signal goes round again through monitoring."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64
from loopback.quality import limits
from loopback.quality.finding import Finding
from loopback.response.reading import TakeReading

_ROUNDS_S = np.concatenate([np.arange(0.8e-3, 5e-3, 0.05e-3), np.arange(5e-3, 30e-3, 0.1e-3)])
"""Times of one round that are looked for: a converter there and back, up to a slow program."""
_LOW_HZ, _HIGH_HZ = 100.0, 5000.0


def judge_ripple(reading: TakeReading, where: str) -> tuple[Finding, ...]:
    """Look for the ripple of direct monitoring in a reference.

    Parameters
    ----------
    reading : TakeReading
        Of a take through the coupler.
    where : str
        Run and take.

    Returns
    -------
    tuple of Finding
        Code ``monitoring``.
    """
    # Only a ripple that both sweeps show is one.
    amplitude, delay = min(ripple_db(reading.f_hz, h) for h in (reading.up, reading.down))
    grade = limits.RIPPLE_DB.grade(amplitude)
    if grade == "good":
        return ()
    return (
        Finding(
            "monitoring",
            grade,
            f"ripple of ±{amplitude:.2f} dB, one round every {delay * 1000:.1f} ms",
            "The interface or a program sends its input back to its output.",
            "Turn direct monitoring and input monitoring off.",
            where,
        ),
    )


def ripple_db(f_hz: F64, h: C128) -> tuple[float, float]:
    """Find a periodic ripple along frequency, as a signal that goes round again makes.

    For each time of one round a cosine and a sine of frequency are fitted to the level beside a
    smooth polynomial; the largest ripple counts.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Logarithmic grid.
    h : ndarray of complex128, shape (k,)
        Response of a reference.

    Returns
    -------
    amplitude_db, delay_s : float
        Half of the peak-to-peak ripple, and the time of one round.
    """
    use = (f_hz > _LOW_HZ) & (f_hz < _HIGH_HZ)
    level = 20 * np.log10(np.maximum(np.abs(h[use]), 1e-12))
    waves = np.einsum("dwk,k->dw", _wave_fits(f_hz[use].tobytes()), level)
    amplitudes = np.hypot(waves[:, 0], waves[:, 1])
    best = int(np.argmax(amplitudes))
    return float(amplitudes[best]), float(_ROUNDS_S[best])


@lru_cache(maxsize=2)
def _wave_fits(grid: bytes) -> F64:
    """For each round that the bands resolve, what turns levels into the two fitted amplitudes.

    The grid of a signal never changes, so the least squares are solved once for all of its takes.
    """
    f_hz = np.frombuffer(grid)
    x = np.log(f_hz / f_hz[0]) / math.log(f_hz[-1] / f_hz[0]) * 2 - 1
    smooth = np.polynomial.legendre.legvander(x, 6)
    # Widths of the bands blur fast ripples at the top: weight by what the blur leaves.
    width = float(np.median(np.diff(np.log(f_hz)))) * f_hz
    fits = []
    for delay in _ROUNDS_S:
        blur = np.sinc(width * delay)
        keep = blur > 0.5
        if np.count_nonzero(keep) < 60:
            break
        turn = 2 * np.pi * f_hz[keep] * delay
        waves = np.stack([np.cos(turn), np.sin(turn)], axis=1) * blur[keep, None]
        fit = np.zeros((2, len(f_hz)))
        fit[:, keep] = np.linalg.pinv(np.concatenate([smooth[keep], waves], axis=1))[-2:]
        fits.append(fit)
    return np.array(fits)
