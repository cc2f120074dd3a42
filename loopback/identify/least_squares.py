"""Weighted least squares of a complex curve with priors on the parameters, in plain numpy."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64


@dataclass(frozen=True, slots=True)
class Parameter:
    """One unknown of a fit.

    Parameters
    ----------
    name : str
        For looking it up afterwards.
    start : float
        Where the search begins.
    scale : float
        A small natural step; the search is carried out in multiples of it.
    prior : float
        Centre of the prior; without meaning when `prior_u` is infinite.
    prior_u : float
        Standard uncertainty of the prior; ``inf``: free.
    """

    name: str
    start: float
    scale: float
    prior: float = 0.0
    prior_u: float = math.inf


@dataclass(frozen=True, slots=True)
class Fitted:
    """Outcome of a fit.

    Parameters
    ----------
    names : tuple of str
        In the order of `values`.
    values : ndarray of float64, shape (p,)
        Best values, each in its own unit.
    covariance : ndarray of float64, shape (p, p)
        First-order covariance with the priors in it (JCGM 100:2008, 5.2 and annex H.3).
    residual : ndarray of complex128, shape (k,)
        Data minus model.
    reduced : float
        Weighted sum of squares of `residual` per degree of freedom: near 1 when the model and
        the variances describe the data.
    cost : float
        Weighted sum of squares with the priors in it: what the search made small.
    """

    names: tuple[str, ...]
    values: F64
    covariance: F64
    residual: C128
    reduced: float
    cost: float

    def value(self, name: str) -> float:
        """Return the best value of that parameter."""
        return float(self.values[self.names.index(name)])

    def u(self, name: str) -> float:
        """Return its standard uncertainty."""
        i = self.names.index(name)
        return float(math.sqrt(max(self.covariance[i, i], 0.0)))


def fit_curve(
    model: Callable[[F64], C128],
    parameters: Sequence[Parameter],
    data: C128,
    var: F64,
    rounds: int = 60,
) -> Fitted:
    """Fit a complex curve by damped Gauss-Newton steps (Levenberg 1944, Marquardt 1963).

    Parameters
    ----------
    model : callable
        Takes the parameter values, shape (p,), and returns the curve, shape (k,).
    parameters : sequence of Parameter
        Starts, steps and priors.
    data : ndarray of complex128, shape (k,)
        Measured curve.
    var : ndarray of float64, shape (k,)
        Variance of `data`: the expected square of the magnitude of its error, both parts together.
    rounds : int
        Most steps to take.

    Returns
    -------
    Fitted
        The best values found. When not to use: starts far from the answer; the search is local.
    """
    scale = np.array([p.scale for p in parameters])
    prior = np.array([p.prior for p in parameters]) / scale
    prior_w = np.array([0.0 if math.isinf(p.prior_u) else p.scale / p.prior_u for p in parameters])
    x = np.array([p.start for p in parameters]) / scale
    w = np.sqrt(2.0 / var)  # each of the two parts carries half of the variance

    def weighted(at: F64) -> F64:
        with np.errstate(all="ignore"):  # a step too far is not finite, and is not taken
            r = (data - model(at * scale)) * w
        return np.concatenate([r.real, r.imag, (prior - at) * prior_w])

    def slope(at: F64) -> F64:
        columns = []
        for i in range(len(at)):
            step = np.zeros(len(at))
            step[i] = 1e-3
            columns.append((weighted(at + step) - weighted(at - step)) / 2e-3)
        return np.stack(columns, axis=1)

    r = weighted(x)
    cost = float(r @ r)
    damping = 1e-3
    for _ in range(rounds):
        j = slope(x)
        normal, gradient = j.T @ j, j.T @ r
        moved = False
        for _ in range(12):
            lifted = normal + damping * np.diag(np.diag(normal) + 1e-300)
            step = -np.linalg.solve(lifted, gradient)
            tried = weighted(x + step)
            tried_cost = float(tried @ tried)
            if math.isfinite(tried_cost) and tried_cost <= cost:
                gain = cost - tried_cost
                x, r, cost = x + step, tried, tried_cost
                damping = max(damping / 10, 1e-12)
                moved = gain > 1e-9 * (1.0 + cost)
                break
            damping *= 10
        if not moved:
            break
    j = slope(x)
    covariance = np.asarray(np.linalg.pinv(j.T @ j) * np.outer(scale, scale), np.float64)
    with np.errstate(all="ignore"):
        residual = data - model(x * scale)
    free = max(1, 2 * len(data) - int(np.sum(prior_w == 0)))
    reduced = float(np.sum(np.abs(residual * w) ** 2)) / free
    return Fitted(tuple(p.name for p in parameters), x * scale, covariance, residual, reduced, cost)
