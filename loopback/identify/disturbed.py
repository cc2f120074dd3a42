"""Ratios of a circuit as disturbed: what each nuisance does to them, by formula.

A run's ratio, with the pedal's chain matrix A, B, C, D, is ::

    T = n(f) (1 + Zs YL) / (A + B Y0 + C Zs + D Zs Y0)

with ``Y0`` the load without the coupler, and n(f) gain, delay and treble shape of that run. A
search evaluates this some ten thousand times on short arrays, so runs are handled all at once, and
everything that is linear in the nuisances is one matrix product over a few curves of frequency.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.chain import Chain
from loopback.identify.data import FitData
from loopback.identify.nuisance import LEAD_A_F, LEAD_A_U_F, LOSS_U_F, Nuisances
from loopback.identify.priors import Priors

FARTHEST = 10.0
"""A search on its way may step far out; held to this, in standard deviations, numbers stay
finite."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What nuisances make of feed and load; each of shape (n, k).

    Parameters
    ----------
    factor : ndarray of complex128
        Gain, shape and delay.
    zs, y0, y_in : ndarray of complex128
        Feed, load beside the pedal, and what hangs on its input.
    z1, z2 : ndarray of complex128
        Feed with the plain lead and with the resistor.
    y, y_first, y_found : ndarray of complex128
        Load in the reference; the same as it was measured; and before what drift between the
        references and the output impedance did to it.
    between : ndarray of complex128
        Logarithm of what lies between the resistor and the plain reference.
    off : ndarray of complex128
        What the output impedance is off its value, ohms, a resistor's error with it left out.
    stretched : float
        Resistor over its value.
    through : ndarray of complex128
        ``1 + Zs YL``.
    """

    factor: C128
    zs: C128
    y0: C128
    y_in: C128
    z1: C128
    z2: C128
    y: C128
    y_first: C128
    y_found: C128
    between: C128
    off: C128
    stretched: float
    through: C128


class Disturbed:
    """Ratios of all runs for a chain matrix and nuisances, and their derivatives.

    Parameters
    ----------
    data : FitData
        The runs.
    plan : Nuisances
        Layout.
    priors : Priors
        For the coupler.
    """

    def __init__(self, data: FitData, plan: Nuisances, priors: Priors) -> None:
        self.data, self.plan = data, plan
        s = np.asarray(2j * math.pi * data.f_hz, np.complex128)
        n, m, p = len(data.runs), len(plan.coupler_f), plan.plugs
        ends = np.cumsum([n + m, n + m, n, 1, 1, 1, m, p, p, 1, int(plan.lead_a), m, 1])
        parts = [slice(a, b) for a, b in zip([0, *ends[:-1]], ends, strict=True)]
        (
            gain, shape, delay, source, resistor, scale, coupler, c_in, c_out, loss, lead, tick,
            lossy,
        ) = parts  # fmt: skip
        self._at = [part.start for part in (source, resistor, scale, lossy)]
        self._with_resistor = 1.0 if priors.source_by_resistor else 0.0
        self._common = _common(data, plan, priors, resistor.start, coupler.start, lead.start)
        # Curves of frequency, and how much of each the nuisances put into the four linear terms:
        # logarithm of the factor, that between the references, admittance at input and at output.
        self._curves = np.stack([np.ones_like(s), (data.f_hz / 20e3) ** 2, -s, s, np.abs(s)])
        parts_of = np.zeros((4, n, 5, plan.count))
        fixed = np.zeros((4, n, 5))
        runs, loads, plugs = np.arange(n), plan.load_of, plan.plug_of
        parts_of[0, :, 0, gain], parts_of[0, :, 1, shape] = plan.gain[:n], plan.shape[:n]
        parts_of[0, runs, 2, delay.start + runs] = plan.delay_s
        parts_of[1, :, 0, gain] = plan.gain[n:][loads]
        parts_of[1, :, 1, shape] = plan.shape[n:][loads]
        parts_of[1, runs, 2, tick.start + loads] = plan.tick_s
        parts_of[2, :, 4, loss] = LOSS_U_F
        for i in np.flatnonzero(plugs >= 0):
            parts_of[2, i, 3, c_in.start + plugs[i]] = plan.plug_f[plugs[i]]
            parts_of[3, i, 3, c_out.start + plugs[i]] = plan.plug_f[plugs[i]]
        parts_of[3, runs, 3, coupler.start + loads] = -plan.coupler_f[loads]
        fixed[3, :, 3] = -priors.coupler_farad
        if plan.lead_a:
            parts_of[2, :, 3, lead], parts_of[3, :, 3, lead] = LEAD_A_U_F, -LEAD_A_U_F
            fixed[2, :, 3] += LEAD_A_F
            fixed[3, :, 3] -= LEAD_A_F
        self._linear, self._fixed = parts_of.reshape(-1, plan.count), fixed.ravel()
        # Of the derivatives only these curves occur: factor and between by the first three,
        # admittances by the last two, and four that are not linear.
        used = [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (2, 3), (2, 4), (3, 3)]
        spread = np.zeros((n, plan.count, len(used) + 4))
        for j, (term, curve) in enumerate(used):
            spread[:, :, j] = parts_of[term, :, curve]
        for j, (at, size) in enumerate(
            zip(
                self._at,
                (plan.source_log, plan.resistor, plan.scale_log, plan.load_loss),
                strict=True,
            )
        ):
            spread[:, at, len(used) + j] = size
        self.spread = spread
        node_f = np.array([data.setups[r.label.load].node_c.value for r in data.runs])[:, None]
        measured = np.array([data.setups[r.label.load].basis == "both" for r in data.runs])
        self._measured = measured[:, None].astype(np.float64)
        self._node = s * node_f
        bend = np.log(data.f_hz / 1000.0) + 0.5j * math.pi
        # An unmeasured load may be lossy: ∂Y of the constant-phase element by its loss factor.
        self._lossy = -2 / math.pi * self._node * bend
        self._fed = np.array([[r.label.feed != "plain"] for r in data.runs]).astype(np.float64)
        self._r = data.zs_resistor - data.zs_plain

    def terms(self, z: F64) -> Terms:
        """Feed, load and factor of every run for nuisances `z`, shape (count,)."""
        d, plan = self.data, self.plan
        n, k = d.zs_plain.shape
        mixed = (self._linear @ z + self._fixed).reshape(-1, 5) @ self._curves
        log_factor, between, y_in, at_output = mixed.reshape(4, n, k)
        source, resistor, scale, lossy = (float(z[at]) for at in self._at)
        stretched = 1 + plan.resistor * resistor
        own = d.zs_plain * math.exp(plan.source_log * _near(source))
        # Found against the resistor, the output impedance errs with it.
        z1 = own * (1 + self._with_resistor * (stretched - 1))
        r2 = self._r * stretched
        z2 = r2 + z1
        y_first = d.y_load * (math.exp(plan.scale_log * _near(scale)) / stretched)
        y_found = y_first + (plan.load_loss * lossy) * self._lossy
        # ∂YL of ``(1 - Q) / (Q Zs2 - Zs1)``: by the gain between the references, and by the source.
        # The delay that was fitted to Q has taken up what the source does to a capacitance with
        # the plain lead: ∂τ = C ∂Zs1, so ∂YL = (YL² - jωC (1 + Zs1 YL) (1 + Zs2 YL) / R) ∂Zs1.
        lever = (1 + z1 * y_found) * (1 + z2 * y_found) / r2
        by_source = self._measured * (y_found * y_found - self._node * lever)
        y = y_found + between * lever + (own - d.zs_plain) * by_source
        zs = z1 + self._fed * r2
        return Terms(
            np.exp(log_factor), zs, y + at_output, y_in, z1, z2, y, y_first, y_found, between,
            own - d.zs_plain, stretched, 1 + zs * y,
        )  # fmt: skip

    def ratios(self, chain: Chain, terms: Terms) -> C128:
        """Ratios, shape (n, k), of a chain matrix whose entries have shape (k,) or (n, k)."""
        return np.asarray(terms.factor * terms.through / _inside(chain, terms))

    def slopes(self, chain: Chain, terms: Terms) -> C128:
        """Differentiate the logarithm of the ratios by what the nuisances are spread over.

        Returns
        -------
        ndarray of complex128, shape (c, n, k)
            Curves of which `spread`, shape (n, count, c), makes the derivatives.
        """
        z1, z2, y, y0 = terms.z1, terms.z2, terms.y_found, terms.y0
        r2 = z2 - z1
        inside = _inside(chain, terms)
        through_in = chain.a + chain.b * y0
        at_in = -terms.zs * through_in / inside
        behind = chain.c + terms.y_in * chain.a + (chain.d + terms.y_in * chain.b) * y0
        at_y0 = -(chain.b + (chain.d + terms.y_in * chain.b) * terms.zs) / inside
        at_y = terms.zs / terms.through + at_y0  # numerator and load together
        at_zs = terms.y / terms.through - behind / inside
        # `lever` of `terms` by load, by output impedance and by resistor; and what multiplies it.
        u1, u2 = 1 + z1 * y, 1 + z2 * y
        lever, lever_y = u1 * u2 / r2, (z1 * u2 + z2 * u1) / r2
        lever_z, lever_r = y * (u1 + u2) / r2, -u1 * u1 / r2
        off = terms.off * self._measured
        pulled = terms.between - off * self._node
        stretch = at_y * (1 + pulled * lever_y + 2 * off * y)
        by_scale = stretch * terms.y_first
        by_source = self._measured * (y * y - self._node * lever)
        # The output impedance without what a resistor's error does to it, and that part alone.
        own = self.data.zs_plain + terms.off
        with_r = self._with_resistor * own * terms.stretched
        by_z1 = at_zs + at_y * pulled * lever_z
        by_resistor = self._fed * at_zs * r2 + by_z1 * with_r - by_scale + at_y * pulled * lever_r
        one, top, late, s, size = self._curves
        out = np.empty((13, *y.shape), np.complex128)
        out[0], out[1], out[2] = one, top, late
        out[3] = at_y * lever
        out[4], out[5] = top * out[3], late * out[3]
        out[6], out[7], out[8] = s * at_in, size * at_in, s * at_y0
        out[9] = by_z1 * z1 + at_y * by_source * own
        out[10] = by_resistor / terms.stretched
        out[11], out[12] = by_scale, stretch * self._lossy
        return out

    def common(self) -> list[tuple[str, int, float]]:
        """Name the nuisances that every examination with these leads has alike.

        Each as cause, place among the nuisances, and what part of it is alike: of a coupler its
        own capacitance, not how its plugs happen to sit.
        """
        return list(self._common)

    def by_chain(self, chain: Chain, terms: Terms) -> tuple[C128, C128, C128, C128]:
        """Differentiate the logarithm of the ratios by A, B, C and D, each of shape (n, k)."""
        over = -1 / _inside(chain, terms)
        by_a, by_c = (1 + terms.zs * terms.y_in) * over, terms.zs * over
        return by_a, by_a * terms.y0, by_c, by_c * terms.y0


def _common(
    data: FitData, plan: Nuisances, priors: Priors, resistor: int, coupler: int, lead: int
) -> list[tuple[str, int, float]]:
    found = [("resistor", resistor, 1.0)]
    for j, load in enumerate(sorted({run.label.load for run in data.runs})):
        share = priors.coupler_u_farad / max(float(plan.coupler_f[j]), priors.coupler_u_farad)
        found.append((f"coupler, {load}", coupler + j, share))
    if plan.lead_a:
        found.append(("feeding lead", lead, 1.0))
    return found


def _inside(chain: Chain, terms: Terms) -> C128:
    """EMF over load voltage, without the factor."""
    front = chain.a + chain.b * terms.y0
    back = chain.c + chain.d * terms.y0
    return np.asarray(front + terms.zs * (back + terms.y_in * front))


def _near(z: float) -> float:
    return min(max(z, -FARTHEST), FARTHEST)
