"""Chain matrices of the circuits that `loopback.circuit.hypotheses` lists.

Each function takes ``s = 2πjf``, shape (k,), and the values of its unknowns in the listed order,
each an array that broadcasts against `s`, and returns A, B, C, D.
"""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.chain import Chain, from_admittance

Values = tuple[F64, ...]


def wire(s: C128, values: Values) -> Chain:
    """Series resistance between two halves of a capacitance.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        r_series_ohm, c_farad.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    r, c = values
    return _pi(s * c / 2, r, s * c / 2)


def shunt(s: C128, values: Values) -> Chain:
    """Series resistance between two halves of a capacitance and a conductance.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        r_series_ohm, c_farad, g_siemens.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    r, c, g = values
    half = (g + s * c) / 2
    return _pi(half, r, half)


def coupled(s: C128, values: Values) -> Chain:
    """Resistor behind a coupling capacitor, beside plain capacitance.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        r_series_ohm, c_farad, r_branch_ohm, c_branch_farad.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    r, c, branch_r, branch_c = values
    return _pi(s * c / 2 + s * branch_c / (1 + s * branch_c * branch_r), r, s * c / 2)


def shelf(s: C128, values: Values) -> Chain:
    """Resistor, and a resistor-capacitor branch beside it.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        r_series_ohm, c_farad, g_siemens, r_branch_ohm, c_branch_farad.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    r, c, g, branch_r, branch_c = values
    y = g + s * c / 2 + s * branch_c / (1 + s * branch_c * branch_r)
    return _pi(y, r, s * c / 2)


def bias(s: C128, values: Values) -> Chain:
    """Input of an effect: coupling capacitor, series resistor, bias resistor with capacitance.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        r_series_ohm, c_farad, c_branch_farad, r_stopper_ohm, r_bias_ohm, c_bias_farad.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    r, c, branch_c, stopper, bias_r, bias_c = values
    z = 1 / (s * branch_c) + stopper + bias_r / (1 + s * bias_c * bias_r)
    return _pi(s * c / 2 + 1 / z, r, s * c / 2)


def inline(s: C128, values: Values) -> Chain:
    """Resistor in line, loads at both ends.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        c_farad (at the input), r_series_ohm, c_output_farad, g_output_siemens.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    c, r, c_out, g_out = values
    return _pi(s * c, r, g_out + s * c_out)


def blocked(s: C128, values: Values) -> Chain:
    """Capacitor and resistor in line, loads at both ends.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        c_farad, g_siemens (at the input), r_series_ohm, c_series_farad, c_output_farad,
        g_output_siemens.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    c, g, r, c_series, c_out, g_out = values
    return _pi(g + s * c, r + 1 / (s * c_series), g_out + s * c_out)


def switched(s: C128, values: Values) -> Chain:
    """Electronic switch between two capacitors, with bias behind the first, loads at both ends.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        c_farad, g_siemens (at the input), c_first_farad, g_bias_siemens (both sides of the switch),
        r_series_ohm, c_series_farad, c_output_farad, g_output_siemens.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    c, g, c_first, g_bias, r, c_series, c_out, g_out = values
    behind = _pi(g_bias + 0 * s, r + 1 / (s * c_series), g_out + s * c_out)
    return behind.after_series(1 / (s * c_first)).after_shunt(g + s * c)


def transformer(s: C128, values: Values) -> Chain:
    """Two windings with leakage, resistances and capacitances, one of them across.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        c_farad, r_primary_ohm, l_main_henry, l_leak_henry, ratio, r_secondary_ohm,
        c_output_farad, c_across_farad.

    Returns
    -------
    Chain
        A, B, C, D. The capacitance across joins the outer ends: admittances add.
    """
    c, r1, main, leak, n, r2, c_out, across = values
    # In chain form: r1 in line, main across, leak in line, ratio n:1, r2 in line.
    a0, b0 = n * np.ones_like(s), s * leak / n + n * r2
    c0, d0 = n / (s * main), (1 + s * leak / (s * main)) / n + n * r2 / (s * main)
    a1, b1 = a0 + r1 * c0, b0 + r1 * d0
    # To admittances (determinant 1), add the bridge, and back.
    y11, y12, y22 = d0 / b1, -1 / b1, a1 / b1
    y = s * across
    return from_admittance(y11 + y + s * c, y12 - y, y12 - y, y22 + y + s * c_out)


def stage(s: C128, values: Values) -> Chain:
    """Stage with its own output: input load, low corner, gain, output with capacitor, delay.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        c_input_farad, g_pulldown_siemens, r_input_ohm, corner_input_hz, gain_neper,
        r_output_ohm, c_coupling_farad, r_bleed_ohm, corner_inner_hz (between two stages), delay_s.

    Returns
    -------
    Chain
        A, B, C, D with AD − BC = 0: nothing comes back.
    """
    c, g, r_in, f_in, gain, r_out, c_out, bleed, f_inner, delay = values
    high = s / (s + 2 * math.pi * f_in)
    k = np.exp(gain - s * delay) * high * s / (s + 2 * math.pi * f_inner)
    y_in = g + s * c + high / r_in  # the input resistor behind its coupling capacitor
    z_out = r_out + 1 / (s * c_out)
    a, b = (1 + z_out / bleed) / k, z_out / k
    return Chain(a, b, y_in * a, y_in * b)


def loaded_stage(s: C128, values: Values) -> Chain:
    """Return `stage` with a resistor behind a capacitor beside its input.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        Those of `stage`, r_branch_ohm, corner_branch_hz.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    r, corner = values[-2:]
    return stage(s, values[:-2]).after_shunt(s / (s + 2 * math.pi * corner) / r)


def open_path(s: C128, values: Values) -> Chain:
    """Stray capacitance from in to out alone.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        c_farad (at the input), c_stray_farad, g_output_siemens.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    c, stray, g_out = values
    return _pi(s * c, 1 / (s * stray), g_out + 0 * s)


def short(s: C128, values: Values) -> Chain:
    """Low resistance to ground.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    values : tuple of ndarray
        r_short_ohm.

    Returns
    -------
    Chain
        A, B, C, D.
    """
    (r,) = values
    one = np.ones_like(s)
    return Chain(one, 0 * one, one / r, one)


def _pi(y1: C128, z: C128 | F64, y2: C128) -> Chain:
    """Shunt, series, shunt."""
    return Chain(
        1 + z * y2, np.asarray(z + 0 * y1, np.complex128), y1 + y2 + y1 * z * y2, 1 + y1 * z
    )
