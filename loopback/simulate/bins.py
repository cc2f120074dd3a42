"""From a logarithmic grid, on which circuits are solved, to the bins of a Fourier transform."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64

_T = TypeVar("_T", np.float64, np.complex128)

LOWEST_HZ = 0.5
PER_OCTAVE = 64
_BEFORE = 3
_AFTER = 4


def good_length(n: int) -> int:
    """Smallest even length, not below `n`, whose transform is quick: factors 2, 3 and 5.

    Parameters
    ----------
    n : int
        Wanted number of samples, positive.

    Returns
    -------
    int
        At most a few per cent more.
    """
    best = 1 << max(1, (n - 1).bit_length())
    five = 1
    while five < best:
        three = five
        while three < best:
            rest = max(1, -(-n // three))
            candidate = three << max(1, (rest - 1).bit_length())
            best = min(best, candidate)
            three *= 3
        five *= 5
    return best


def log_grid(rate_hz: float) -> F64:
    """Frequencies at which circuits are solved: 64 per octave, 0.5 Hz to half the sample rate.

    Parameters
    ----------
    rate_hz : float
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (m,)
        With three points below and four above that range, for the interpolation.
    """
    top = math.ceil(PER_OCTAVE * math.log2(rate_hz / 2 / LOWEST_HZ)) + _AFTER
    return np.asarray(LOWEST_HZ * 2.0 ** (np.arange(-_BEFORE, top + 1) / PER_OCTAVE))


@dataclass(frozen=True, slots=True)
class ToBins:
    """Interpolation from `log_grid` to the bins of ``rfft``, prepared once per length.

    Eight-point Lagrange interpolation over log f: off by less than 1e-7 for resonances up to Q = 3
    and 1e-6 up to Q = 5. Below 0.5 Hz the value at 0.5 Hz stands.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        The bins.
    first : ndarray of int64, shape (k,)
        First of the eight points.
    weights : ndarray of float64, shape (8, k)
        Their weights.
    """

    f_hz: F64
    first: NDArray[np.int64]
    weights: F64

    def __call__(self, values: NDArray[_T]) -> NDArray[_T]:
        """Interpolate.

        Parameters
        ----------
        values : ndarray of float64 or complex128, shape (m,)
            On the grid.

        Returns
        -------
        ndarray of the same type, shape (k,)
            On the bins.
        """
        out = np.zeros(len(self.first), dtype=values.dtype)
        for i, weight in enumerate(self.weights):
            out += weight * values[self.first + i]
        return out

    def nearest(self, values: F64) -> F64:
        """Take the value of the grid point at or just below each bin: for noise densities.

        Parameters
        ----------
        values : ndarray of float64, shape (m,)
            On the grid.

        Returns
        -------
        ndarray of float64, shape (k,)
            On the bins.
        """
        return np.asarray(values[self.first + _BEFORE])


def to_bins(n: int, rate_hz: float) -> ToBins:
    """Prepare the interpolation for one length of transform.

    Parameters
    ----------
    n : int
        Length in samples, even.
    rate_hz : float
        Sample rate.

    Returns
    -------
    ToBins
        For ``n // 2 + 1`` bins.
    """
    f_hz: F64 = np.arange(n // 2 + 1, dtype=np.float64) * (rate_hz / n)
    at = PER_OCTAVE * np.log2(np.maximum(f_hz, LOWEST_HZ) / LOWEST_HZ)
    first = np.floor(at).astype(np.int64)
    t = at - first
    # Lagrange's polynomials for the points -3 ... 4, written from the products of distances.
    d = [t - offset for offset in range(-_BEFORE, _AFTER + 1)]
    weights = np.empty((len(d), len(t)))
    for i in range(len(d)):
        weights[i] = 1.0
        for j in range(len(d)):
            if j != i:
                weights[i] *= d[j] / (i - j)
    return ToBins(f_hz, first, weights)
