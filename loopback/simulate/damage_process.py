"""What software does to a recording behind its owner's back: pure functions on samples.

The same rules as in `loopback.simulate.damage`; these work on the whole recording.
"""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError

_HALF_TAPS = 12
_WINDOW_BETA = 14.0


def automatic_gain(
    samples: F64,
    rate_hz: int,
    target_dbfs: float = -20.0,
    most_db: float = 12.0,
    attack_s: float = 0.05,
    release_s: float = 0.5,
) -> F64:
    """Let an automatic gain control ride the level.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    rate_hz : int
        Sample rate.
    target_dbfs : float
        Level it steers to, dBFS of a sine.
    most_db : float
        It turns up or down by no more than this, dB.
    attack_s, release_s : float
        Time constants of turning down and up, seconds.

    Returns
    -------
    ndarray of float64
        Same shape.
    """
    block = max(1, round(0.01 * rate_hz))
    loudest = np.abs(samples) if samples.ndim == 1 else np.max(np.abs(samples), axis=1)
    starts = np.arange(0, len(samples), block)
    power = np.add.reduceat(loudest**2, starts) / np.diff(np.append(starts, len(samples)))
    wanted = np.clip(target_dbfs - 10 * np.log10(2 * power + 1e-12), -most_db, most_db)
    gain = np.empty_like(wanted)
    now = 0.0
    for i, goal in enumerate(wanted):
        constant = attack_s if goal < now else release_s
        now += (goal - now) * (1 - math.exp(-block / rate_hz / constant))
        gain[i] = now
    factor = 10.0 ** (np.interp(np.arange(len(samples)), starts + block / 2, gain) / 20)
    return samples * (factor if samples.ndim == 1 else factor[:, None])


def lossy_lowpass(
    samples: F64, rate_hz: int, cutoff_hz: float = 16_000.0, width_hz: float = 200.0
) -> F64:
    """Cut the top off as lossy compression at a low bit rate does.

    Only the cut, not the noise of the coder; nothing at all is left above `cutoff_hz`.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    rate_hz : int
        Sample rate.
    cutoff_hz : float
        Nothing passes from here upwards (about 16 kHz at 128 kbit/s: common practice).
    width_hz : float
        Width of the slope below it.

    Returns
    -------
    ndarray of float64
        Same shape.
    """
    f_hz = np.fft.rfftfreq(len(samples), 1 / rate_hz)
    slope = np.clip((cutoff_hz - f_hz) / width_hz, 0.0, 1.0)
    keep = 0.5 - 0.5 * np.cos(np.pi * slope)
    spectrum = np.fft.rfft(samples, axis=0)
    spectrum *= keep if samples.ndim == 1 else keep[:, None]
    return np.fft.irfft(spectrum, len(samples), axis=0)


def resample_and_back(samples: F64, rate_hz: int, other_rate_hz: int) -> F64:
    """Convert to another sample rate and back, as a system mixer does between two programs.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    rate_hz, other_rate_hz : int
        Rate of the recording, and the rate in between.

    Returns
    -------
    ndarray of float64
        Same shape; band-limited by a polyphase filter at the lower of the two rates.
    """
    from scipy.signal import resample_poly

    common = math.gcd(rate_hz, other_rate_hz)
    up, down = other_rate_hz // common, rate_hz // common
    back = resample_poly(resample_poly(samples, up, down, axis=0), down, up, axis=0)
    out = np.zeros_like(samples)
    count = min(len(out), len(back))
    out[:count] = back[:count]
    return out


def drift_clock(samples: F64, ppm: float) -> F64:
    """Record with a clock that runs faster than the one that plays.

    Band-limited interpolation: twofold oversampling, then a sinc under a window
    ``exp(β (√(1 - x²) - 1))``; exact to 1e-6 of full scale up to 0.47 times the sample rate.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    ppm : float
        How much faster the recording clock runs, parts per million: at 30 a recording has 30
        samples more in a million.

    Returns
    -------
    ndarray of float64, shape (m,) or (m, channels)
        ``m = floor(n (1 + ppm / 1e6))``.
    """
    if samples.ndim == 2:
        return np.stack([drift_clock(column, ppm) for column in samples.T], axis=1)
    count = len(samples)
    edge = 2 * _HALF_TAPS
    spectrum = np.fft.rfft(np.concatenate([samples, np.zeros(edge)]))
    twice = 2 * np.fft.irfft(spectrum, 2 * (count + edge))
    twice = np.concatenate([twice[-edge:], twice])
    out = np.empty(math.floor(count * (1 + ppm * 1e-6)))
    taps = np.arange(1 - _HALF_TAPS, _HALF_TAPS + 1)
    for start in range(0, len(out), 65_536):
        at = 2 * np.arange(start, min(start + 65_536, len(out))) / (1 + ppm * 1e-6)
        whole = np.minimum(np.floor(at).astype(np.int64), 2 * count - 1)
        x = (at - whole)[:, None] - taps
        window = np.exp(_WINDOW_BETA * (np.sqrt(np.maximum(0.0, 1 - (x / _HALF_TAPS) ** 2)) - 1))
        out[start : start + len(at)] = np.einsum(
            "ij,ij->i", twice[whole[:, None] + taps + edge], np.sinc(x) * window
        )
    return out


def truncate_bits(samples: F64, bits: int) -> F64:
    """Keep only the upper bits of each sample, without dither and rounding downwards.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    bits : int
        Word length kept, sign included: 16 or 8.

    Returns
    -------
    ndarray of float64
        Same shape; whole multiples of ``2**(1 - bits)``.

    Raises
    ------
    ArgumentError
        If `bits` is not between 2 and 32.
    """
    if not 2 <= bits <= 32:
        raise ArgumentError(f"A word length of {bits} bits was given; it lies between 2 and 32.")
    steps = 2.0 ** (bits - 1)
    return np.clip(np.floor(samples * steps), -steps, steps - 1) / steps
