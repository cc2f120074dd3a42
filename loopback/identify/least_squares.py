"""Weighted least squares of a complex curve with priors on the parameters."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.solve import least_squares

_DIFFERENCE = 1e-3
"""Half of the interval of the central differences, in steps of a parameter."""


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
) -> Fitted:
    """Fit a complex curve.

    Parameters
    ----------
    model : callable
        Takes the parameter values, shape (p,), and returns the curve, shape (k,); or several sets
        of them at once, shape (p, sets, 1), and returns curves, shape (sets, k).
    parameters : sequence of Parameter
        Starts, steps and priors.
    data : ndarray of complex128, shape (k,)
        Measured curve.
    var : ndarray of float64, shape (k,)
        Variance of `data`: the expected square of the magnitude of its error, both parts together.

    Returns
    -------
    Fitted
        The best values found. When not to use: starts far from the answer; the search is local.
    """
    scale = np.array([p.scale for p in parameters])
    prior = np.array([p.prior for p in parameters]) / scale
    held = np.array([not math.isinf(p.prior_u) for p in parameters])
    prior_w = np.array([p.scale / p.prior_u for p in parameters])  # 0 where free
    w = np.sqrt(2.0 / var)  # each of the two parts carries half of the variance

    def apart(at: F64) -> C128:
        with np.errstate(all="ignore"):  # a step too far is not finite, and is not taken
            r = (data - model(at)) * w
        if not np.isfinite(r.sum()):
            r = np.nan_to_num(r, nan=1e9, posinf=1e9, neginf=-1e9)
        return np.asarray(r)

    def weighted(at: F64) -> F64:
        r = apart(at * scale)
        return np.concatenate([r.real, r.imag, ((prior - at) * prior_w)[held]])

    moves = np.concatenate([np.eye(len(scale)), -np.eye(len(scale))]) * _DIFFERENCE
    priors = -np.diag(prior_w)[held]

    def slope(at: F64) -> F64:
        both = apart(((at + moves) * scale).T[:, :, None])
        d = (both[: len(at)] - both[len(at) :]) / (2 * _DIFFERENCE)
        return np.concatenate([d.real.T, d.imag.T, priors])

    found = least_squares(weighted, slope, np.array([p.start for p in parameters]) / scale)
    covariance = found.covariance * np.outer(scale, scale)
    residual = data - model(found.x * scale)
    free = max(1, 2 * len(data) - int(np.sum(~held)))
    reduced = float(np.sum(np.abs(residual * w) ** 2)) / free
    return Fitted(
        tuple(p.name for p in parameters), found.x * scale, covariance, residual, reduced,
        found.chi2,
    )  # fmt: skip
