"""What every fit of a response shares: its band, the weight of detail, the search for a delay."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.priors import Priors

LOWEST_FIT_HZ = 20.0
HIGHEST_FIT_HZ = 40_000.0
DB = 20 / math.log(10)
"""Decibels per neper."""


def fit_band(f_hz: F64) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Mask of the frequencies that fits use: 20 Hz to 40 kHz, short of the end of the sweep.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid, hertz.

    Returns
    -------
    ndarray of bool, shape (k,)
        True inside the band.
    """
    return np.asarray((f_hz >= LOWEST_FIT_HZ) & (f_hz <= min(HIGHEST_FIT_HZ, 0.97 * f_hz[-1])))


def discrepancy_var(f_hz: F64, priors: Priors) -> F64:
    """Relative variance of a response for detail outside every model, shape (k,).

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid, hertz.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    ndarray of float64, shape (k,)
        Expected square of the relative error.
    """
    return np.asarray((priors.discrepancy * (1 + priors.discrepancy_hz / f_hz)) ** 2)


def scan_delay(f_hz: F64, inverse: C128, design: C128, weight: F64, reach_s: float) -> float:
    """Delay for which ``inverse exp(-jωτ) - 1`` is best a real combination of `design`.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid.
    inverse : ndarray of complex128, shape (k,)
        One over the measured ratio.
    design : ndarray of complex128, shape (k, p)
        Columns of the linear model; they do not depend on the delay.
    weight : ndarray of float64, shape (k,)
        One over the standard deviation.
    reach_s : float
        The search runs over plus and minus this, in steps short against a period at the top.

    Returns
    -------
    float
        Seconds, to the step of the scan.
    """
    taus = np.arange(-reach_s, reach_s, 0.08 / f_hz[-1])
    turned = (inverse * np.exp(-2j * math.pi * np.outer(taus, f_hz)) - 1.0) * weight
    a = np.concatenate([(design * weight[:, None]).real, (design * weight[:, None]).imag])
    q, _ = np.linalg.qr(a / np.linalg.norm(a, axis=0))
    target = np.concatenate([turned.real, turned.imag], axis=1)
    left = np.sum(target**2, axis=1) - np.sum((target @ q) ** 2, axis=1)
    return float(taus[int(np.argmin(left))])
