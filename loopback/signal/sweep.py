"""The synchronised exponential sweep: samples, phase, and the time of each frequency."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import F64


def sweep_constant_s(f1_hz: float, f2_hz: float, duration_s: float) -> float:
    """Return L = T / ln(f2/f1), the time in which the frequency grows by e.

    Parameters
    ----------
    f1_hz, f2_hz : float
        Start and end frequency.
    duration_s : float
        T.

    Returns
    -------
    float
        Seconds (Farina 2000; Novak, Lotton and Simon 2015).
    """
    return duration_s / math.log(f2_hz / f1_hz)


def synchronised_sweep(f1_hz: float, constant_s: float, rate_hz: float, length: int) -> F64:
    """Return ``sin(2π f1 L exp(t / L))`` (Novak, Lotton and Simon 2015).

    Without the "−1" of the plain exponential sweep every harmonic is itself such a sweep, moved
    earlier by ``L ln n``.

    Parameters
    ----------
    f1_hz : float
        Frequency at the first sample.
    constant_s : float
        L, seconds.
    rate_hz : float
        Sample rate.
    length : int
        Number of samples.

    Returns
    -------
    ndarray of float64, shape (length,)
        Unit amplitude, no fades.
    """
    return np.sin(sweep_phase_rad(np.arange(length) / rate_hz, f1_hz, constant_s))


def sweep_phase_rad(t_s: F64, f1_hz: float, constant_s: float) -> F64:
    """Phase of the sweep at given times, radians.

    Parameters
    ----------
    t_s : ndarray of float64
        Seconds from its first sample.
    f1_hz : float
        Frequency at the first sample.
    constant_s : float
        L, seconds.

    Returns
    -------
    ndarray of float64
        Same shape as `t_s`.
    """
    return 2 * np.pi * f1_hz * constant_s * np.exp(t_s / constant_s)


def time_of_frequency_s(f_hz: F64, f1_hz: float, constant_s: float) -> F64:
    """Time at which the sweep passes a frequency, ``L ln(f / f1)``.

    Parameters
    ----------
    f_hz : ndarray of float64
        Frequencies above zero.
    f1_hz : float
        Frequency at the first sample.
    constant_s : float
        L, seconds.

    Returns
    -------
    ndarray of float64
        Seconds, same shape as `f_hz`.
    """
    return constant_s * np.log(f_hz / f1_hz)


def harmonic_lead_s(order: int, constant_s: float) -> float:
    """How much earlier than the linear response a harmonic's response lies, ``L ln n``.

    Parameters
    ----------
    order : int
        n, 2 or more.
    constant_s : float
        L, seconds.

    Returns
    -------
    float
        Seconds (Farina 2000).
    """
    return constant_s * math.log(order)


def fade_ends(samples: F64, fade_in: float, fade_out: float, last: float) -> None:
    """Fade both ends with raised cosines, in place.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,)
        Changed in place.
    fade_in, fade_out : float
        Lengths of the fades in samples, whole or not.
    last : float
        Place of the last sample, from 0: n - 1, unless these are the samples of another clock.
    """
    head, tail = math.ceil(fade_in), math.ceil(fade_out) + 1
    rise = np.arange(head) / fade_in
    samples[:head] *= 0.5 - 0.5 * np.cos(np.pi * np.minimum(rise, 1))
    fall = (last + 1 - np.arange(len(samples) - tail, len(samples))) / fade_out
    samples[-tail:] *= 0.5 - 0.5 * np.cos(np.pi * np.clip(fall, 0, 1))
