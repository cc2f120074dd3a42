"""The load once more, with dielectric loss: what a plain R and C cannot follow goes into time."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.priors import Priors
from loopback.identify.setup import DB, SetupFound, discrepancy_var, fit_band
from loopback.identify.solve import least_squares
from loopback.quantity import Estimate

LOSS, LOSS_U = 0.01, 0.02
"""Loss factor of a lead: below 0.001 for polyethylene, 0.01 to 0.1 for PVC (common practice)."""
MIDDLE_HZ = 1000.0


def with_loss(setup: SetupFound, priors: Priors) -> tuple[SetupFound, float]:
    """Find the delay between the two references again, with a load that may be lossy.

    Between two openings of the stream that delay is free, and it is told from the shape of the
    load. Taken as a plain R and C, a lossy lead shifts it by up to 0.2 µs, which heavy loads
    multiply: 75 µS times 0.1 µs are 7.5 pF.

    Parameters
    ----------
    setup : SetupFound
        From both feeds; any other is returned as it is.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    setup : SetupFound
        With another `y_load`, `z_node`, `node_c` and `load_r`.
    u_delay_s : float
        Standard uncertainty of the delay between the references.
    """
    if setup.basis != "both":
        return setup, 0.0
    f_hz = setup.f_hz
    z1, z2 = setup.zs_plain, setup.zs_resistor
    q = (1 + z1 * setup.y_load) / (1 + z2 * setup.y_load)  # as measured, delay taken off
    use = fit_band(f_hz)
    s = np.asarray(2j * math.pi * f_hz[use], np.complex128)
    w = np.sqrt(2 / discrepancy_var(f_hz[use], priors))
    step = np.array([1e-8, 1e-12, 1e-2, 1e-9, 1e-4, 1e-4])
    c0, g0 = setup.node_c.value, 1 / setup.load_r.value
    start = np.array([g0, c0, LOSS, 0.0, 0.0, 0.0]) / step
    u_gain = priors.reference_gain_u_db / DB
    u_shape = math.sqrt(2) * priors.shape_u_db / DB
    top = (f_hz[use] / 20e3) ** 2

    def model(x: F64) -> C128:
        g, c, loss, tau, gain, shape = x * step
        y = lossy(s, c, loss) + g
        turn = np.exp(gain + shape * top - s * tau)
        return np.asarray(turn * (1 + z1[use] * y) / (1 + z2[use] * y))

    def residual(x: F64) -> F64:
        r = (model(x) / q[use] - 1) * w
        _, _, loss, _, gain, shape = x * step
        beliefs = [(loss - LOSS) / LOSS_U, gain / u_gain, shape / u_shape]
        return np.concatenate([r.real, r.imag, beliefs])

    def slope(x: F64) -> F64:
        moves = np.eye(6) * 1e-3
        return np.stack([(residual(x + m) - residual(x - m)) / 2e-3 for m in moves], axis=1)

    found = least_squares(residual, slope, start)
    g, c, _, tau, _, _ = found.x * step
    u = np.sqrt(np.diag(found.covariance)) * step * max(1.0, math.sqrt(found.reduced))
    turned = q * np.exp(2j * math.pi * f_hz * tau)
    y_load = (1 - turned) / (turned * z2 - z1)
    r_u = setup.resistor.u / setup.resistor.value if setup.resistor is not None else 0.0
    found_setup = replace(
        setup,
        y_load=y_load,
        z_node=1 / (1 / z2 + y_load),
        node_c=Estimate(float(c), math.hypot(float(u[1]), float(c) * r_u), "farad"),
        load_r=Estimate(float(1 / g), math.hypot(float(u[0] / g**2), r_u / g), "ohm"),
        fit_excess=math.sqrt(found.reduced),
    )
    return found_setup, float(u[3])


def lossy(s: C128, c_farad: float, loss: float) -> C128:
    """Admittance of a capacitor whose loss factor is the same at all frequencies.

    Parameters
    ----------
    s : ndarray of complex128, shape (k,)
        ``2πjf``.
    c_farad : float
        Capacitance at 1 kHz.
    loss : float
        tan δ.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Siemens: ``sC (s/jω₀)^(-α)`` with ``tan(πα/2) = tan δ`` (constant-phase element; Jonscher
        1977).
    """
    alpha = 2 / math.pi * math.atan(loss)
    bent = (s / (2 * math.pi * MIDDLE_HZ)) ** (-alpha)
    # j^(1-α) has the part cos(πα/2) in quadrature, which is what a capacitance is.
    return np.asarray(s * c_farad * bent / math.cos(math.pi * alpha / 2))
