"""Fit of one hypothesis to all runs of a pedal at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.chain import Chain
from loopback.circuit.hypotheses import Hypothesis, HypothesisName
from loopback.identify.data import FitData
from loopback.identify.disturbed import Disturbed, Terms
from loopback.identify.nuisance import Nuisances
from loopback.identify.priors import Priors
from loopback.identify.setup import DB
from loopback.identify.solve import Solution, first_steps, least_squares
from loopback.quantity import Estimate
from loopback.response.delay import phase_delay_s

MANY_S = 1e-6
"""A delay that may be off by more is first set to what the start values leave."""
ALL_FOLLOWED = 4
"""Up to so many starts of a passive circuit are all followed to the end."""
FIRST_LOOK = 7
"""Evaluations that each of more starts is given. Of a stage the two best are then followed, of a
passive circuit one: the best led to the same end on every invented pedal."""
_DIFFERENCE = 1e-2
"""Half of the interval of the central differences, in natural steps of an unknown."""


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


class Problem:
    """One hypothesis and one set of runs as a problem of least squares.

    Parameters
    ----------
    hypothesis : Hypothesis
        The circuit.
    data : FitData
        The runs.
    plan : Nuisances
        Layout of the nuisances.
    priors : Priors
        Stated beliefs.
    """

    def __init__(
        self, hypothesis: Hypothesis, data: FitData, plan: Nuisances, priors: Priors
    ) -> None:
        self.hypothesis, self.data, self.plan = hypothesis, data, plan
        self.disturbed = Disturbed(data, plan, priors)
        unknowns = hypothesis.unknowns
        self.log = np.array([u.log for u in unknowns])
        self.step = np.array([u.step for u in unknowns])
        self.centre = self.to_search([u.prior for u in unknowns])
        self.spread = np.array([u.prior_u if u.log else u.prior_u / u.step for u in unknowns])
        self.size = len(unknowns)
        self.count = plan.count
        self._s = np.asarray(2j * math.pi * data.f_hz, np.complex128)
        self._turned = [run.label.direction == "reversed" for run in data.runs]
        self.fixed: tuple[int, float] | None = None
        self._at: tuple[bytes, Terms, list[Chain], C128] | None = None

    def to_search(self, values: Sequence[float]) -> F64:
        """Turn values in their units to search values, shape (p,)."""
        given = np.asarray(values, np.float64)
        safe = np.where(self.log, np.maximum(given, 1e-300), 1.0)
        return np.asarray(np.where(self.log, np.log(safe), given / self.step))

    def to_values(self, search: F64) -> F64:
        """Turn search values, shape (..., p), to values in their units."""
        bounded = np.clip(np.where(self.log, search, 0.0), -80.0, 80.0)
        return np.asarray(np.where(self.log, np.exp(bounded), search * self.step))

    def first(self, values: Sequence[float]) -> F64:
        """Start of a search: those values, and the delays that fit them where they are free."""
        search, z = self.to_search(values), np.zeros(self.count)
        model = self.data.averaged(self.ratios(search, self.disturbed.terms(z)))
        centre = self.data.averaged(self.data.f_hz.astype(np.complex128))[0].real
        where = self.plan.delays
        for i, run in enumerate(self.data.runs):
            apart = self.data.t[i] / model[i]
            if run.delay_u_s > MANY_S and np.all(np.isfinite(apart)):
                shift = phase_delay_s(centre, apart, np.abs(self.data.t[i]) ** 2)
                z[where.start + i] = shift / run.delay_u_s
        return np.concatenate([search, z])

    def ratios(self, search: F64, terms: Terms) -> C128:
        """Ratios of the model, shape (n, k)."""
        return self.disturbed.ratios(self._chains(search), terms)

    def _model(self, x: F64) -> tuple[Terms, list[Chain], C128]:
        """Model at a point; kept, since a search asks for residuals and slopes at the same one."""
        key = x.tobytes()
        if self._at is None or self._at[0] != key:
            terms, chains = self.disturbed.terms(x[self.size :]), self._chains(x[: self.size])
            self._at = (key, terms, chains, self.disturbed.ratios(chains, terms))
        return self._at[1:]

    def residual(self, x: F64) -> F64:
        """Return residuals in standard deviations: data, priors of the circuit, nuisances."""
        search, z = x[: self.size], x[self.size :]
        model = self.data.averaged(self._model(x)[2])
        r = np.nan_to_num((model - self.data.t) * self.data.w, nan=1e6, posinf=1e6, neginf=-1e6)
        return np.concatenate(
            [r.real.ravel(), r.imag.ravel(), (search - self.centre) / self.spread, z, self._pin(x)]
        )

    def slope(self, x: F64) -> F64:
        """Return derivatives of `residual`: nuisances by formula, the circuit by differences."""
        search = x[: self.size]
        terms, chains, t = self._model(x)
        by_nuisance = self.disturbed.slopes(chains, terms, t)
        steps = _DIFFERENCE * np.where(self.log, 0.1, 1.0)
        moved = np.concatenate([search + np.diag(steps), search - np.diag(steps)])
        both = self._moved(moved, terms)
        by_circuit = (both[: self.size] - both[self.size :]) / (2 * steps)[:, None, None]
        d = self.data.averaged(np.concatenate([by_circuit, by_nuisance])) * self.data.w
        d = np.nan_to_num(d, nan=0.0, posinf=0.0, neginf=0.0).reshape(len(d), -1)
        prior = np.diag(np.concatenate([1 / self.spread, np.ones(self.count)]))
        parts = [d.real.T, d.imag.T, prior]
        if self.fixed is not None:
            pin = np.zeros((1, len(x)))
            pin[0, self.fixed[0]] = 1e5
            parts.append(pin)
        return np.concatenate(parts)

    def _pin(self, x: F64) -> F64:
        """Hold one unknown where a profile wants it."""
        if self.fixed is None:
            return np.empty(0)
        return np.array([(x[self.fixed[0]] - self.fixed[1]) * 1e5])

    def _chains(self, search: F64) -> list[Chain]:
        values = self.to_values(search)
        chain = self.hypothesis.matrix(self._s, tuple(np.asarray(v) for v in values))
        return self._of_runs(chain)

    def _of_runs(self, chain: Chain) -> list[Chain]:
        if not any(self._turned) or self.hypothesis.active:
            return [chain] * len(self._turned)
        back = chain.turned()
        return [back if turned else chain for turned in self._turned]

    def _moved(self, moved: F64, terms: Terms) -> C128:
        """Ratios for several sets of values at once, shape (sets, n, k)."""
        values = self.to_values(moved)
        chain = self.hypothesis.matrix(self._s, tuple(v[:, None] for v in values.T))
        rows = [
            terms.factor[i]
            * (1 + terms.zs[i] * terms.y[i])
            / one.after_shunt(terms.y_in[i]).inverse_ratio(terms.zs[i], terms.y0[i])
            for i, one in enumerate(self._of_runs(chain))
        ]
        return np.asarray(np.stack(rows, axis=1))


def fit_hypothesis(
    hypothesis: Hypothesis,
    data: FitData,
    plan: Nuisances,
    starts: Sequence[Sequence[float]],
    priors: Priors,
) -> JointFit:
    """Fit one hypothesis from several starts and keep the best.

    Parameters
    ----------
    hypothesis : Hypothesis
        The circuit.
    data : FitData
        All runs it has to explain.
    plan : Nuisances
        What disturbs them.
    starts : sequence of sequence of float
        One or more sets of values of the unknowns, in their order and units.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    JointFit
        Whether it describes the data is for `loopback.identify.adequacy` to say.
    """
    problem = Problem(hypothesis, data, plan, priors)
    ends = [problem.first(values) for values in starts]
    if hypothesis.active or len(ends) > ALL_FOLLOWED:
        ends = [first_steps(problem.residual, problem.slope, x, FIRST_LOOK) for x in ends]
        ends.sort(key=lambda x: float(np.sum(problem.residual(x) ** 2)))
        ends = ends[: 2 if hypothesis.active else 1]
    found = [least_squares(problem.residual, problem.slope, x) for x in ends]
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
    model = data.averaged(problem.ratios(search, problem.disturbed.terms(found.x[p:])))
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
