"""The one entry to least squares: from residuals to values and covariance."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from loopback.arrays import F64

PACE = 6
"""Calls over which the pace of a search is taken; none is ended before twice as many."""
BLOCK = 120
"""Rows that are made a triangle at once; more than there are columns, or it would be no less."""
HOPELESS = 10.0
"""A search ends when it would remain above its aim by this factor: pace may pick up again."""


@dataclass(frozen=True, slots=True)
class Solution:
    """Where a search ended.

    Parameters
    ----------
    x : ndarray of float64, shape (p,)
        Values.
    covariance : ndarray of float64, shape (p, p)
        Inverse of ``JᵀJ``: right as it stands when the residuals are in standard deviations
        (JCGM 100:2008, H.3); to be multiplied by `reduced` when their size was not known.
    chi2 : float
        Sum of squares of all residuals.
    dof : int
        Residuals less unknowns.
    log_det : float
        Natural logarithm of the determinant of `covariance`.
    """

    x: F64
    covariance: F64
    chi2: float
    dof: int
    log_det: float

    @property
    def reduced(self) -> float:
        """Sum of squares per degree of freedom."""
        return self.chi2 / max(1, self.dof)


def least_squares(
    residual: Callable[[F64], F64],
    slope: Callable[[F64], F64],
    start: F64,
    *,
    most_calls: int = 60,
    tolerance: float = 1e-7,
    aim: float = math.inf,
    still: float = 0.0,
) -> Solution:
    """Make a sum of squares least (Levenberg-Marquardt; Moré 1978).

    Parameters
    ----------
    residual : callable
        Takes values, shape (p,); returns residuals, shape (m,), m not below p, dimensionless: each
        divided by its standard deviation. A prior is one more residual.
    slope : callable
        Takes values; returns the derivatives, shape (m, p).
    start : ndarray of float64, shape (p,)
        Where the search begins. Local: an answer depends on it where there are several minima.
    most_calls : int
        Most evaluations of `residual`.
    tolerance : float
        Relative change of sum and values at which the search ends.
    aim : float
        Sum of squares above which the answer is of no use. A search that at its pace would stay
        above it for all its calls is given up; infinite: none is.
    still : float
        Fall of the sum of squares over the last `PACE` calls at which the search ends; what a
        sum of squares falls by is the square of a distance in standard uncertainties. 0: never.

    Returns
    -------
    Solution
        The best found; whether it describes the data is a question to `Solution.reduced`.
    """
    found = _descend(residual, slope, start, most_calls, tolerance, aim, still)
    return _solution(found.x, found.jac, float(2 * found.cost))


def solution_at(residual: Callable[[F64], F64], slope: Callable[[F64], F64], x: F64) -> Solution:
    """Take a point as the end of a search, such as that of a search for nearly the same thing.

    Parameters
    ----------
    residual, slope : callable
        As those of `least_squares`.
    x : ndarray of float64, shape (p,)
        Where.

    Returns
    -------
    Solution
        With the covariance as it is there.
    """
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        return _solution(x, slope(x), float(np.sum(residual(x) ** 2)))


def _solution(at: F64, jac: F64, chi2: float) -> Solution:
    x = np.asarray(at, np.float64)
    # Columns scaled to one length, or the inverse of a matrix with units in it loses its digits.
    j = np.asarray(jac, np.float64)
    length = np.maximum(np.linalg.norm(j, axis=0), 1e-300)
    r = _triangle(j / length)
    ends = np.abs(np.diag(r))
    # Where data and priors leave a direction open, its uncertainty becomes huge, not infinite.
    r = r + np.diag(np.where(ends < 1e-12, 1e-12, 0.0))
    back = np.linalg.inv(r) / length[:, None]
    inverse = back @ back.T
    log_det = float(-2 * np.sum(np.log(np.maximum(ends, 1e-12))) - 2 * np.sum(np.log(length)))
    return Solution(x, np.asarray(inverse), chi2, len(j) - len(x), log_det)


def _triangle(j: F64) -> F64:
    """Triangle R of ``J = QR``, from blocks of rows first.

    At once, a library's threads would take longer to start than the whole of it takes.
    """
    rows, columns = j.shape
    if rows > 2 * BLOCK:
        blocks = -(-rows // BLOCK)
        padded = np.zeros((blocks * BLOCK, columns))
        padded[:rows] = j
        parts = np.asarray(np.linalg.qr(padded.reshape(blocks, BLOCK, columns), mode="r"))
        j = parts.reshape(-1, columns)
    return np.asarray(np.linalg.qr(j, mode="r"))


def first_steps(
    residual: Callable[[F64], F64], slope: Callable[[F64], F64], start: F64, most_calls: int
) -> F64:
    """Take the first steps of `least_squares`, to see whether a start is worth following.

    Parameters
    ----------
    residual, slope : callable
        As there.
    start : ndarray of float64, shape (p,)
        Where the search begins.
    most_calls : int
        Evaluations of `residual`.

    Returns
    -------
    ndarray of float64, shape (p,)
        How far it got.
    """
    found = _descend(residual, slope, start, most_calls, 1e-4, math.inf, 0.0)
    return np.asarray(found.x, np.float64)


@dataclass(slots=True)
class _End(Exception):
    """Ends a search from inside: the method has no other way to."""

    x: F64
    jac: F64
    cost: float


class _Watched:
    """Residuals and slopes of a search that is ended when going on is not worth its calls."""

    def __init__(
        self,
        residual: Callable[[F64], F64],
        slope: Callable[[F64], F64],
        most_calls: int,
        aim: float,
        still: float,
    ) -> None:
        self._residual, self._slope = residual, slope
        self._most_calls, self._aim, self._still = most_calls, aim, still
        self._sums: list[float] = []

    def residual(self, x: F64) -> F64:
        r = self._residual(x)
        least = self._sums[-1] if self._sums else math.inf
        self._sums.append(min(least, float(r @ r)))
        return r

    def slope(self, x: F64) -> F64:
        """Differentiate where a step was accepted, the only place to end at."""
        j = self._slope(x)
        calls = len(self._sums)
        if calls > 2 * PACE and self._enough(calls):
            raise _End(np.array(x), j, self._sums[-1] / 2)
        return j

    def _enough(self, calls: int) -> bool:
        now, before = self._sums[-1], self._sums[-1 - PACE]
        if before - now < self._still:
            return True
        reached: float = now * (now / before) ** (2 * (self._most_calls - calls) / PACE)
        return reached > HOPELESS * self._aim


def _descend(
    residual: Callable[[F64], F64],
    slope: Callable[[F64], F64],
    start: F64,
    most_calls: int,
    tolerance: float,
    aim: float,
    still: float,
) -> Any:
    from scipy import optimize

    watched = _Watched(residual, slope, most_calls, aim, still)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        try:
            return optimize.least_squares(
                watched.residual, start, watched.slope, method="lm", x_scale="jac",
                ftol=tolerance, xtol=tolerance, gtol=1e-12, max_nfev=most_calls,
            )  # fmt: skip
        except _End as end:
            return end
