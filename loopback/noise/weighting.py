"""The A frequency weighting in its analytic form."""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64

# Pole frequencies, Hz, and the gain at 1 kHz without normalisation, dB (IEC 61672-1:2013, annex E).
_F1_HZ = 20.598997057618316
_F2_HZ = 107.65264864304629
_F3_HZ = 737.8622307362901
_F4_HZ = 12194.217147998012
_A1000_DB = -2.000


def a_weighting_db(f_hz: F64) -> F64:
    """Return the A weighting of IEC 61672-1:2013, formula E.6.

    The standard's table holds at the exact base-ten frequencies ``1000 · 10^(n/10)``; at the
    nominal ones the curve differs from it by up to 0.28 dB.

    Parameters
    ----------
    f_hz : ndarray of float64
        Frequencies, hertz; zero and below give minus infinity.

    Returns
    -------
    ndarray of float64
        Decibel, same shape as `f_hz`.
    """
    f2 = np.square(np.maximum(np.asarray(f_hz, dtype=np.float64), 0.0))
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(_power(f2)) - _A1000_DB)


def a_weighting_power(f_hz: F64) -> F64:
    """Return the A weighting as a power factor, 1 at 1 kHz and 0 at 0 Hz.

    Parameters
    ----------
    f_hz : ndarray of float64
        Frequencies, hertz, not negative.

    Returns
    -------
    ndarray of float64
        Dimensionless, same shape as `f_hz`.
    """
    f2 = np.square(np.asarray(f_hz, dtype=np.float64))
    return np.asarray(_power(f2) * 10.0 ** (-_A1000_DB / 10))


def a_weighting_response(f_hz: F64) -> C128:
    """Return the A weighting with the phase of its analogue network (poles of annex E).

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies, hertz, not negative.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Factor; the square of its magnitude is `a_weighting_power`.
    """
    s = 1j * np.asarray(f_hz, dtype=np.float64)
    top = _F4_HZ**2 * s**4 * 10.0 ** (-_A1000_DB / 20)
    return np.asarray(top / ((s + _F1_HZ) ** 2 * (s + _F2_HZ) * (s + _F3_HZ) * (s + _F4_HZ) ** 2))


def _power(f2: F64) -> F64:
    top = np.square(_F4_HZ**2 * np.square(f2))
    bottom = np.square((f2 + _F1_HZ**2) * (f2 + _F4_HZ**2)) * (f2 + _F2_HZ**2) * (f2 + _F3_HZ**2)
    return np.asarray(top / bottom)
