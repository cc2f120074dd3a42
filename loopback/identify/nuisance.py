"""What disturbs the runs beside the pedal: unknowns with priors, and what each does to a ratio.

All are dimensionless with a prior of mean 0 and standard deviation 1; what a step of one means
physically comes from `SetupLearned`. A run's ratio, with the pedal's chain matrix A, B, C, D, is ::

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
from loopback.identify.learned import SetupLearned
from loopback.identify.priors import Priors
from loopback.identify.setup import DB

LEAD_A_F, LEAD_A_U_F = 300e-12, 150e-12
"""Feeding lead, where the resistor sits at its other end (2 to 5 m: common practice)."""
LOSS_U_F = 0.2e-12
"""Dielectric loss of wiring as the capacitance whose reactance it equals: 10 pF times 0.02."""
PLAIN_LOAD_U_LOG = 0.5
"""Scale of the load admittance where no resistor run measured it."""


@dataclass(frozen=True, slots=True)
class Nuisances:
    """Layout of the nuisances of one set of runs.

    Parameters
    ----------
    gain : ndarray of float64, shape (n + m, n + m)
        Square root of the covariance of log gain over the references, one per run, then that of
        the resistor reference over the plain one, one per load.
    shape : ndarray of float64, shape (n + m, n + m)
        The same of the level at 20 kHz, neper.
    delay_s : ndarray of float64, shape (n,)
        Standard deviation of each run's delay.
    source_log, resistor, scale_log : float
        Of the output impedance, of the series resistor (relative), and of the load admittance
        where it was never measured.
    coupler_f : ndarray of float64, shape (m,)
        Of the coupler with its plugs, per load.
    plug_f : ndarray of float64, shape (p,)
        Of one plug, for each run in which it shows.
    load_of : ndarray of int, shape (n,)
        Which load each run has.
    plug_of : ndarray of int, shape (n,)
        Which of `plug_f` each run has; -1: plugs do not show, as with a plain feed.
    lead_a : bool
        True when the feeding lead hangs on the pedal's input.
    tick_s : float
        Of the delay between the resistor and the plain references.
    """

    gain: F64
    shape: F64
    delay_s: F64
    source_log: float
    resistor: float
    scale_log: float
    coupler_f: F64
    plug_f: F64
    load_of: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
    plug_of: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
    lead_a: bool
    tick_s: float

    @property
    def count(self) -> int:
        """How many there are."""
        n, m = len(self.load_of), len(self.coupler_f)
        return 2 * (n + m) + n + 3 + m + 2 * self.plugs + 1 + int(self.lead_a) + m

    @property
    def delays(self) -> slice:
        """Where the delays stand among them."""
        n, m = len(self.load_of), len(self.coupler_f)
        return slice(2 * (n + m), 2 * (n + m) + n)

    @property
    def plugs(self) -> int:
        """How many runs show their plugs."""
        return len(self.plug_f)


def plan_nuisances(data: FitData, learned: SetupLearned, priors: Priors) -> Nuisances:
    """Lay out the nuisances of a set of runs.

    Parameters
    ----------
    data : FitData
        The runs.
    learned : SetupLearned
        Sizes of drift and scatter.
    priors : Priors
        All others.

    Returns
    -------
    Nuisances
        See there.
    """
    runs = data.runs
    loads = sorted({run.label.load for run in runs})
    first = data.setups[runs[0].label.load]
    basis = first.basis
    places = sorted({p for r in runs for p in (*r.places, *r.reference_places)})
    index = {p: i for i, p in enumerate(places)}
    references: dict[tuple[str, str], tuple[int, ...]] = {}
    for run in runs:
        references.setdefault((run.label.feed, run.label.load), run.reference_places)
    # Rows: what each run and each pair of references makes of the gain at every place.
    rows = np.zeros((len(runs) + len(loads), len(places)))
    own = np.zeros((len(runs) + len(loads), len(runs) + len(references)))
    names = list(references)
    for i, run in enumerate(runs):
        key = (run.label.feed, run.label.load)
        _mean_row(rows[i], index, run.places, 1.0)
        _mean_row(rows[i], index, references[key], -1.0)
        own[i, i] = 1 / math.sqrt(len(run.places))
        own[i, len(runs) + names.index(key)] = -1 / math.sqrt(len(references[key]))
    extra = np.zeros(len(loads))
    for j, load in enumerate(loads):
        row = len(runs) + j
        for feed, sign in (("resistor", 1.0), ("plain", -1.0)):
            if (feed, load) in references:
                _mean_row(rows[row], index, references[feed, load], sign)
                own[row, len(runs) + names.index((feed, load))] = sign / math.sqrt(
                    len(references[feed, load])
                )
            else:
                extra[j] += (learned.gain_u_db / DB) ** 2
        if data.setups[load].basis == "resistor":
            extra[j] += max(data.setups[load].u_scale ** 2 - _resistor_u(data, load) ** 2, 0.0)
    walk = np.minimum.outer(np.array(places, float), np.array(places, float)) - places[0]
    gain = (learned.gain_u_db / DB) ** 2 * own @ own.T
    gain += (learned.walk_u_db / DB) ** 2 * rows @ walk @ rows.T
    gain[len(runs) :, len(runs) :] += np.diag(extra)
    if learned.trust_runs:
        stated = np.array([run.u_gain_db for run in runs]) / DB
        lack = np.maximum(stated**2 - np.diag(gain)[: len(runs)], 0.0)
        gain[: len(runs), : len(runs)] += np.diag(lack)
    shape = (learned.shape_u_db / DB) ** 2 * own @ own.T
    fed = [i for i, run in enumerate(runs) if run.label.feed == "resistor"]
    n_reference = [
        max((len(v) for (feed, ld), v in references.items() if ld == load and feed == "resistor"),
            default=1) for load in loads
    ]  # fmt: skip
    return Nuisances(
        gain=_root(gain),
        shape=_root(shape),
        delay_s=np.array([run.delay_u_s for run in runs]),
        source_log=priors.source_u_log,
        resistor=_resistor_u(data, loads[0]) if basis != "plain" else 0.0,
        scale_log=PLAIN_LOAD_U_LOG if basis == "plain" else 0.0,
        coupler_f=np.array(
            [
                math.sqrt(priors.coupler_u_farad**2 + 2 * learned.mating_u_farad**2 / n)
                for n in n_reference
            ]
        ),
        plug_f=np.array([learned.mating_u_farad / math.sqrt(runs[i].matings) for i in fed]),
        load_of=np.array([loads.index(r.label.load) for r in runs]),
        plug_of=np.array([fed.index(i) if i in fed else -1 for i in range(len(runs))]),
        lead_a=first.resistor_end == "interface",
        tick_s=priors.reference_delay_u_s if basis == "both" else 0.0,
    )


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
        self._coupler = priors.coupler_farad
        self._plain = np.array([r.label.feed == "plain" for r in data.runs])[:, None]
        n, m, p = len(data.runs), len(plan.coupler_f), plan.plugs
        ends = np.cumsum([n + m, n + m, n, 1, 1, 1, m, p, p, 1, int(plan.lead_a), m])
        self._parts = [slice(a, b) for a, b in zip([0, *ends[:-1]], ends, strict=True)]

    def terms(self, z: F64) -> Terms:
        """Feed, load and factor of every run for nuisances `z`, shape (count,)."""
        d, plan, s = self.data, self.plan, self._s
        n = len(d.runs)
        gain_z, shape_z, delay, source, resistor, scale, coupler, c_in, c_out, loss, lead, tick = (
            z[p] for p in self._parts
        )
        gain, shape = plan.gain @ gain_z, plan.shape @ shape_z
        factor = np.exp(
            gain[:n, None] + shape[:n, None] * self._top - s * (delay * plan.delay_s)[:, None]
        )
        # A search on its way may step far out; the clip keeps its numbers finite.
        z1 = d.zs_plain * math.exp(plan.source_log * _near(source))
        r2 = (d.zs_resistor - d.zs_plain) * (1 + plan.resistor * resistor[0])
        z2 = r2 + z1
        y = d.y_load * math.exp(plan.scale_log * _near(scale)) / (1 + plan.resistor * resistor[0])
        between = (
            gain[n:][plan.load_of][:, None]
            + shape[n:][plan.load_of][:, None] * self._top
            - s * (plan.tick_s * tick)[plan.load_of][:, None]
        )
        # ∂YL of ``(1 - Q) / (Q Zs2 - Zs1)``: by the gain between the references, and by the source.
        lever = (1 + z1 * y) * (1 + z2 * y) / r2
        y = y + between * lever + (z1 - d.zs_plain) * y * (1 + z2 * y) / r2
        zs = np.where(self._plain, z1, z2)
        cc = self._coupler + (plan.coupler_f * coupler)[plan.load_of][:, None]
        hung = s * (LEAD_A_F + LEAD_A_U_F * lead[0]) if plan.lead_a else 0 * s
        plugged_in, plugged_out = (
            np.append(plan.plug_f * c, 0.0)[plan.plug_of][:, None] for c in (c_in, c_out)
        )
        y_in = hung + s * plugged_in + np.abs(s) * (LOSS_U_F * loss[0])
        y0 = y - hung - s * cc + s * plugged_out
        return Terms(factor, zs, y, y0, y_in, z1, z2, r2, lever)

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
        gain, shape, delay, source, resistor, scale, coupler, c_in, c_out, loss, lead, tick = (
            self._parts
        )
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
            z1, z2, r2 = terms.z1[i], terms.z2[i], terms.r2[i]
            by_source = at_zs + at_y * y * (1 + z2 * y) / r2
            out[source.start, i] = by_source * z1 * plan.source_log
            by_resistor = (0.0 if self._plain[i, 0] else at_zs * r2) - at_y * y
            out[resistor.start, i] = by_resistor * plan.resistor
            out[scale.start, i] = at_y * y * plan.scale_log
            out[coupler.start + j, i] = -at_y0 * s * plan.coupler_f[j]
            if (plug := int(plan.plug_of[i])) >= 0:
                out[c_in.start + plug, i] = at_in * s * plan.plug_f[plug]
                out[c_out.start + plug, i] = at_y0 * s * plan.plug_f[plug]
            out[tick.start + j, i] = -s * plan.tick_s * at_y * terms.lever[i]
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
    z1, z2, r2, lever : ndarray of complex128
        Plain and resistor feed, the resistor, and what a gain between the references does to the
        load.
    """

    factor: C128
    zs: C128
    y: C128
    y0: C128
    y_in: C128
    z1: C128
    z2: C128
    r2: C128
    lever: C128


def _mean_row(row: F64, index: dict[int, int], places: tuple[int, ...], sign: float) -> None:
    for place in places:
        row[index[place]] += sign / len(places)


def _resistor_u(data: FitData, load: str) -> float:
    setup = next(s for name, s in data.setups.items() if name == load)
    return 0.0 if setup.resistor is None else setup.resistor.u / setup.resistor.value


def _near(z: F64) -> float:
    return float(np.clip(z[0], -10.0, 10.0))


def _root(covariance: F64) -> F64:
    """Square root of a covariance that may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))
