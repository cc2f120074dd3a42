"""What a run with the plain lead shows and excludes: series resistance, gross loads, flatness."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from loopback.arrays import F64
from loopback.identify.found import PlainBounds
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

    def bound(curve: Callable[[F64], F64], values: F64) -> float:
        cost = _costs(level - curve(values[:, None]), f_hz, var, u_gain, priors.shape_u_db)
        best = int(np.argmin(cost))
        if cost[best] > MISFIT * len(level):  # nothing of this kind explains the run
            return math.inf
        above = np.flatnonzero(cost[best:] > cost[best] + ONE_SIDED_95**2)
        return float(values[best + above[0]]) if above.size else math.inf

    def series(r: F64) -> F64:
        return np.asarray(-DB * np.log(np.abs(1 + r * y_load)))

    def shunt(g: F64) -> F64:
        return np.asarray(-DB * np.log(np.abs(1 + z_node * g)))

    def parallel(c: F64) -> F64:
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


def _costs(off: F64, f_hz: F64, var: F64, u_gain: float, u_shape: float) -> F64:
    """Weighted sums of squares of curves, (v, k), with gain and shape free within their priors."""
    w = 1.0 / np.sqrt(var)
    columns = np.stack([u_gain * w, u_shape * (f_hz / 20e3) ** 2 * w], axis=1)
    y = off * w
    projected = y @ columns
    inner = np.linalg.inv(np.eye(2) + columns.T @ columns)
    taken = np.einsum("vi,ij,vj->v", projected, inner, projected)
    return np.asarray(np.einsum("vk,vk->v", y, y) - taken)


def _flat_to(f_hz: F64, off: F64, var: F64, priors: Priors) -> float:
    allowed = np.maximum(
        FLAT_DB, 5 * np.hypot(np.sqrt(var), priors.shape_u_db * (f_hz / 20e3) ** 2)
    )
    bad = np.flatnonzero((np.abs(off) > allowed) & (f_hz > 2000.0))
    return float(f_hz[-1] if bad.size == 0 else f_hz[bad[0]])
