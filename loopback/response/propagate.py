"""Uncertainty of a complex ratio, with both components and their correlation."""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64


def independent_covariance(var_a: F64, var_b: F64) -> F64:
    """Covariance of two unrelated complex values whose components share their variance evenly.

    Parameters
    ----------
    var_a, var_b : ndarray of float64, shape (k,)
        ``E|error|²`` of each value.

    Returns
    -------
    ndarray of float64, shape (k, 4, 4)
        Of real and imaginary part of a, real and imaginary part of b.
    """
    half = np.stack([var_a, var_a, var_b, var_b], axis=-1) / 2
    return np.asarray(half[..., :, None] * np.eye(4), dtype=np.float64)


def complex_ratio(a: C128, b: C128, covariance: F64) -> tuple[C128, F64]:
    """Divide two complex values and carry their covariance along.

    The law of propagation with the Jacobian of the quotient (JCGM 100:2008, 5.2.2 and H.2; JCGM
    102:2011, 6.2).

    Parameters
    ----------
    a, b : ndarray of complex128, shape (k,)
        Numerator and denominator.
    covariance : ndarray of float64, shape (k, 4, 4)
        Of (Re a, Im a, Re b, Im b).

    Returns
    -------
    ratio : ndarray of complex128, shape (k,)
        ``a / b``.
    covariance : ndarray of float64, shape (k, 2, 2)
        Of its real and imaginary part; the trace is ``E|error|²``. Not for a denominator whose
        own uncertainty is not small against it.
    """
    ratio = a / b
    by_a, by_b = 1 / b, -ratio / b
    jacobian = np.concatenate([_multiplication(by_a), _multiplication(by_b)], axis=-1)
    carried = np.einsum("...ij,...jk,...lk->...il", jacobian, covariance, jacobian)
    return np.asarray(ratio), np.asarray(carried)


def _multiplication(factor: C128) -> F64:
    """Real 2×2 matrices that multiply (Re, Im) by a complex factor."""
    rows = [[factor.real, -factor.imag], [factor.imag, factor.real]]
    return np.moveaxis(np.array(rows, dtype=np.float64), (0, 1), (-2, -1))
