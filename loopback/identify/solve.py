"""The one entry to least squares: from residuals to values and covariance."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from loopback.arrays import F64


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

    Returns
    -------
    Solution
        The best found; whether it describes the data is a question to `Solution.reduced`.
    """
    found = _descend(residual, slope, start, most_calls, tolerance)
    x = np.asarray(found.x, np.float64)
    # Columns scaled to one length, or the inverse of a matrix with units in it loses its digits.
    j = np.asarray(found.jac, np.float64)
    length = np.maximum(np.linalg.norm(j, axis=0), 1e-300)
    r = np.linalg.qr(j / length, mode="r")
    ends = np.abs(np.diag(r))
    # Where data and priors leave a direction open, its uncertainty becomes huge, not infinite.
    r = r + np.diag(np.where(ends < 1e-12, 1e-12, 0.0))
    back = np.linalg.inv(r) / length[:, None]
    inverse = back @ back.T
    log_det = float(-2 * np.sum(np.log(np.maximum(ends, 1e-12))) - 2 * np.sum(np.log(length)))
    return Solution(x, np.asarray(inverse), float(2 * found.cost), len(j) - len(x), log_det)


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
    return np.asarray(_descend(residual, slope, start, most_calls, 1e-4).x, np.float64)


def _descend(
    residual: Callable[[F64], F64],
    slope: Callable[[F64], F64],
    start: F64,
    most_calls: int,
    tolerance: float,
) -> Any:
    from scipy import optimize

    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        return optimize.least_squares(
            residual, start, slope, method="lm", x_scale="jac", ftol=tolerance, xtol=tolerance,
            gtol=1e-12, max_nfev=most_calls,
        )  # fmt: skip
