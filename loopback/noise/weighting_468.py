"""The weighting network of ITU-R BS.468-4, for readings in rms."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64

AES17_SHIFT_DB = -5.63
"""In the use of AES17-2015 (5.2.7) the curve is lowered so that it is 0 dB at 2 kHz, not at 1 kHz,
and its output is read in rms: not the quasi-peak meter that BS.468-4 itself prescribes."""

# Real and imaginary part of the network's denominator over powers of f in hertz, and the factor of
# f in the numerator: the rational form in public use, within 0.05 dB of every row of table 1.
_EVEN = (1.0, -1.363894795463638e-07, 2.0438283336061252e-15, -4.7373389813783836e-24)
_ODD = (5.559488023498643e-04, -2.1181508875186556e-11, 1.3066122574128241e-19)
_NUMERATOR = 1.246332637532143e-04
_GAIN_DB = 18.246265068


def weighting_468_power(f_hz: F64) -> F64:
    """Return the network as a power factor, 1 at 1 kHz (ITU-R BS.468-4, table 1).

    Parameters
    ----------
    f_hz : ndarray of float64
        Frequencies, hertz, not negative.

    Returns
    -------
    ndarray of float64
        Dimensionless, same shape as `f_hz`; 0 at 0 Hz.
    """
    f = np.asarray(f_hz, dtype=np.float64)
    f2 = np.square(f)
    even = _EVEN[0] + f2 * (_EVEN[1] + f2 * (_EVEN[2] + f2 * _EVEN[3]))
    odd = f * (_ODD[0] + f2 * (_ODD[1] + f2 * _ODD[2]))
    size = 10.0 ** (_GAIN_DB / 10) * np.square(_NUMERATOR * f)
    return np.asarray(size / (np.square(even) + np.square(odd)))


def weighting_468_db(f_hz: F64) -> F64:
    """Return the network in decibels, 0 dB at 1 kHz.

    Parameters
    ----------
    f_hz : ndarray of float64
        Frequencies, hertz, not negative; zero gives minus infinity.

    Returns
    -------
    ndarray of float64
        Decibel, same shape as `f_hz`.
    """
    with np.errstate(divide="ignore"):
        return np.asarray(10 * np.log10(weighting_468_power(f_hz)))
