"""Covariance of a complex ratio against the worked example of JCGM 100:2008, annex H.2."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.response.propagate import complex_ratio, independent_covariance

# JCGM 100:2008, table H.2: five simultaneous observations of V, I and phase.
V = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
I_MA = np.array([19.663, 19.639, 19.640, 19.685, 19.678])
PHI = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def _impedance(correlated: bool = True) -> tuple[complex, np.ndarray]:
    """Approach 1: means and covariance of the inputs, carried through the quotient V e^{jφ} / I."""
    inputs = np.stack([V, I_MA / 1e3, PHI])
    covariance = np.cov(inputs) / 5
    if not correlated:
        covariance = np.diag(np.diag(covariance))
    v, i, phi = inputs.mean(axis=1)
    a, b = v * np.exp(1j * phi), complex(i)
    into = np.array(
        [
            [np.cos(phi), 0, -v * np.sin(phi)],
            [np.sin(phi), 0, v * np.cos(phi)],
            [0, 1, 0],
            [0, 0, 0],
        ]
    )
    ratio, out = complex_ratio(np.array([a]), np.array([b]), (into @ covariance @ into.T)[None])
    return complex(ratio[0]), out[0]


def test_resistance_and_reactance() -> None:
    """R = 127.732 Ω, X = 219.847 Ω, as published in table H.3 and without rounding."""
    z, _ = _impedance()
    assert round(z.real, 3) == 127.732
    assert round(z.imag, 3) == 219.847
    assert abs(z) == pytest.approx(254.2597019480, abs=1e-9)


def test_uncertainties_and_correlation() -> None:
    """u(R) = 0.071 Ω, r(R, X) = −0.588 published; eleven digits computed with another library."""
    _, covariance = _impedance()
    u = np.sqrt(np.diag(covariance))
    assert round(float(u[0]), 3) == 0.071
    assert u == pytest.approx([0.0710714074, 0.2955816774], abs=1e-9)
    r = covariance[0, 1] / (u[0] * u[1])
    assert round(float(r), 3) == -0.588
    assert r == pytest.approx(-0.5884297844, abs=1e-9)
    assert covariance == pytest.approx(
        np.array([[0.00505114495, -0.01236138327], [-0.01236138327, 0.08736852799]]), abs=1e-10
    )


def test_uncertainty_of_the_magnitude() -> None:
    """u(|Z|) = 0.236 Ω, from the covariance of R and X."""
    z, covariance = _impedance()
    along = np.array([z.real, z.imag]) / abs(z)
    u = float(np.sqrt(along @ covariance @ along))
    assert round(u, 3) == 0.236
    assert u == pytest.approx(0.2363361301, abs=1e-9)


def test_dropping_the_correlations_is_seen() -> None:
    """Without correlations u would be 0.195 and 0.201 Ω: the example can tell right from wrong."""
    _, covariance = _impedance(correlated=False)
    assert np.sqrt(np.diag(covariance)) == pytest.approx([0.19454, 0.20091], abs=1e-5)


def test_independent_values_with_even_components() -> None:
    """The trace is |a|²/|b|² times the sum of the relative variances, and has no direction."""
    a, b = np.array([1 + 2j, 0.1j]), np.array([3 - 1j, 2 + 0j])
    var_a, var_b = np.array([1e-6, 4e-8]), np.array([2e-6, 9e-8])
    ratio, covariance = complex_ratio(a, b, independent_covariance(var_a, var_b))
    assert ratio == pytest.approx(a / b)
    expected = np.abs(ratio) ** 2 * (var_a / np.abs(a) ** 2 + var_b / np.abs(b) ** 2)
    assert np.trace(covariance, axis1=-2, axis2=-1) == pytest.approx(expected)
    assert covariance[:, 0, 0] == pytest.approx(covariance[:, 1, 1])
    assert np.max(np.abs(covariance[:, 0, 1])) < 1e-20


def test_against_drawn_values() -> None:
    """A hundred thousand draws scatter as the propagated covariance says, to 2 %."""
    rng = np.random.default_rng(3)
    root = rng.standard_normal((4, 4)) * 1e-3
    a, b = 0.8 - 0.3j, 1.1 + 0.4j
    draws = root @ rng.standard_normal((4, 100_000))
    quotients = (a + draws[0] + 1j * draws[1]) / (b + draws[2] + 1j * draws[3])
    seen = np.cov(np.stack([quotients.real, quotients.imag]))
    _, stated = complex_ratio(np.array([a]), np.array([b]), (root @ root.T)[None])
    assert seen == pytest.approx(stated[0], rel=0.03, abs=0.02 * float(np.max(stated)))
