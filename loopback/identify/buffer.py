"""Input of an active stage, from a resistor run."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.found import BufferInput
from loopback.identify.least_squares import Parameter, fit_curve
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import SetupFound
from loopback.identify.shunt import FREE_DELAY_U_S, aligned, start_values
from loopback.identify.weights import DB, discrepancy_var, fit_band
from loopback.quantity import Estimate
from loopback.response.reading import Ratio

LOWEST_HZ = 60.0
"""Below, a stage's several coupling capacitors show, of which one corner is modelled."""
GAIN_DB, GAIN_U_DB = -0.4, 0.4
"""Gain of a buffer without a plain run: 0 to -1.4 dB (common practice)."""
CORNER_HZ = 8.0


def buffer_input(
    ratio: Ratio,
    setup: SetupFound,
    gain_db: Estimate | None,
    *,
    priors: Priors = DEFAULT_PRIORS,
) -> BufferInput:
    """Fit gain, low corner and input admittance of a stage that drives the return lead itself.

    With the lead off the source, ``T = k (1/Z_s + Y_L) / (1/Z_s + Y_in)``. The input capacitance
    is told from the treble alone, since the stage's own delay is not known.

    Parameters
    ----------
    ratio : Ratio
        A pedal run with the resistor lead over its reference.
    setup : SetupFound
        With `z_node` for that lead.
    gain_db : Estimate or None
        Level of a plain run; None: a prior stands in, and the conductance is wide.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    BufferInput
        When not to use: on a passive path.
    """
    use = fit_band(ratio.f_hz) & (ratio.f_hz >= LOWEST_HZ)
    f_hz, t = ratio.f_hz[use], aligned(ratio)[use]
    s = 2j * math.pi * f_hz
    z = np.interp(f_hz, setup.f_hz, setup.z_node.real) + 1j * np.interp(
        f_hz, setup.f_hz, setup.z_node.imag
    )
    zs = np.interp(f_hz, setup.f_hz, setup.zs_resistor.real) + 1j * np.interp(
        f_hz, setup.f_hz, setup.zs_resistor.imag
    )
    var = ratio.var[use] + np.abs(t) ** 2 * discrepancy_var(f_hz, priors)
    gain = GAIN_DB if gain_db is None else gain_db.value
    u_gain = math.hypot(GAIN_U_DB if gain_db is None else gain_db.u, ratio.u_gain_db)
    shape = (f_hz / 20e3) ** 2
    g_fit, c_fit, _ = start_values(f_hz, t, z, var, 3 * FREE_DELAY_U_S)

    def model(p: F64) -> C128:
        # p: g, c, tau, gain, corner, scale, shape
        node = np.exp(-p[5]) / z  # admittance of the node, in proportion to 1/Rs
        stage = np.exp(p[3] + p[6] * shape - s * p[2]) / (1 + p[4] / (1j * f_hz))
        return np.asarray(stage * node / (np.exp(-p[5]) / zs + p[0] + s * p[1]))

    fitted = fit_curve(
        model,
        (
            Parameter("g", max(1 / setup.load_r.value + g_fit, 1e-7), 1e-8),
            Parameter("c", max(setup.node_c.value + c_fit, 5e-12), 1e-13),
            Parameter("tau", 0.0, 1e-8, 0.0, FREE_DELAY_U_S),
            Parameter("gain", gain / DB, 1e-4, gain / DB, u_gain / DB),
            Parameter("corner", CORNER_HZ, 0.1, CORNER_HZ, 2 * CORNER_HZ),
            Parameter("scale", 0.0, 1e-3, 0.0, max(setup.u_scale, 1e-6)),
            Parameter("shape", 0.0, 1e-4, 0.0, priors.shape_u_db / DB),
        ),
        t,
        var,
    )
    mate = math.sqrt(2) * priors.mating_u_farad
    widened = max(1.0, math.sqrt(fitted.reduced))
    return BufferInput(
        g_siemens=Estimate(fitted.value("g"), widened * fitted.u("g"), "siemens"),
        c_farad=Estimate(fitted.value("c"), math.hypot(widened * fitted.u("c"), mate), "farad"),
        gain_db=gain_db,
        with_lead=setup.resistor_end == "interface",
    )
