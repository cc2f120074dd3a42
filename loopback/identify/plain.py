"""What a run with the plain lead shows and excludes: series resistance, gross loads, flatness."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.found import PlainBounds
from loopback.identify.least_squares import Parameter, fit_curve
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import SetupFound
from loopback.identify.weights import DB, discrepancy_var, fit_band
from loopback.quantity import Estimate
from loopback.response.reading import Ratio

ONE_SIDED_95 = 1.6448536269514722
MISFIT = 9.0
"""Weighted sum of squares per point beyond which a bound would mean nothing."""
FLAT_DB = 0.05
"""Flat means: within this and within five standard uncertainties."""


def plain_bounds(
    ratio: Ratio, setup: SetupFound, *, priors: Priors = DEFAULT_PRIORS
) -> PlainBounds:
    """Largest series resistance and smallest shunt that a plain run would not have shown.

    Levels only, so that no delay has to be known. Each bound is the value at which the weighted
    sum of squares, common gain and treble shape free within their priors, has risen by
    ``1.645²`` over its least (one-sided 95 %).

    Parameters
    ----------
    ratio : Ratio
        A pedal run with the plain lead over its reference.
    setup : SetupFound
        For the load admittance.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    PlainBounds
        Each bound taken alone, everything else absent. When not to use: on an active path,
        whose gain would pass for one of them.
    """
    use = fit_band(ratio.f_hz)
    f_hz = ratio.f_hz[use]
    magnitude = np.abs(ratio.t[use])
    level = DB * np.log(np.maximum(magnitude, 1e-12))
    var = DB**2 * (
        ratio.var[use] / (2 * np.maximum(magnitude, 1e-12) ** 2) + discrepancy_var(f_hz, priors)
    )
    y_load = np.interp(f_hz, setup.f_hz, setup.y_load.real) + 1j * np.interp(
        f_hz, setup.f_hz, setup.y_load.imag
    )
    s = 2j * math.pi * f_hz
    # A shunt shows the less, the lower the source: take the low end of what it may be.
    zs = priors.source_ohm * math.exp(-ONE_SIDED_95 * priors.source_u_log)
    z_node = 1.0 / (1.0 / zs + y_load)
    u_gain = max(ratio.u_gain_db, 1e-4)

    def bound(curve: Callable[[float], F64], values: F64) -> float:
        cost = np.array(
            [_cost(level - curve(v), f_hz, var, u_gain, priors.shape_u_db) for v in values]
        )
        best = int(np.argmin(cost))
        if cost[best] > MISFIT * len(level):  # nothing of this kind explains the run
            return math.inf
        above = np.flatnonzero(cost[best:] > cost[best] + ONE_SIDED_95**2)
        return float(values[best + above[0]]) if above.size else math.inf

    def series(r: float) -> F64:
        return np.asarray(-DB * np.log(np.abs(1 + r * y_load)))

    def shunt(g: float) -> F64:
        return np.asarray(-DB * np.log(np.abs(1 + z_node * g)))

    def parallel(c: float) -> F64:
        return np.asarray(-DB * np.log(np.abs(1 + z_node * s * c)))

    g_over = bound(shunt, np.geomspace(1e-7, 1e-1, 121))
    middle = (f_hz >= 200.0) & (f_hz <= 2000.0)
    flat_to = _flat_to(f_hz, level - float(np.mean(level[middle])), var, priors)
    return PlainBounds(
        series_over_ohm=bound(series, np.geomspace(1.0, 1e7, 141)),
        shunt_under_ohm=0.0 if math.isinf(g_over) else 1.0 / g_over,
        c_over_farad=bound(parallel, np.geomspace(1e-11, 1e-6, 101)),
        flat_to_hz=flat_to,
        level=Estimate(float(np.mean(level[middle])), u_gain, "dB"),
    )


def series_from_delay(
    ratio: Ratio,
    setup: SetupFound,
    c_farad: Estimate,
    g_siemens: float,
    u_delay_s: float,
    *,
    priors: Priors = DEFAULT_PRIORS,
) -> Estimate | None:
    """Series resistance of a passive path from the delay it makes with the load's capacitance.

    ``r Y_L`` turns the phase by ``ω r C_L``: 5 ohms into 400 pF are 2 ns. What the shunt does
    together with the output impedance is taken off first.

    Parameters
    ----------
    ratio : Ratio
        A pedal run with the plain lead, its delay held by a check cable or one stream.
    setup : SetupFound
        For the load admittance.
    c_farad : Estimate
        Capacitance across the line, over that of the coupler, as it acts in the treble.
    g_siemens : float
        Conductance across the line.
    u_delay_s : float
        Standard uncertainty of the held delay.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    Estimate or None
        Ohms; may lie below zero. None when the delay is not held. When not to use: on an active
        path, whose own delay would pass for resistance.
    """
    if not ratio.delay_held:
        return None
    use = fit_band(ratio.f_hz)
    f_hz, t = ratio.f_hz[use], ratio.t[use]
    s = 2j * math.pi * f_hz
    y_load = np.interp(f_hz, setup.f_hz, setup.y_load.real) + 1j * np.interp(
        f_hz, setup.f_hz, setup.y_load.imag
    )
    c, u_c = c_farad.value, max(c_farad.u, 1e-14)
    var = ratio.var[use] + np.abs(t) ** 2 * discrepancy_var(f_hz, priors)

    def model(p: F64) -> C128:
        # p: r, tau, gain, log source, shunt capacitance
        zs = priors.source_ohm * np.exp(p[3])
        across = g_siemens + s * p[4]
        with_part = 1 + p[0] * y_load + zs * (y_load + across)
        return np.asarray(np.exp(p[2] - s * p[1]) * (1 + zs * y_load) / with_part)

    fitted = fit_curve(
        model,
        (
            Parameter("r", 0.0, 1.0),
            Parameter("tau", 0.0, 1e-10, 0.0, u_delay_s),
            Parameter("gain", 0.0, 1e-4, 0.0, max(ratio.u_gain_db, 1e-6) / DB),
            Parameter("source", 0.0, 1e-2, 0.0, priors.source_u_log),
            Parameter("c", c, 1e-13, c, u_c),
        ),
        t,
        var,
    )
    return Estimate(fitted.value("r"), fitted.u("r"), "ohm")


def _cost(off: F64, f_hz: F64, var: F64, u_gain: float, u_shape: float) -> float:
    """Weighted sum of squares with gain and treble shape free within their priors."""
    w = 1.0 / np.sqrt(var)
    columns = np.stack([u_gain * w, u_shape * (f_hz / 20e3) ** 2 * w], axis=1)
    y = off * w
    projected = columns.T @ y
    inner = np.eye(2) + columns.T @ columns
    return float(y @ y - projected @ np.linalg.solve(inner, projected))


def _flat_to(f_hz: F64, off: F64, var: F64, priors: Priors) -> float:
    allowed = np.maximum(
        FLAT_DB, 5 * np.hypot(np.sqrt(var), priors.shape_u_db * (f_hz / 20e3) ** 2)
    )
    bad = np.flatnonzero((np.abs(off) > allowed) & (f_hz > 2000.0))
    return float(f_hz[-1] if bad.size == 0 else f_hz[bad[0]])
