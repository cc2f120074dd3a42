"""Two-port algebra on arrays of chain matrices, shape (k, 2, 2).

Pure kernels: Pozar, *Microwave Engineering*, ch. 4 (chain matrix), and Frickey 1994, IEEE Trans.
Microwave Theory Tech. 42(2), 205–211 (scattering matrix with complex port impedances).
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import ArrayLike

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError


def series_impedance(z_ohm: C128) -> C128:
    """Chain matrix of an impedance in the line.

    Parameters
    ----------
    z_ohm : ndarray of complex128, shape (k,)
        Ohm.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        ``[[1, Z], [0, 1]]``.
    """
    z = np.asarray(z_ohm, dtype=np.complex128)
    return _matrix(np.ones_like(z), z, np.zeros_like(z), np.ones_like(z))


def shunt_admittance(y_siemens: C128) -> C128:
    """Chain matrix of an admittance across the line.

    Parameters
    ----------
    y_siemens : ndarray of complex128, shape (k,)
        Siemens.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        ``[[1, 0], [Y, 1]]``.
    """
    y = np.asarray(y_siemens, dtype=np.complex128)
    return _matrix(np.ones_like(y), np.zeros_like(y), y, np.ones_like(y))


def cascade(*matrices: C128) -> C128:
    """Chain matrix of two-ports one after the other, first one at the source.

    Parameters
    ----------
    *matrices : ndarray of complex128, shape (k, 2, 2)
        One or more, in signal order.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        Their product.

    Raises
    ------
    ArgumentError
        If none is given.
    """
    if not matrices:
        raise ArgumentError("A cascade needs at least one two-port; none was given.")
    return reduce(np.matmul, matrices)


def line(
    f_hz: F64,
    length_m: float,
    *,
    c_farad_per_m: float,
    r_ohm_per_m: float = 0.0,
    l_henry_per_m: float = 0.0,
    g_siemens_per_m: float = 0.0,
) -> C128:
    """Chain matrix of a uniform cable.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Frequencies, zero or above.
    length_m : float
        Length.
    c_farad_per_m, r_ohm_per_m, l_henry_per_m, g_siemens_per_m : float
        Constants of the line per metre, taken as independent of frequency. A guitar lead is mostly
        its 50 to 160 pF/m (common practice).

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        ``A = D = cosh γl``, ``B = Z0 sinh γl``, ``C = sinh(γl) / Z0``, written so that zero
        frequency and missing constants need no special case.
    """
    jw = np.asarray(2j * np.pi * f_hz, dtype=np.complex128)
    z: C128 = (r_ohm_per_m + jw * l_henry_per_m) * length_m
    y: C128 = (g_siemens_per_m + jw * c_farad_per_m) * length_m
    angle = np.sqrt(z * y)
    small = np.abs(angle) < 1e-4
    safe = np.where(small, 1.0, angle)
    # sinh(x)/x, by its series where the quotient would lose digits
    sinhc = np.where(small, 1 + angle**2 / 6, np.sinh(safe) / safe)
    return _matrix(np.cosh(angle), z * sinhc, y * sinhc, np.cosh(angle))


def voltage_ratio(m: C128, zs_ohm: ArrayLike, yl_siemens: ArrayLike) -> C128:
    """Load voltage over the EMF, ``1 / (A + B YL + C Zs + D Zs YL)``.

    Parameters
    ----------
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix.
    zs_ohm : array_like of complex, scalar or shape (k,)
        Source impedance, ohm.
    yl_siemens : array_like of complex, scalar or shape (k,)
        Load admittance, siemens.

    Returns
    -------
    ndarray of complex128, shape (k,)
        V/V.
    """
    zs, yl = np.asarray(zs_ohm), np.asarray(yl_siemens)
    a, b, c, d = _entries(m)
    return np.asarray(1.0 / (a + b * yl + c * zs + d * zs * yl), dtype=np.complex128)


def input_impedance(m: C128, yl_siemens: ArrayLike) -> C128:
    """Impedance seen into the first port, ``(A + B YL) / (C + D YL)``.

    Parameters
    ----------
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix.
    yl_siemens : array_like of complex, scalar or shape (k,)
        Load admittance, siemens; 0 is an open output.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Ohm; infinite where nothing at all is across the line.
    """
    yl = np.asarray(yl_siemens)
    a, b, c, d = _entries(m)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray((a + b * yl) / (c + d * yl), dtype=np.complex128)


def output_impedance(m: C128, zs_ohm: ArrayLike) -> C128:
    """Impedance seen into the second port, ``(D Zs + B) / (C Zs + A)``.

    Parameters
    ----------
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix.
    zs_ohm : array_like of complex, scalar or shape (k,)
        Source impedance at the first port, ohm.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Ohm.
    """
    zs = np.asarray(zs_ohm)
    a, b, c, d = _entries(m)
    return np.asarray((d * zs + b) / (c * zs + a), dtype=np.complex128)


def determinant(m: C128) -> C128:
    """``AD − BC``: 1 for anything passive and reciprocal, 0 behind an ideal buffer.

    Parameters
    ----------
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Dimensionless. Where A and D are huge (a dead path) the difference has lost its digits.
    """
    a, b, c, d = _entries(m)
    return a * d - b * c


def s_from_a(m: C128, z1_ohm: ArrayLike, z2_ohm: ArrayLike) -> C128:
    """Scattering matrix of a chain matrix (Frickey 1994, table I).

    Parameters
    ----------
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix.
    z1_ohm, z2_ohm : array_like of complex, scalar or shape (k,)
        Port impedances with positive real part, ohm.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        ``[[S11, S12], [S21, S22]]`` in power waves.
    """
    z1, z2 = np.asarray(z1_ohm), np.asarray(z2_ohm)
    a, b, c, d = _entries(m)
    root = 2 * np.sqrt(z1.real * z2.real)
    k1, k2 = np.conj(z1), np.conj(z2)
    den = a * z2 + b + c * z1 * z2 + d * z1
    return _matrix(
        (a * z2 + b - c * k1 * z2 - d * k1) / den,
        root * (a * d - b * c) / den,
        root / den,
        (-a * k2 + b - c * z1 * k2 + d * z1) / den,
    )


def a_from_s(s: C128, z1_ohm: ArrayLike, z2_ohm: ArrayLike) -> C128:
    """Chain matrix of a scattering matrix (Frickey 1994, table II).

    Parameters
    ----------
    s : ndarray of complex128, shape (k, 2, 2)
        Scattering matrix in power waves.
    z1_ohm, z2_ohm : array_like of complex, scalar or shape (k,)
        Port impedances with positive real part, ohm.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        Chain matrix; not finite where S21 is zero, for then nothing gets through.
    """
    z1, z2 = np.asarray(z1_ohm), np.asarray(z2_ohm)
    s11, s12, s21, s22 = _entries(s)
    k1, k2 = np.conj(z1), np.conj(z2)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = 1 / (2 * s21 * np.sqrt(z1.real * z2.real))
        return _matrix(
            ((k1 + s11 * z1) * (1 - s22) + s12 * s21 * z1) * scale,
            ((k1 + s11 * z1) * (k2 + s22 * z2) - s12 * s21 * z1 * z2) * scale,
            ((1 - s11) * (1 - s22) - s12 * s21) * scale,
            ((1 - s11) * (k2 + s22 * z2) + s12 * s21 * z2) * scale,
        )


def _entries(m: C128) -> tuple[C128, C128, C128, C128]:
    return m[..., 0, 0], m[..., 0, 1], m[..., 1, 0], m[..., 1, 1]


def _matrix(a: C128, b: C128, c: C128, d: C128) -> C128:
    first = np.stack(np.broadcast_arrays(a, b), axis=-1)
    second = np.stack(np.broadcast_arrays(c, d), axis=-1)
    return np.stack([first, second], axis=-2)
