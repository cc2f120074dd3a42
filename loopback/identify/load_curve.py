"""Admittance of the load, from the reference runs: as a measured curve, or by its corner alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.least_squares import Parameter, fit_curve
from loopback.identify.priors import Priors
from loopback.identify.weights import DB, discrepancy_var, fit_band, scan_delay
from loopback.quantity import Estimate
from loopback.response.reading import RunResponse

Mean: TypeAlias = tuple[F64, C128, F64]
"""Grid, mean response and its variance, each of shape (k,)."""


def mean_response(runs: Sequence[RunResponse]) -> Mean | None:
    """Average reference runs of one feed, each turned to the phase of the first.

    Parameters
    ----------
    runs : sequence of RunResponse
        On one grid; a run on another is passed over.

    Returns
    -------
    tuple of ndarray, shape (k,), or None
        Grid in hertz, mean, variance; None without any run.
    """
    if not runs:
        return None
    first = runs[0]
    f_hz = first.f_hz
    turned = [
        r.h * np.exp(2j * math.pi * f_hz * r.delay_s) for r in runs if r.f_hz.shape == f_hz.shape
    ]
    for i, h in enumerate(turned[1:], start=1):
        turned[i] = h * np.exp(2j * math.pi * f_hz * _slope_s(f_hz, h / turned[0]))
    var = np.mean([r.var for r in runs if r.f_hz.shape == f_hz.shape], axis=0) / len(turned)
    return f_hz, np.mean(turned, axis=0), np.asarray(var)


def _slope_s(f_hz: F64, ratio: C128) -> float:
    """Delay in seconds of a ratio of two like responses, from its phase."""
    phase = np.unwrap(np.angle(ratio))
    omega = 2 * math.pi * f_hz
    return float(-(omega @ (phase - phase[0])) / (omega @ omega))


def load_from_both(
    plain: Mean,
    resistor: Mean,
    zs1: C128,
    zs2: C128,
    g0: float,
    priors: Priors,
) -> tuple[C128, Estimate, Estimate, float]:
    """Load admittance as a curve, from a plain and a resistor reference.

    Delay and gain between the two are found with an R and C in the place of the load; the curve
    itself is then what the ratio says, whatever the load is.

    Parameters
    ----------
    plain, resistor : tuple of ndarray
        From `mean_response`.
    zs1, zs2 : ndarray of complex128, shape (k,)
        Feeding impedance with the plain and with the resistor lead, ohms.
    g0 : float
        Where the search for the conductance begins, siemens.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    tuple
        Curve in siemens, shape (k,); capacitance; conductance; root of the reduced sum of squares.
    """
    f_hz = plain[0]
    s = 2j * math.pi * f_hz
    q = resistor[1] / plain[1]
    var = np.abs(q) ** 2 * (
        plain[2] / np.abs(plain[1]) ** 2
        + resistor[2] / np.abs(resistor[1]) ** 2
        + discrepancy_var(f_hz, priors)
    )
    use = fit_band(f_hz)
    weight = np.abs(q[use]) ** 2 / np.sqrt(var[use])
    z = zs2 - zs1 / q
    design = np.stack([z[use], s[use] * z[use]], axis=1)
    tau = scan_delay(f_hz[use], 1 / q[use], design, weight, 100e-6)

    def model(p: F64) -> C128:
        y = p[0] + s[use] * p[1]
        turn = np.exp(-s[use] * p[2] + p[3])
        return np.asarray(turn * (1 + zs1[use] * y) / (1 + zs2[use] * y))

    # Measured 1/Q carries exp(+jωτ), so a scan that takes exp(-jωτ) off it returns τ itself.
    turned = 1 / q[use] * np.exp(-s[use] * tau) - 1.0
    lead = turned / z[use]
    c_start = float(np.median(lead.imag[-20:] / (2 * math.pi * f_hz[use][-20:])))
    fitted = fit_curve(
        model,
        (
            Parameter("g", g0, 1e-7),
            Parameter("c", max(c_start, 10e-12), 1e-11),
            Parameter("tau", tau, 1e-7),
            Parameter("gain", 0.0, 1e-3, 0.0, priors.reference_gain_u_db / DB),
        ),
        q[use],
        var[use],
    )
    q = q * np.exp(s * fitted.value("tau"))
    y_load = (1 - q) / (q * zs2 - zs1)
    return (
        y_load,
        Estimate(fitted.value("c"), fitted.u("c"), "farad"),
        Estimate(fitted.value("g"), fitted.u("g"), "siemens"),
        math.sqrt(fitted.reduced),
    )


def load_from_resistor(
    resistor: Mean,
    r_ohm: float,
    zs2: C128,
    g0: float,
    u_g0: float,
    priors: Priors,
) -> tuple[C128, Estimate, Estimate, float]:
    """Load admittance from the corner of a resistor reference alone.

    Level and conductance cannot be told apart there, so the prior decides. Magnitude only, 150 Hz
    to 15 kHz: there the interface itself is flat, and its filters' phase stays out of it.

    Parameters
    ----------
    resistor : tuple of ndarray
        From `mean_response`.
    r_ohm : float
        The resistor.
    zs2 : ndarray of complex128, shape (k,)
        Feeding impedance with it, ohms.
    g0, u_g0 : float
        Prior of the conductance and its standard uncertainty, siemens.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    tuple
        Curve in siemens, shape (k,); capacitance; conductance; root of the reduced sum of squares.
    """
    f_hz, h, _ = resistor
    use = (f_hz >= 150.0) & (f_hz <= min(15e3, 0.9 * f_hz[-1]))
    s = 2j * math.pi * f_hz
    level = np.abs(h[use]).astype(np.complex128)
    var = (2e-3 * np.abs(level)) ** 2

    def model(p: F64) -> C128:
        y = p[0] + s[use] * p[1]
        return np.asarray(np.abs(np.exp(p[2]) / (1 + zs2[use] * y)).astype(np.complex128))

    start = math.log(float(np.abs(level[0]))) + math.log1p(r_ohm * g0)
    fitted = fit_curve(
        model,
        (
            Parameter("g", g0, 1e-7, g0, u_g0),
            Parameter("c", priors.node_farad, 1e-11),
            Parameter("gain", start, 1e-2),
        ),
        level,
        var,
    )
    g, c = fitted.value("g"), fitted.value("c")
    return (
        np.asarray(g + s * c),
        Estimate(c, fitted.u("c"), "farad"),
        Estimate(g, fitted.u("g"), "siemens"),
        math.sqrt(fitted.reduced),
    )
