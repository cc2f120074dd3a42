"""Ratios of a circuit as disturbed: what each nuisance does to them, by formula.

A run's ratio, with the pedal's chain matrix A, B, C, D, is ::

    T = n(f) (1 + Zs YL) / (A + B Y0 + C Zs + D Zs Y0)

with ``Y0`` the load without the coupler, and n(f) gain, delay and treble shape of that run.
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
        self._s = np.asarray(2j * math.pi * data.f_hz, np.complex128)
        self._top = (data.f_hz / 20e3) ** 2
        self._coupler, self._coupler_u = priors.coupler_farad, priors.coupler_u_farad
        node_f = np.array([data.setups[r.label.load].node_c.value for r in data.runs])
        bend = np.log(data.f_hz / 1000.0) + 0.5j * math.pi
        self._node_f = node_f[:, None]
        measured = [data.setups[r.label.load].basis == "both" for r in data.runs]
        self._measured = np.array(measured)[:, None].astype(np.float64)
        self._lossy = -2 / math.pi * node_f[:, None] * self._s * bend
        self._plain = np.array([r.label.feed == "plain" for r in data.runs])[:, None]
        n, m, p = len(data.runs), len(plan.coupler_f), plan.plugs
        ends = np.cumsum([n + m, n + m, n, 1, 1, 1, m, p, p, 1, int(plan.lead_a), m, 1])
        self._parts = [slice(a, b) for a, b in zip([0, *ends[:-1]], ends, strict=True)]

    def terms(self, z: F64) -> Terms:
        """Feed, load and factor of every run for nuisances `z`, shape (count,)."""
        d, plan, s = self.data, self.plan, self._s
        n = len(d.runs)
        (
            gain_z,
            shape_z,
            delay,
            source,
            resistor,
            scale,
            coupler,
            c_in,
            c_out,
            loss,
            lead,
            tick,
            lossy,
        ) = (z[p] for p in self._parts)
        gain, shape = plan.gain @ gain_z, plan.shape @ shape_z
        factor = np.exp(
            gain[:n, None] + shape[:n, None] * self._top - s * (delay * plan.delay_s)[:, None]
        )
        # A search on its way may step far out; the clip keeps its numbers finite.
        z1 = d.zs_plain * math.exp(plan.source_log * _near(source))
        r2 = (d.zs_resistor - d.zs_plain) * (1 + plan.resistor * resistor[0])
        z2 = r2 + z1
        # An unmeasured load may be lossy: ∂Y of the constant-phase element by its loss factor.
        y = d.y_load * math.exp(plan.scale_log * _near(scale)) / (1 + plan.resistor * resistor[0])
        y_first = y
        y = y + plan.load_loss * lossy[0] * self._lossy
        between = (
            gain[n:][plan.load_of][:, None]
            + shape[n:][plan.load_of][:, None] * self._top
            - s * (plan.tick_s * tick)[plan.load_of][:, None]
        )
        # ∂YL of ``(1 - Q) / (Q Zs2 - Zs1)``: by the gain between the references, and by the source.
        # The delay that was fitted to Q has taken up what the source does to a capacitance.
        lever = (1 + z1 * y) * (1 + z2 * y) / r2
        follow = self._measured * (y - s * self._node_f)
        stretch = 1 + between * (z1 * (1 + z2 * y) + z2 * (1 + z1 * y)) / r2
        less = between * (1 + z1 * y) ** 2 / r2
        more = follow * (1 + z2 * y) / r2 + between * y * (2 + (z1 + z2) * y) / r2
        y = y + between * lever + (z1 - d.zs_plain) * follow * (1 + z2 * y) / r2
        zs = np.where(self._plain, z1, z2)
        cc = self._coupler + (plan.coupler_f * coupler)[plan.load_of][:, None]
        hung = s * (LEAD_A_F + LEAD_A_U_F * lead[0]) if plan.lead_a else 0 * s
        plugged_in, plugged_out = (
            np.append(plan.plug_f * c, 0.0)[plan.plug_of][:, None] for c in (c_in, c_out)
        )
        y_in = hung + s * plugged_in + np.abs(s) * (LOSS_U_F * loss[0])
        y0 = y - hung - s * cc + s * plugged_out
        return Terms(factor, zs, y, y0, y_in, z1, r2, lever, stretch, less, more, y_first)

    def common(self) -> list[tuple[str, int, float]]:
        """Name the nuisances that every examination with these leads has alike.

        Each as cause, place among the nuisances, and what part of it is alike: of a coupler its
        own capacitance, not how its plugs happen to sit.
        """
        plan, loads = self.plan, sorted({run.label.load for run in self.data.runs})
        found = [("resistor", self._parts[4].start, 1.0)]
        for j, load in enumerate(loads):
            share = self._coupler_u / max(float(plan.coupler_f[j]), self._coupler_u)
            found.append((f"coupler, {load}", self._parts[6].start + j, share))
        if plan.lead_a:
            found.append(("feeding lead", self._parts[10].start, 1.0))
        return found

    def ratios(self, chains: list[Chain], terms: Terms) -> C128:
        """Ratios, shape (n, k): `chains` holds one chain matrix per run."""
        rows = []
        for i, chain in enumerate(chains):
            inside = chain.after_shunt(terms.y_in[i]).inverse_ratio(terms.zs[i], terms.y0[i])
            rows.append(terms.factor[i] * (1 + terms.zs[i] * terms.y[i]) / inside)
        return np.asarray(np.stack(rows))

    def slopes(self, chains: list[Chain], terms: Terms, t: C128) -> C128:
        """Differentiate the ratios by each nuisance, shape (count, n, k); `t` are the ratios."""
        plan, s, n = self.plan, self._s, len(self.data.runs)
        m = len(plan.coupler_f)
        out = np.zeros((plan.count, n, len(s)), np.complex128)
        (
            gain,
            shape,
            delay,
            source,
            resistor,
            scale,
            coupler,
            c_in,
            c_out,
            loss,
            lead,
            tick,
            lossy,
        ) = self._parts
        for i, chain in enumerate(chains):
            zs, y, y0, y_in = terms.zs[i], terms.y[i], terms.y0[i], terms.y_in[i]
            a, b = chain.a, chain.b
            whole = chain.after_shunt(y_in)
            inside = whole.inverse_ratio(zs, y0)
            at_y0 = -(whole.b + whole.d * zs) / inside
            at_y = zs / (1 + zs * y) + at_y0  # numerator and load together
            at_zs = y / (1 + zs * y) - (whole.c + whole.d * y0) / inside
            at_in = -zs * (a + b * y0) / inside
            j = int(plan.load_of[i])
            between = at_y * terms.lever[i]
            out[gain, i] = plan.gain[i][:, None] + plan.gain[n + j][:, None] * between
            out[shape, i] = self._top * (
                plan.shape[i][:, None] + plan.shape[n + j][:, None] * between
            )
            out[delay.start + i, i] = -s * plan.delay_s[i]
            z1, r2 = terms.z1[i], terms.r2[i]
            by_source = at_zs + at_y * terms.more[i]
            out[source.start, i] = by_source * z1 * plan.source_log
            stretch = at_y * terms.stretch[i]
            by_resistor = 0.0 if self._plain[i, 0] else at_zs * r2
            by_resistor = by_resistor - stretch * terms.y_first[i] - at_y * terms.less[i]
            out[resistor.start, i] = by_resistor * plan.resistor
            out[scale.start, i] = stretch * terms.y_first[i] * plan.scale_log
            out[coupler.start + j, i] = -at_y0 * s * plan.coupler_f[j]
            if (plug := int(plan.plug_of[i])) >= 0:
                out[c_in.start + plug, i] = at_in * s * plan.plug_f[plug]
                out[c_out.start + plug, i] = at_y0 * s * plan.plug_f[plug]
            out[tick.start + j, i] = -s * plan.tick_s * at_y * terms.lever[i]
            out[lossy.start, i] = plan.load_loss * stretch * self._lossy[i]
            out[loss.start, i] = at_in * np.abs(s) * LOSS_U_F
            if plan.lead_a:
                out[lead.start, i] = (at_in - at_y0) * s * LEAD_A_U_F
        assert m == coupler.stop - coupler.start
        return out * t


@dataclass(frozen=True, slots=True)
class Terms:
    """What nuisances make of feed and load; each of shape (n, k).

    Parameters
    ----------
    factor : ndarray of complex128
        Gain, shape and delay.
    zs, y, y0, y_in : ndarray of complex128
        Feed, load in the reference, load beside the pedal, and what hangs on its input.
    z1, r2, lever : ndarray of complex128
        Plain feed, the resistor, and what a gain between the references does to the load that was
        found.
    stretch, less, more, y_first : ndarray of complex128
        Derivative of `y` by the load before those, what a larger resistor takes off it
        and a larger output impedance adds, and the load before any of them.
    """

    factor: C128
    zs: C128
    y: C128
    y0: C128
    y_in: C128
    z1: C128
    r2: C128
    lever: C128
    stretch: C128
    less: C128
    more: C128
    y_first: C128


def _near(z: F64) -> float:
    return float(np.clip(z[0], -10.0, 10.0))
