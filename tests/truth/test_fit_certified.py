"""The one entry to least squares, held to certified problems: values and their uncertainties.

Non-linear: NIST Statistical Reference Datasets (StRD), eleven certified digits, from both certified
starts, except the far first one of BoxBOD and of MGH09: the search is local, and says so.
They have no weights, so the certified standard deviations are those scaled by the residual.
Weighted line: ISO/TS 28037:2010, 6.3, with known uncertainties and no scaling; the digits beyond
the printed ones were computed independently.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.identify.solve import Solution, least_squares

Model = Callable[[F64, F64], F64]


@dataclass(frozen=True)
class Certified:
    """One data set of NIST StRD."""

    model: Model
    x: F64
    y: F64
    starts: tuple[tuple[float, ...], ...]
    values: tuple[float, ...]
    deviations: tuple[float, ...]
    rss: float | None = None


_MISRA_X = np.array(
    [
        77.6,
        114.9,
        141.1,
        190.8,
        239.9,
        289.0,
        332.8,
        378.4,
        434.8,
        477.3,
        536.8,
        593.1,
        689.1,
        760.0,
    ]
)
_MISRA_Y = np.array(
    [
        10.07,
        14.73,
        17.94,
        23.93,
        29.61,
        35.18,
        40.02,
        44.82,
        50.76,
        55.05,
        61.01,
        66.40,
        75.47,
        81.78,
    ]
)
CERTIFIED = {
    "Misra1a": Certified(
        lambda b, x: b[0] * (1 - np.exp(-b[1] * x)), _MISRA_X, _MISRA_Y,
        ((500.0, 1e-4), (250.0, 5e-4)),
        (2.3894212918e02, 5.5015643181e-04), (2.7070075241e00, 7.2668688436e-06),
        1.2455138894e-01,
    ),
    "Misra1d": Certified(
        lambda b, x: b[0] * b[1] * x / (1 + b[1] * x), _MISRA_X, _MISRA_Y,
        ((500.0, 1e-4), (450.0, 3e-4)),
        (4.3736970754e02, 3.0227324449e-04), (3.6489174345e00, 2.9334354479e-06),
        5.6419295283e-02,
    ),
    "DanWood": Certified(
        lambda b, x: b[0] * x ** b[1],
        np.array([1.309, 1.471, 1.490, 1.565, 1.611, 1.680]),
        np.array([2.138, 3.421, 3.597, 4.340, 4.882, 5.660]),
        ((1.0, 5.0), (0.7, 4.0)),
        (7.6886226176e-01, 3.8604055871e00), (1.8281973860e-02, 5.1726610913e-02),
    ),
    "BoxBOD": Certified(
        lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
        np.array([1.0, 2.0, 3.0, 5.0, 7.0, 10.0]),
        np.array([109.0, 149.0, 149.0, 191.0, 213.0, 224.0]),
        ((100.0, 0.75),),
        (2.1380940889e02, 5.4723748542e-01), (1.2354515176e01, 1.0455993237e-01),
    ),
    "Rat42": Certified(
        lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)),
        np.array([9.0, 14.0, 21.0, 28.0, 42.0, 57.0, 63.0, 70.0, 79.0]),
        np.array([8.93, 10.80, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08]),
        ((100.0, 1.0, 0.1), (75.0, 2.5, 0.07)),
        (7.2462237576e01, 2.6180768402e00, 6.7359200066e-02),
        (1.7340283401e00, 8.8295217536e-02, 3.4465663377e-03),
    ),
    "MGH09": Certified(
        lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
        np.array([4.0, 2.0, 1.0, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625]),
        np.array(
            [0.1957, 0.1947, 0.1735, 0.1600, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246]
        ),
        ((0.25, 0.39, 0.415, 0.39),),
        (1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01),
        (1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02),
    ),
}  # fmt: skip


def solve(model: Model, x: F64, y: F64, start: tuple[float, ...], u: F64 | float = 1.0) -> Solution:
    """Fit by the entry that the joint fit uses, derivatives by complex step."""

    def residual(b: F64) -> F64:
        return np.asarray((model(b, x) - y) / u)

    def slope(b: F64) -> F64:
        columns = []
        for i in range(len(b)):
            moved = b.astype(complex)
            moved[i] += 1e-30j
            columns.append(np.imag(model(moved, x)) / 1e-30 / u)
        return np.stack(columns, axis=1)

    return least_squares(residual, slope, np.array(start), most_calls=400, tolerance=1e-14)


@pytest.mark.parametrize(
    ("name", "start"),
    [(name, start) for name, one in CERTIFIED.items() for start in one.starts],
)
def test_nist_values_and_standard_deviations(name: str, start: tuple[float, ...]) -> None:
    """Certified values and certified standard deviations come out to a millionth (NIST StRD)."""
    one = CERTIFIED[name]
    found = solve(one.model, one.x, one.y, start)
    deviations = np.sqrt(np.diag(found.covariance) * found.reduced)
    assert found.x == pytest.approx(one.values, rel=1e-6)
    assert deviations == pytest.approx(one.deviations, rel=1e-6)
    assert one.rss is None or found.chi2 == pytest.approx(one.rss, rel=1e-8)


X = np.arange(1.0, 7.0)


def line(b: F64, x: F64) -> F64:
    """Return a straight line."""
    return np.asarray(b[0] + b[1] * x)


def test_line_with_equal_weights() -> None:
    """ISO/TS 28037:2010, 6.3, equal uncertainties: printed digits, and the computed ones."""
    y = np.array([3.3, 5.6, 7.1, 9.3, 10.7, 12.1])
    found = solve(line, X, y, (0.0, 1.0), 0.5)
    u = np.sqrt(np.diag(found.covariance))
    assert found.x == pytest.approx([1.866666667, 1.757142857], rel=1e-9)
    assert u == pytest.approx([0.465474668, 0.119522861], rel=1e-8)
    assert found.covariance[0, 1] == pytest.approx(-0.05, rel=1e-9)
    assert (found.chi2, found.dof) == (pytest.approx(1.664761905, rel=1e-9), 4)
    assert [round(v, 3) for v in (*found.x, *u)] == [1.867, 1.757, 0.465, 0.120]


def test_line_with_unequal_weights() -> None:
    """ISO/TS 28037:2010, 6.3, unequal uncertainties: they are not scaled by the residual."""
    y = np.array([3.2, 4.3, 7.6, 8.6, 11.7, 12.8])
    u_y = np.array([0.5, 0.5, 0.5, 1.0, 1.0, 1.0])
    found = solve(line, X, y, (0.0, 1.0), u_y)
    u = np.sqrt(np.diag(found.covariance))
    assert found.x == pytest.approx([0.885232068, 2.056962025], rel=1e-8)
    assert u == pytest.approx([0.529708144, 0.177892017], rel=1e-8)
    assert found.covariance[0, 1] == pytest.approx(-0.082278481, rel=1e-8)
    assert found.chi2 == pytest.approx(4.130801688, rel=1e-9)
    assert found.log_det == pytest.approx(np.log(np.linalg.det(found.covariance)), rel=1e-9)


def test_weights_are_repeats() -> None:
    """A fit with whole weights equals the fit to rows repeated as often (an identity)."""
    one = CERTIFIED["Misra1a"]
    weights = np.array([1, 2, 3] * 4 + [1, 2])
    weighted = solve(one.model, one.x, one.y, one.starts[1], 1 / np.sqrt(weights))
    repeated = solve(one.model, np.repeat(one.x, weights), np.repeat(one.y, weights), one.starts[1])
    assert weighted.x == pytest.approx(repeated.x, rel=1e-9)
    assert weighted.covariance == pytest.approx(repeated.covariance, rel=1e-6)


def test_a_prior_is_one_more_observation() -> None:
    """A prior as a residual gives the product of two normal distributions (closed form)."""
    found = least_squares(
        lambda b: np.array([(b[0] - 3.0) / 0.5, (b[0] - 4.0) / 1.0]),
        lambda _: np.array([[2.0], [1.0]]),
        np.array([0.0]),
    )
    assert found.x[0] == pytest.approx((3 / 0.25 + 4 / 1) / (1 / 0.25 + 1), rel=1e-12)
    assert found.covariance[0, 0] == pytest.approx(1 / (1 / 0.25 + 1), rel=1e-12)


def test_a_long_problem_has_the_covariance_of_a_short_one() -> None:
    """Rows in blocks: 700 residuals of 12 unknowns give the inverse of JᵀJ, written out here."""
    rng = np.random.default_rng(3)
    j = rng.normal(size=(700, 12)) * np.geomspace(1e-6, 1e6, 12)
    found = least_squares(lambda x: j @ x - 1.0, lambda _: j, np.zeros(12))
    scale = np.linalg.norm(j, axis=0)
    plain = np.linalg.inv((j / scale).T @ (j / scale))
    assert found.covariance * np.outer(scale, scale) == pytest.approx(plain, rel=1e-9, abs=1e-12)
    expected = np.linalg.slogdet(plain)[1] - 2 * np.sum(np.log(scale))
    assert found.log_det == pytest.approx(expected, rel=1e-9)


def test_a_search_that_leads_nowhere_is_given_up() -> None:
    """Far above its aim and slow, a search ends early; one that has arrived ends as well."""

    def calls(aim: float, still: float) -> tuple[int, Solution]:
        made = 0

        def residual(x: F64) -> F64:
            nonlocal made
            made += 1
            return np.array([1e3, 10 * (x[1] - x[0] ** 2), 1 - x[0], 1e-3 * x[0]])

        def slope(x: F64) -> F64:
            return np.array([[0.0, 0.0], [-20 * x[0], 10.0], [-1.0, 0.0], [1e-3, 0.0]])

        found = least_squares(residual, slope, np.array([-1.9, 2.0]), tolerance=1e-15, aim=aim,
                              still=still)  # fmt: skip
        return made, found

    whole, best = calls(np.inf, 0.0)
    given_up, _ = calls(1.0, 0.0)
    arrived, near = calls(np.inf, 1e-6)
    assert given_up < whole
    assert arrived <= whole
    assert near.x == pytest.approx(best.x, abs=1e-2)
