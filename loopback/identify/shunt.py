"""Closed-form shunt: what R and C across the line explain a resistor run, with honest doubt."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.found import Shunt
from loopback.identify.least_squares import Fitted, Parameter, fit_curve
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import SetupFound
from loopback.identify.weights import DB, discrepancy_var, fit_band, scan_delay
from loopback.quantity import Estimate
from loopback.response.reading import Ratio

HELD_DELAY_U_S = 0.2e-6
"""A passive path delays by its series resistance alone: nanoseconds, rarely more."""
FREE_DELAY_U_S = 2e-6
"""Error of a delay that was taken off as what exceeds minimum phase (computed)."""
LATE_S = 20e-6
"""More than this is a converter's delay; it is taken off before anything is fitted."""


def closed_form_shunt(
    ratio: Ratio,
    setup: SetupFound,
    *,
    matings: int = 1,
    u_delay_s: float | None = None,
    priors: Priors = DEFAULT_PRIORS,
) -> Shunt:
    """Shunt ``Y = (1/T - 1)/Z_node`` as conductance and capacitance, with uncertainty.

    The start is the weighted linear solution for each delay; it is then refined together with all
    nuisances as parameters with priors: common gain, scale of the node impedance, treble shape,
    scatter of the plugs. A gain change and a shunt are exactly degenerate in one run, so `u` of
    both is dominated by `ratio.u_gain_db` and the plugs, not by noise.

    Parameters
    ----------
    ratio : Ratio
        A pedal run with the resistor lead over its reference.
    setup : SetupFound
        With `z_node` for that lead.
    matings : int
        How many independent pluggings of the pedal stand behind `ratio`.
    u_delay_s : float or None
        Standard uncertainty of the delay in `ratio.t`; None: by whether it is held. A wide one
        costs almost nothing at light loads; at heavy ones it keeps the sign of the capacitance.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    Shunt
        Unbounded values; the coupler's capacitance is added, since the reference contains it.
        When not to use: on a dead path, where nothing of the line is seen.
    """
    fitted, use, u_mate = _fit(ratio, setup, matings, u_delay_s, priors)
    c_u = math.sqrt(fitted.u("c") ** 2 + priors.coupler_u_farad**2 + u_mate**2)
    t = aligned(ratio)[use]
    model = t - fitted.residual
    off_db = 20 * np.log10(np.abs(t) / np.maximum(np.abs(model), 1e-30))
    resistor = setup.resistor.value if setup.resistor is not None else math.nan
    return Shunt(
        c_farad=Estimate(fitted.value("c") + priors.coupler_farad, c_u, "farad"),
        g_siemens=Estimate(fitted.value("g"), fitted.u("g"), "siemens"),
        residual_db=float(np.sqrt(np.mean(off_db**2))),
        resistor_ohm=resistor,
        node_c_farad=setup.node_c.value,
        difference=Estimate(fitted.value("c"), math.hypot(fitted.u("c"), u_mate), "farad"),
        excess=math.sqrt(fitted.reduced),
    )


def _fit(
    ratio: Ratio, setup: SetupFound, matings: int, u_delay_s: float | None, priors: Priors
) -> tuple[Fitted, np.ndarray[tuple[int, ...], np.dtype[np.bool_]], float]:
    use = fit_band(ratio.f_hz)
    f_hz, t = ratio.f_hz[use], aligned(ratio)[use]
    if u_delay_s is None:
        held = ratio.delay_held and abs(ratio.delay_s) < LATE_S
        u_delay_s = HELD_DELAY_U_S if held else FREE_DELAY_U_S
    z = np.interp(f_hz, setup.f_hz, setup.z_node.real) + 1j * np.interp(
        f_hz, setup.f_hz, setup.z_node.imag
    )
    s = 2j * math.pi * f_hz
    var = ratio.var[use] + np.abs(t) ** 2 * discrepancy_var(f_hz, priors)
    shape = (f_hz / 20e3) ** 2

    def model(p: F64) -> C128:
        # p: g, c, tau, gain, scale, shape
        y = p[0] + s * p[1]
        nuisance = np.exp(p[3] + p[5] * shape - s * p[2])
        return np.asarray(nuisance / (1 + z * np.exp(p[4]) * y))

    def search(reach_s: float) -> Fitted:
        g, c, tau = start_values(f_hz, t, z, var, reach_s)
        return fit_curve(
            model,
            (
                Parameter("g", g, 1e-8),
                Parameter("c", c, 1e-12),
                Parameter("tau", tau, 1e-8, 0.0, u_delay_s),
                Parameter("gain", 0.0, 1e-4, 0.0, max(ratio.u_gain_db, 1e-6) / DB),
                Parameter("scale", 0.0, 1e-3, 0.0, max(setup.u_scale, 1e-6)),
                Parameter("shape", 0.0, 1e-4, 0.0, priors.shape_u_db / DB),
            ),
            t,
            var,
        )

    # Across a low resistance the treble alone cannot tell a pole from its mirror image and a
    # delay: two starts, and the prior on the delay decides.
    fitted = search(3 * u_delay_s)
    if fitted.value("g") * float(np.abs(z[0])) > 1.0:
        fitted = min(fitted, search(0.2 * u_delay_s), key=lambda f: f.cost)
    references = max(1, len(ratio.reference_ids))
    # Two plugs each time the pedal or the coupler goes in.
    u_mate = priors.mating_u_farad * math.sqrt(2 * (1 / max(1, matings) + 1 / references))
    return fitted, use, u_mate


def aligned(ratio: Ratio) -> C128:
    """Take a converter's delay off a ratio whose delay was held.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.

    Returns
    -------
    ndarray of complex128, shape (k,)
        The ratio with no more than a few microseconds of delay in it.
    """
    if not ratio.delay_held or abs(ratio.delay_s) < LATE_S:
        return ratio.t
    return np.asarray(ratio.t * np.exp(2j * math.pi * ratio.f_hz * ratio.delay_s))


def start_values(
    f_hz: F64, t: C128, z: C128, var: F64, reach_s: float
) -> tuple[float, float, float]:
    """Conductance, capacitance and remaining delay by linear least squares over a scan of delays.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid.
    t : ndarray of complex128, shape (k,)
        Ratio to the reference.
    z : ndarray of complex128, shape (k,)
        Node impedance, ohms.
    var : ndarray of float64, shape (k,)
        Variance of `t`.
    reach_s : float
        How far from zero the delay may lie.

    Returns
    -------
    tuple of float
        Siemens, farads, seconds.
    """
    s = 2j * math.pi * f_hz
    weight = np.abs(t) ** 2 / np.sqrt(var)
    design = np.stack([z, s * z], axis=1)
    tau = scan_delay(f_hz, 1 / t, design, weight, reach_s)
    target = (np.exp(-s * tau) / t - 1.0) * weight
    a = design * weight[:, None]
    stacked = np.concatenate([a.real, a.imag])
    scale = np.linalg.norm(stacked, axis=0)
    solution, *_ = np.linalg.lstsq(
        stacked / scale, np.concatenate([target.real, target.imag]), rcond=None
    )
    g, c = solution / scale
    return float(g), float(c), tau
