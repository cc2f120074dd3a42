"""Imperfections of an interface that are a response over frequency, each a pure function.

All are factors on the complex response, 1 where there is no imperfection. None of them is minimum
phase but the couplings: converters filter with linear phase, their delay is part of the latency.
"""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64

TILT_HZ = 20_000.0
"""Where the size of a treble tilt is stated."""

_TILT_CORNER_HZ = 10_000.0
_CROSSTALK_HZ = 1000.0


def coupling_highpass(f_hz: F64, corner_hz: float) -> C128:
    """Response of one coupling capacitor, first order.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    corner_hz : float
        Where it is 3 dB down; 0: direct coupling.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Factor.
    """
    if corner_hz == 0:
        return np.ones(len(f_hz), dtype=np.complex128)
    return np.asarray(1j * f_hz / (1j * f_hz + corner_hz))


def band_edge(f_hz: F64, edge_hz: float | None, order: int) -> F64:
    """Magnitude of a maximally flat low-pass with linear phase.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    edge_hz : float or None
        Where it is 3 dB down; None: no edge.
    order : int
        Order of the equivalent Butterworth filter.

    Returns
    -------
    ndarray of float64, shape (k,)
        Factor.
    """
    if edge_hz is None:
        return np.ones(len(f_hz))
    return np.asarray(1 / np.sqrt(1 + (f_hz / edge_hz) ** (2 * order)))


def passband_ripple(f_hz: F64, ripple_db: float, period_hz: float) -> F64:
    """Ripple of an equiripple converter filter: an echo before and one after the sound.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    ripple_db : float
        Peak deviation, dB.
    period_hz : float
        From crest to crest; the echoes lie ``1 / period_hz`` away.

    Returns
    -------
    ndarray of float64, shape (k,)
        Factor.
    """
    return np.asarray(10.0 ** (ripple_db / 20 * np.cos(2 * np.pi * f_hz / period_hz)))


def crosstalk(f_hz: F64, level_db: float | None) -> C128:
    """Leakage from output to input: a stray capacitance, so it rises by 6 dB per octave.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    level_db : float or None
        Level at 1 kHz relative to what is played; None: none.

    Returns
    -------
    ndarray of complex128, shape (k,)
        To be added to the response, in quadrature with what is played.
    """
    if level_db is None:
        return np.zeros(len(f_hz), dtype=np.complex128)
    return np.asarray(10.0 ** (level_db / 20) * 1j * f_hz / _CROSSTALK_HZ)


def treble_tilt(f_hz: F64, tilt_db: float) -> F64:
    """Change of the treble as a filter capacitor or a converter clock warms up.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    tilt_db : float
        Change at 20 kHz, dB; none at low frequencies.

    Returns
    -------
    ndarray of float64, shape (k,)
        Factor.
    """
    at_20k = TILT_HZ**2 / (TILT_HZ**2 + _TILT_CORNER_HZ**2)
    shape = f_hz**2 / (f_hz**2 + _TILT_CORNER_HZ**2) / at_20k
    return np.asarray(10.0 ** (tilt_db / 20 * shape))


def time_shift(f_hz: F64, seconds: float) -> C128:
    """Response of a pure delay, ``exp(-jωd)``.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    seconds : float
        Delay.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Factor.
    """
    return np.asarray(np.exp(-2j * np.pi * seconds * f_hz))


def monitoring_loop(f_hz: F64, h: C128, gain_db: float, delay_s: float) -> C128:
    """Factor by which direct monitoring changes what is heard: ``1 / (1 - g H exp(-jωτ))``.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies.
    h : ndarray of complex128, shape (k,)
        Response from output to input.
    gain_db : float
        Gain from input back to output, dB; turned down to what does not howl.
    delay_s : float
        Delay of the monitor path.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Factor on everything that reaches the input.
    """
    gain = min(10.0 ** (gain_db / 20), 0.95 / max(float(np.max(np.abs(h))), 1e-9))
    return np.asarray(1 / (1 - gain * h * time_shift(f_hz, delay_s)))
