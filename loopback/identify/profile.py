"""Intervals by profile: one unknown held, all others fitted again (Venzon and Moolgavkar 1988)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from loopback.arrays import F64
from loopback.identify.joint import JointFit, as_fit
from loopback.identify.problem import Problem
from loopback.identify.solve import least_squares, solution_at
from loopback.quantity import coverage_factor

MOST_STEPS = 12
CLOSE = 0.02
"""Relative error of the rise of the sum of squares at an end."""
MOST_CALLS = 20
FAR = 6.0
"""Ends further out than this many times the symmetric ones are given up as open."""


def profile_interval(
    problem: Problem, fit: JointFit, name: str, coverage: float = 0.95
) -> tuple[float, float]:
    """Interval of one unknown without the assumption that the sum of squares is a parabola.

    Parameters
    ----------
    problem : Problem
        What `fit` was fitted to.
    fit : JointFit
        The best fit.
    name : str
        Unknown.
    coverage : float
        Probability between 0 and 1.

    Returns
    -------
    tuple of float
        Lower and upper end, in the unknown's unit: where the least sum of squares has risen by the
        square of the coverage factor. An infinite end was not found within `FAR` times the
        symmetric interval; zero for the lower end of a positive unknown.
    """
    at = fit.names.index(name)
    u = float(np.sqrt(fit.covariance[at, at]))
    rise = coverage_factor(coverage) ** 2
    ends = []
    for sign in (-1.0, 1.0):
        end = _end(problem, fit, at, sign, u, rise)
        if end is None:
            is_log = bool(problem.log[at])
            ends.append(np.inf * sign if not (is_log and sign < 0) else 0.0)
        else:
            search = fit.search.copy()
            search[at] = end
            ends.append(float(problem.to_values(search)[at]))
    return ends[0], ends[1]


def searched_on(problem: Problem, fit: JointFit) -> JointFit:
    """Search on from a fit, without an early end.

    Where two unknowns are all but told as a sum, a search that only had to find an adequate fit
    may have ended on the way.

    Parameters
    ----------
    problem : Problem
        What `fit` was fitted to.
    fit : JointFit
        Where a search ended.

    Returns
    -------
    JointFit
        The same, or a better one.
    """
    start = np.concatenate([fit.search, fit.nuisances])
    end = least_squares(problem.relative, problem.relative_slope, start)
    found = as_fit(problem, solution_at(problem.residual, problem.slope, end.x))
    return found if found.chi2 < fit.chi2 else fit


def with_longer_side(problem: Problem, fit: JointFit, names: Sequence[str]) -> JointFit:
    """Let the uncertainty of some unknowns reach as far as the longer side of their profile.

    Parameters
    ----------
    problem : Problem
        What `fit` was fitted to.
    fit : JointFit
        The best fit.
    names : sequence of str
        Unknowns; those that the circuit lacks are passed over.

    Returns
    -------
    JointFit
        With rows and columns of the covariance stretched, never narrowed. A side whose end was not
        found counts as long as the parabola has it.
    """
    stretch = np.ones(len(fit.names))
    for name in names:
        if name not in fit.names:
            continue
        at = fit.names.index(name)
        half = coverage_factor() * float(np.sqrt(fit.covariance[at, at]))
        sides = [
            abs(float(problem.to_search([end] * len(fit.names))[at] - fit.search[at]))
            if np.isfinite(end) and not (end == 0 and problem.log[at])
            else half
            for end in profile_interval(problem, fit, name)
        ]
        stretch[at] = max(half, *sides) / half if half > 0 else 1.0
    estimates = {
        name: replace(fit.estimates[name], u=fit.u(name) * float(by))
        for name, by in zip(fit.names, stretch, strict=True)
    }
    covariance = fit.covariance * np.outer(stretch, stretch)
    return replace(fit, covariance=covariance, estimates=estimates)


def _end(
    problem: Problem, fit: JointFit, at: int, sign: float, u: float, rise: float
) -> float | None:
    best = float(fit.search[at])
    x = np.concatenate([fit.search, fit.nuisances])
    least = float(np.sum(problem.relative(x) ** 2))
    near, far = 0.0, np.inf
    distance = u * float(np.sqrt(rise))
    limit = FAR * distance
    for _ in range(MOST_STEPS):
        risen, x = _held(problem, x, at, best + sign * distance, least)
        if abs(risen / rise - 1) < CLOSE:
            return best + sign * distance
        if risen < rise:
            near = distance
        else:
            far = distance
        # A parabola through the best point says where to look next.
        guess = distance * float(np.sqrt(rise / max(risen, 1e-3 * rise)))
        low, high = near, min(far, limit)
        if np.isinf(far) and guess >= limit and near >= 0.99 * limit:
            return None
        inside = low < guess < high
        distance = (
            guess
            if inside
            else (0.5 * (low + high) if np.isfinite(far) else min(2 * distance, limit))
        )
    return best + sign * distance if np.isfinite(far) else None


def _held(problem: Problem, x: F64, at: int, value: float, least: float) -> tuple[float, F64]:
    """Return rise of the sum of squares with one unknown held, and where that was."""
    start = x.copy()
    start[at] = value
    problem.fixed = (at, value)
    try:
        found = least_squares(
            problem.relative, problem.relative_slope, start, most_calls=MOST_CALLS
        )
    finally:
        problem.fixed = None
    return max(found.chi2 - least, 1e-12), found.x
