"""Derivatives, averaging and covariance of the joint fit against slow and independent ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.identify.data import FitData, PedalRun, join_alike, prepare
from loopback.identify.learned import learn
from loopback.identify.loads import find_setups
from loopback.identify.nuisance import Nuisances, plan_nuisances
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.problem import Problem
from loopback.identify.solve import least_squares
from loopback.identify.starts import first_sight, starts_of
from tests.reference.population_bound import bound, scatter
from tests.reference.population_pedals import invent_pedal
from tests.reference.population_table import KINDS, Setup, examine_pedal


def problem_of(kind: str, name: HypothesisName) -> tuple[Problem, FitData, Nuisances, Priors]:
    """A fit of the bypass runs of one invented pedal."""
    setup = Setup(KINDS[kind], np.random.default_rng([5, 8]))
    pedal = invent_pedal(np.random.default_rng([1, 8]), setup.load_f)
    examined = examine_pedal(pedal, setup)
    setups, priors = find_setups(examined.references)
    runs = [
        PedalRun(e.label, e.ratio, examined.places[e.run_id])
        for e in examined.evidence
        if e.ratio is not None and e.label.position == pedal.position and not e.label.level_db
    ]
    data = prepare(runs, setups, priors)
    plan = plan_nuisances(data, learn((), KINDS[kind].believed), priors)
    return Problem(HYPOTHESES[name], data, plan, priors), data, plan, priors


@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize("name", ["bias", "inline"])
def test_slopes_are_those_of_the_residual(kind: str, name: HypothesisName) -> None:
    """Derivatives by formula agree with central differences of the residual."""
    problem, data, plan, priors = problem_of(kind, name)
    start = starts_of(problem.hypothesis, first_sight(data, priors))[0]
    z = 0.3 * np.random.default_rng(1).standard_normal(plan.count)
    x = np.concatenate([problem.to_search(start), z])
    found = problem.slope(x)
    h = 1e-4
    moves = np.eye(len(x)) * h
    slow = np.stack([(problem.residual(x + m) - problem.residual(x - m)) / (2 * h) for m in moves])
    size = np.maximum(np.abs(slow).max(axis=1), 1e-9)
    off = np.abs(found.T - slow).max(axis=1) / size
    assert off.max() < 1e-5


def test_covariance_is_the_inverse_of_the_information() -> None:
    """What a search returns is the inverse of the information matrix, inverted here plainly."""
    problem, data, _, priors = problem_of("standard_check", "shunt")
    start = problem.first(starts_of(problem.hypothesis, first_sight(data, priors))[0])
    found = least_squares(problem.residual, problem.slope, start)
    j = problem.slope(found.x)
    scale = np.linalg.norm(j, axis=0)
    plain = np.linalg.inv((j / scale).T @ (j / scale)) / np.outer(scale, scale)
    assert np.diag(found.covariance) == pytest.approx(np.diag(plain), rel=1e-3)


def test_bands_average_data_and_model_alike() -> None:
    """A curve averaged over bands equals the sum over each band written out."""
    _, data, _, _ = problem_of("standard_check", "shunt")
    curve = np.exp(1j * np.linspace(0, 3, len(data.f_hz)))[None, :] * np.ones((len(data.runs), 1))
    ends = [*data.starts[1:], len(data.f_hz)]
    slow = [
        (curve[:, a:b] * data.share[:, a:b]).sum(axis=1)
        for a, b in zip(data.starts, ends, strict=True)
    ]
    assert data.averaged(curve) == pytest.approx(np.stack(slow, axis=1), rel=1e-12)
    assert np.add.reduceat(data.share, data.starts, axis=1) == pytest.approx(1.0, rel=1e-12)


def test_joined_runs_are_their_geometric_mean() -> None:
    """Two runs of one hook-up become one with half the variance; other hook-ups stay apart."""
    _, data, _, _ = problem_of("standard_check", "shunt")
    kinds = {(r.label.feed, r.label.load, r.label.direction) for r in data.runs}
    assert len(kinds) == len(data.runs) == 2
    setup = Setup(KINDS["standard_check"], np.random.default_rng([5, 8]))
    pedal = invent_pedal(np.random.default_rng([1, 8]), setup.load_f)
    runs = [
        PedalRun(e.label, e.ratio, i)
        for i, e in enumerate(examine_pedal(pedal, setup).evidence)
        if e.ratio is not None and e.label.position == pedal.position and e.label.feed == "plain"
    ]
    one = join_alike([runs[0], replace(runs[0], place=7)])[0]
    assert one.t == pytest.approx(runs[0].ratio.t, rel=1e-12)
    assert one.var == pytest.approx(runs[0].ratio.var / 2, rel=1e-12)
    assert one.places == (runs[0].place, 7)


def test_scatter_reaches_the_bound() -> None:
    """Over noise alone C scatters by no more than 1.1 times what any unbiased estimate must.

    Forty draws know a scatter to 11 %, so up to 1.3 is chance; the stated uncertainty has none.
    """
    least = bound()
    found, stated, bias = scatter(2, 40)
    assert stated / least == pytest.approx(1.0, abs=0.05)
    assert 0.7 < found / least < 1.3
    assert abs(bias) < 4 * least / np.sqrt(40)
    assert DEFAULT_PRIORS.discrepancy > 0
