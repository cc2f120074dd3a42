"""Fit of one hypothesis to all runs of a pedal at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from loopback.arrays import F64
from loopback.circuit.hypotheses import Hypothesis, HypothesisName
from loopback.identify.data import FitData
from loopback.identify.nuisance import Nuisances
from loopback.identify.priors import Priors
from loopback.identify.problem import Problem
from loopback.identify.setup import DB
from loopback.identify.solve import Solution, first_steps, least_squares, solution_at
from loopback.quantity import Estimate

ALL_FOLLOWED = 4
"""Up to so many starts of a passive circuit are all followed to the end."""
FIRST_LOOK = 7
"""Evaluations that each of more starts is given; the best are then followed."""
MOST_CALLS = 60
"""Evaluations that a start is followed for."""
AIM = 2.6
"""Sum of squares per residual above which no fit is adequate: nothing hangs on its values."""
STILL = 0.01
"""Fall of the sum of squares over a few calls at which a search has arrived: a tenth of a standard
uncertainty, of the direction that is worst known."""


@dataclass(frozen=True, slots=True)
class JointFit:
    """One hypothesis, fitted to all runs.

    Parameters
    ----------
    hypothesis : str
        Its name.
    names : tuple of str
        Its unknowns, in the order of `search` and `covariance`.
    estimates : dict
        By name; of a positive one, `u` is the value times that of its logarithm.
    search : ndarray of float64, shape (p,)
        Best values as they were searched for: in natural steps, or as logarithms.
    covariance : ndarray of float64, shape (p, p)
        Of `search`, every nuisance in it.
    chi2 : float
        Weighted sum of squares with all priors: what the search made least.
    excess : float
        Root of the reduced sum of squares of the data alone: 1 when noise and discrepancy are all.
    worst : float
        The same over the worst single octave of any run.
    residual_db : float
        Level that the fit leaves, rms over runs and bands.
    evidence : float
        Log probability of the data (Laplace's approximation; Kass and Raftery 1995), up to a
        constant common to all hypotheses on the same data.
    nuisances : ndarray of float64
        Best values in units of their priors.
    common : dict
        By cause, what its standard deviation does to `search`, shape (p,): see `Estimate`.
    """

    hypothesis: HypothesisName
    names: tuple[str, ...]
    estimates: dict[str, Estimate]
    search: F64
    covariance: F64
    chi2: float
    excess: float
    worst: float
    residual_db: float
    evidence: float
    nuisances: F64
    common: dict[str, F64] = field(default_factory=dict)

    def value(self, name: str) -> float:
        """Return the best value of an unknown in its unit."""
        return self.estimates[name].value

    def u(self, name: str) -> float:
        """Return its standard uncertainty."""
        return self.estimates[name].u


def fit_hypothesis(
    hypothesis: Hypothesis,
    data: FitData,
    plan: Nuisances,
    starts: Sequence[Sequence[float]],
    priors: Priors,
) -> JointFit:
    """Fit one hypothesis from several starts and keep the best.

    The search goes by the logarithm of the ratios. Of many starts each is followed a few steps
    only, and the best then to the end; of a stage the second one too where the best leads nowhere.

    Parameters
    ----------
    hypothesis : Hypothesis
        The circuit.
    data : FitData
        All runs it has to explain.
    plan : Nuisances
        What disturbs them.
    starts : sequence of sequence of float
        Values of the unknowns in their order and units, one or more sets.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    JointFit
        Whether it describes the data is for `loopback.identify.adequacy` to say.
    """
    problem = Problem(hypothesis, data, plan, priors)
    aim = AIM * 2 * data.t.size

    def size(x: F64) -> float:
        return float(np.sum(problem.relative(x) ** 2))

    ends = [problem.first(values) for values in starts]
    follow = len(ends)
    if hypothesis.active or len(ends) > ALL_FOLLOWED:
        looked: list[F64] = []
        for x in ends:
            x = first_steps(problem.relative, problem.relative_slope, x, FIRST_LOOK)
            looked.append(x)
            if not hypothesis.active and size(x) < aim:
                break
        ends = sorted(looked, key=size)
        follow = 2 if hypothesis.active else 1
    found: list[Solution] = []
    for x in ends[:follow]:
        near = least_squares(
            problem.relative, problem.relative_slope, x, most_calls=MOST_CALLS, aim=aim, still=STILL
        )
        # Where a fit describes the data, the two kinds of residual differ by products of errors.
        found.append(solution_at(problem.residual, problem.slope, near.x))
        if hypothesis.active and found[-1].chi2 < aim:
            break
    return as_fit(problem, min(found, key=lambda one: one.chi2))


def as_fit(problem: Problem, found: Solution) -> JointFit:
    """Turn the end of a search into a record.

    Parameters
    ----------
    problem : Problem
        What was searched.
    found : Solution
        Where it ended.

    Returns
    -------
    JointFit
        In physical units.
    """
    p, data = problem.size, problem.data
    search = found.x[:p]
    values = problem.to_values(search)
    covariance = found.covariance[:p, :p]
    u = np.sqrt(np.maximum(np.diag(covariance), 0.0)) * np.where(problem.log, values, problem.step)
    unknowns = problem.hypothesis.unknowns
    estimates = {
        k.name: Estimate(float(v), float(s), k.unit)
        for k, v, s in zip(unknowns, values, u, strict=True)
    }
    model = data.averaged(problem.ratios(search, found.x[p:]))
    squares = np.abs((model - data.t) * data.w) ** 2 / 2
    octaves = [
        part.mean(axis=1) for part in np.array_split(squares, max(1, squares.shape[1] // 6), axis=1)
    ]
    level = DB * np.log(np.abs(data.t) / np.maximum(np.abs(model), 1e-30))
    evidence = -found.chi2 / 2 + found.log_det / 2 - float(np.sum(np.log(problem.spread)))
    return JointFit(
        hypothesis=problem.hypothesis.name,
        names=problem.hypothesis.names,
        estimates=estimates,
        search=search,
        covariance=covariance,
        chi2=found.chi2,
        excess=math.sqrt(float(np.sum(squares)) * 2 / max(1, 2 * squares.size - p)),
        worst=math.sqrt(float(np.max(octaves))),
        residual_db=float(np.sqrt(np.mean(level**2))),
        evidence=evidence,
        nuisances=found.x[p:],
        # Nuisances stand in units of their priors: minus their covariance is what they do.
        common={
            k: -part * found.covariance[:p, p + i] for k, i, part in problem.disturbed.common()
        },
    )
