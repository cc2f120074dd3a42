"""A load that reaches the line through a capacitor: resistor, coupling capacitor, plain C."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.found import Network
from loopback.identify.least_squares import Parameter, fit_curve
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import SetupFound
from loopback.identify.shunt import FREE_DELAY_U_S, HELD_DELAY_U_S, aligned, start_values
from loopback.identify.weights import DB, discrepancy_var, fit_band
from loopback.quantity import Estimate
from loopback.response.reading import Ratio

WIDE_LOG = 4.0
"""Prior of the logarithms of resistance and coupling: a factor of 50 either way, so that neither
runs away where the run says nothing about it."""


def coupled_load(
    ratio: Ratio, setup: SetupFound, *, priors: Priors = DEFAULT_PRIORS
) -> Network | None:
    """Fit ``Y = jωC + 1/(R + 1/(jωC_c))`` to a resistor run.

    Parameters
    ----------
    ratio : Ratio
        A pedal run with the resistor lead over its reference.
    setup : SetupFound
        With `z_node` for that lead.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    Network or None
        None when the search ends at no passive values. When not to use: where a plain resistor
        and capacitor already explain the run, since the coupling capacitor is then not seen.
    """
    use = fit_band(ratio.f_hz)
    f_hz, t = ratio.f_hz[use], aligned(ratio)[use]
    z = np.interp(f_hz, setup.f_hz, setup.z_node.real) + 1j * np.interp(
        f_hz, setup.f_hz, setup.z_node.imag
    )
    s = 2j * math.pi * f_hz
    var = ratio.var[use] + np.abs(t) ** 2 * discrepancy_var(f_hz, priors)
    u_delay_s = HELD_DELAY_U_S if ratio.delay_held else FREE_DELAY_U_S
    g0, c0, tau0 = start_values(f_hz, t, z, var, 3 * u_delay_s)
    shape = (f_hz / 20e3) ** 2

    def model(p: F64) -> C128:
        # p: log R, log coupling, C, tau, gain, scale, shape
        y = s * p[2] + 1 / (np.exp(p[0]) + 1 / (s * np.exp(p[1])))
        nuisance = np.exp(p[4] + p[6] * shape - s * p[3])
        return np.asarray(nuisance / (1 + z * np.exp(p[5]) * y))

    best = None
    r0 = 1 / max(g0, 1e-7)
    for corner_hz in (5.0, 40.0, 300.0):
        coupling0 = math.log(1 / (2 * math.pi * corner_hz * r0))
        fitted = fit_curve(
            model,
            (
                Parameter("log_r", math.log(r0), 0.01, math.log(r0), WIDE_LOG),
                Parameter("log_coupling", coupling0, 0.01, coupling0, WIDE_LOG),
                Parameter("c", max(c0, 0.0), 1e-12),
                Parameter("tau", tau0, 1e-8, 0.0, u_delay_s),
                Parameter("gain", 0.0, 1e-4, 0.0, max(ratio.u_gain_db, 1e-6) / DB),
                Parameter("scale", 0.0, 1e-3, 0.0, max(setup.u_scale, 1e-6)),
                Parameter("shape", 0.0, 1e-4, 0.0, priors.shape_u_db / DB),
            ),
            t,
            var,
        )
        if best is None or fitted.reduced < best.reduced:
            best = fitted
    if best is None or not (math.log(10.0) < best.value("log_r") < math.log(1e9)):
        return None
    r, coupling = math.exp(best.value("log_r")), math.exp(best.value("log_coupling"))
    mate = priors.mating_u_farad * math.sqrt(2 * (1 + 1 / max(1, len(ratio.reference_ids))))
    model_t = t - best.residual
    off = DB * np.log(np.abs(t) / np.maximum(np.abs(model_t), 1e-30))
    return Network(
        r_ohm=Estimate(r, r * best.u("log_r"), "ohm"),
        coupling_farad=Estimate(coupling, coupling * best.u("log_coupling"), "farad"),
        c_farad=Estimate(
            best.value("c") + priors.coupler_farad,
            math.sqrt(best.u("c") ** 2 + mate**2 + priors.coupler_u_farad**2),
            "farad",
        ),
        residual_db=float(np.sqrt(np.mean(off**2))),
    )
