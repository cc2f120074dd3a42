"""What happens to a recording on its way: pure functions on samples.

Every function takes samples of shape (n,) or (n, channels), leaves its argument alone and returns
a new array; positions and lengths are in samples of the recording. What is random takes a seed.
"""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError


def drop_samples(samples: F64, start: int, count: int) -> F64:
    """Lose a stretch: what follows moves forward, as after a buffer overrun.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    start, count : int
        The stretch that is lost.

    Returns
    -------
    ndarray of float64
        Shorter by `count`.

    Raises
    ------
    ArgumentError
        If the stretch does not lie inside the recording.
    """
    _inside(samples, start, count)
    return np.concatenate([samples[:start], samples[start + count :]])


def zero_block(samples: F64, start: int, count: int) -> F64:
    """Replace a stretch by zeros in place, as a driver does that had nothing to hand over.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    start, count : int
        The stretch.

    Returns
    -------
    ndarray of float64
        Same shape.

    Raises
    ------
    ArgumentError
        If the stretch does not lie inside the recording.
    """
    _inside(samples, start, count)
    out = samples.copy()
    out[start : start + count] = 0.0
    return out


def repeat_block(samples: F64, start: int, count: int) -> F64:
    """Replace a stretch by the one before it, as a driver does that hands over a buffer twice.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    start, count : int
        The stretch that is overwritten; the `count` samples before it are what is heard instead.

    Returns
    -------
    ndarray of float64
        Same shape.

    Raises
    ------
    ArgumentError
        If either stretch does not lie inside the recording.
    """
    _inside(samples, start - count, 2 * count)
    out = samples.copy()
    out[start : start + count] = samples[start - count : start]
    return out


def change_gain(samples: F64, start: int, count: int, gain_db: float) -> F64:
    """Change the gain during a stretch.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    start, count : int
        The stretch.
    gain_db : float
        Change of level inside it, dB.

    Returns
    -------
    ndarray of float64
        Same shape.

    Raises
    ------
    ArgumentError
        If the stretch does not lie inside the recording.
    """
    _inside(samples, start, count)
    out = samples.copy()
    out[start : start + count] *= 10.0 ** (gain_db / 20)
    return out


def add_click(samples: F64, at: int, peak: float, length: int = 24) -> F64:
    """Add one click: a pulse that dies away within `length` samples.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    at : int
        Its first sample.
    peak : float
        Its largest value, fraction of full scale; the sign is its polarity.
    length : int
        Samples until it has fallen to 1/1000.

    Returns
    -------
    ndarray of float64
        Same shape.

    Raises
    ------
    ArgumentError
        If the click does not lie inside the recording.
    """
    _inside(samples, at, length)
    out = samples.copy()
    _add(out, at, peak * 1000.0 ** (-np.arange(length) / length))
    return out


def add_slam(samples: F64, at: int, peak: float, rate_hz: int, seed: int = 0) -> F64:
    """Add the sound of a door or of a knock on the table: 0.3 s, low, with a rough onset.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    at : int
        Its first sample.
    peak : float
        Its largest absolute value, fraction of full scale.
    rate_hz : int
        Sample rate.
    seed : int
        Of the rough part.

    Returns
    -------
    ndarray of float64
        Same shape.

    Raises
    ------
    ArgumentError
        If the slam does not lie inside the recording.
    """
    count = round(0.3 * rate_hz)
    _inside(samples, at, count)
    t = np.arange(count) / rate_hz
    rough = np.random.default_rng(seed).standard_normal(count)
    wave = np.sin(2 * np.pi * 35.0 * t) * np.exp(-t / 0.06) + 0.3 * rough * np.exp(-t / 0.008)
    out = samples.copy()
    _add(out, at, peak * wave / np.max(np.abs(wave)))
    return out


def clip_at(samples: F64, level: float) -> F64:
    """Cut off everything beyond a level, as a stage does that has run out of supply.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    level : float
        Largest absolute value that passes.

    Returns
    -------
    ndarray of float64
        Same shape.
    """
    return np.clip(samples, -level, level)


def reverse_polarity(samples: F64) -> F64:
    """Turn the sign of every sample.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.

    Returns
    -------
    ndarray of float64
        Same shape.
    """
    return -samples


def add_offset(samples: F64, offset: float) -> F64:
    """Add a constant.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    offset : float
        Fraction of full scale.

    Returns
    -------
    ndarray of float64
        Same shape.
    """
    return samples + offset


def cut_head(samples: F64, count: int) -> F64:
    """Lose the first samples, as when recording was started too late.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    count : int
        How many are lost.

    Returns
    -------
    ndarray of float64
        Shorter by `count`.

    Raises
    ------
    ArgumentError
        If there are not that many.
    """
    return drop_samples(samples, 0, count)


def cut_tail(samples: F64, count: int) -> F64:
    """Lose the last samples, as when recording was stopped too early.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,) or (n, channels)
        Fraction of full scale.
    count : int
        How many are lost.

    Returns
    -------
    ndarray of float64
        Shorter by `count`.

    Raises
    ------
    ArgumentError
        If there are not that many.
    """
    return drop_samples(samples, len(samples) - count, count)


def _inside(samples: F64, start: int, count: int) -> None:
    if count < 0 or start < 0 or start + count > len(samples):
        raise ArgumentError(
            f"A stretch of {count} samples from sample {start} was given;"
            f" the recording has {len(samples)} samples."
        )


def _add(out: F64, at: int, wave: F64) -> None:
    stretch = out[at : at + len(wave)]
    stretch += wave if out.ndim == 1 else wave[:, None]
