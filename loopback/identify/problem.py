"""One hypothesis and all runs of a pedal as a problem of least squares."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.chain import Chain
from loopback.circuit.hypotheses import Hypothesis
from loopback.identify.data import FitData
from loopback.identify.disturbed import Disturbed, Terms
from loopback.identify.nuisance import Nuisances
from loopback.identify.priors import Priors
from loopback.response.delay import phase_delay_s

MANY_S = 1e-6
"""A delay that may be off by more is first set to what the start values leave."""
PIN = 1e5
"""Weight of a residual that holds an unknown where a profile wants it."""
_DIFFERENCE = 1e-2
"""Half of the interval of the central differences, in natural steps of an unknown."""


class Problem:
    """One hypothesis and one set of runs as a problem of least squares.

    Parameters
    ----------
    hypothesis : Hypothesis
        The circuit.
    data : FitData
        The runs.
    plan : Nuisances
        Layout of the nuisances.
    priors : Priors
        Stated beliefs.
    """

    def __init__(
        self, hypothesis: Hypothesis, data: FitData, plan: Nuisances, priors: Priors
    ) -> None:
        self.hypothesis, self.data, self.plan = hypothesis, data, plan
        self.disturbed = Disturbed(data, plan, priors)
        unknowns = hypothesis.unknowns
        self.log = np.array([u.log for u in unknowns])
        self.step = np.array([u.step for u in unknowns])
        self.centre = self.to_search([u.prior for u in unknowns])
        self.spread = np.array([u.prior_u if u.log else u.prior_u / u.step for u in unknowns])
        self.size = len(unknowns)
        self.count = plan.count
        self.fixed: tuple[int, float] | None = None
        self._s = np.asarray(2j * math.pi * data.f_hz, np.complex128)
        self._turned = np.array([[r.label.direction == "reversed"] for r in data.runs])
        self._any_turned = bool(self._turned.any()) and not hypothesis.active
        self._prior = np.diag(np.concatenate([1 / self.spread, np.ones(self.count)]))
        self._relative_w = data.w * np.abs(data.t)
        self._differences = _DIFFERENCE * np.where(self.log, 0.1, 1.0)
        self._moves = np.concatenate([np.diag(self._differences), -np.diag(self._differences)])
        self._at: tuple[bytes, Terms, Chain, C128, C128] | None = None

    def to_search(self, values: Sequence[float]) -> F64:
        """Turn values in their units to search values, shape (p,)."""
        given = np.asarray(values, np.float64)
        safe = np.where(self.log, np.maximum(given, 1e-300), 1.0)
        return np.asarray(np.where(self.log, np.log(safe), given / self.step))

    def to_values(self, search: F64) -> F64:
        """Turn search values, shape (..., p), to values in their units."""
        bounded = np.minimum(np.maximum(np.where(self.log, search, 0.0), -80.0), 80.0)
        return np.asarray(np.where(self.log, np.exp(bounded), search * self.step))

    def first(self, values: Sequence[float]) -> F64:
        """Start of a search: those values, and the delays that fit them where they are free."""
        search, z = self.to_search(values), np.zeros(self.count)
        model = self.data.averaged(self.ratios(search, z))
        centre = self.data.averaged(self.data.f_hz.astype(np.complex128))[0].real
        where = self.plan.delays
        for i, run in enumerate(self.data.runs):
            apart = self.data.t[i] / model[i]
            if run.delay_u_s > MANY_S and np.all(np.isfinite(apart)):
                shift = phase_delay_s(centre, apart, np.abs(self.data.t[i]) ** 2)
                z[where.start + i] = shift / run.delay_u_s
        return np.concatenate([search, z])

    def ratios(self, search: F64, z: F64) -> C128:
        """Ratios of the model, shape (n, k)."""
        return self.disturbed.ratios(self._chain(search), self.disturbed.terms(z))

    def residual(self, x: F64) -> F64:
        """Return residuals in standard deviations: data, priors of the circuit, nuisances."""
        return self._stacked((self._model(x)[3] - self.data.t) * self.data.w, x)

    def slope(self, x: F64) -> F64:
        """Return derivatives of `residual`: nuisances by formula, the circuit by differences."""
        return self._slope(x, self.data.w)

    def relative(self, x: F64) -> F64:
        """Return the residuals of the logarithm of the ratios instead.

        Near the data they are those of `residual`. Far from them they lead on: in a logarithm,
        gain and delay are linear, and a circuit of products nearly is.
        """
        apart = np.log(self._model(x)[3] / self.data.t)
        return self._stacked(np.asarray(apart * self._relative_w, np.complex128), x)

    def relative_slope(self, x: F64) -> F64:
        """Return derivatives of `relative`."""
        return self._slope(x, self._relative_w / self._model(x)[3])

    def _model(self, x: F64) -> tuple[Terms, Chain, C128, C128]:
        """Model at a point; kept, since a search asks for residuals and slopes at the same one."""
        key = x.tobytes()
        if self._at is None or self._at[0] != key:
            terms, chain = self.disturbed.terms(x[self.size :]), self._chain(x[: self.size])
            t = self.disturbed.ratios(chain, terms)
            self._at = (key, terms, chain, t, self.data.averaged(t))
        return self._at[1:]

    def _stacked(self, r: C128, x: F64) -> F64:
        prior = (x[: self.size] - self.centre) / self.spread
        pin = [] if self.fixed is None else [(x[self.fixed[0]] - self.fixed[1]) * PIN]
        made = np.concatenate([r.real.ravel(), r.imag.ravel(), prior, x[self.size :], pin])
        if not np.isfinite(made.sum()):
            made = np.nan_to_num(made, nan=1e6, posinf=1e6, neginf=-1e6)
        return made

    def _slope(self, x: F64, weight: F64 | C128) -> F64:
        """Differentiate the ratios, times a weight of shape (n, q), above those of the priors."""
        p, n = self.size, len(self.data.runs)
        terms, chain, t, _ = self._model(x)
        by_a, by_b, by_c, by_d = self.disturbed.by_chain(chain, terms)
        moved = self._chain_of(x[:p] + self._moves, p)
        curves = moved.a * by_a + moved.b * by_b + moved.c * by_c + moved.d * by_d
        curves = np.concatenate([curves, self.disturbed.slopes(chain, terms)])
        curves = self.data.averaged(curves * t) * weight
        nuisances = self.disturbed.spread @ curves[p:].transpose(1, 0, 2)
        q = curves.shape[-1]
        rows = n * q
        d = np.empty((p + self.count, n, q), np.complex128)
        d[:p], d[p:] = curves[:p], nuisances.transpose(1, 0, 2)
        flat = d.reshape(len(d), rows).T
        out = np.zeros((2 * rows + len(d) + (self.fixed is not None), len(d)))
        out[:rows], out[rows : 2 * rows] = flat.real, flat.imag
        out[2 * rows : 2 * rows + len(d)] = self._prior
        if self.fixed is not None:
            out[-1, self.fixed[0]] = PIN
        if not np.isfinite(out.sum()):
            out = np.nan_to_num(out, nan=0.0, posinf=0.0, neginf=0.0)
        return out

    def _chain(self, search: F64) -> Chain:
        """Chain matrix; entries of shape (k,), or (n, k) where some run is turned round."""
        chain = self.hypothesis.matrix(self._s, tuple(self.to_values(search)))
        return self._turn(chain) if self._any_turned else chain

    def _chain_of(self, moved: F64, p: int) -> Chain:
        """Differences of the chain matrix over moves of each unknown, (p, 1, k) or (p, n, k)."""
        values = self.to_values(moved)
        chain = self.hypothesis.matrix(self._s, tuple(v[:, None, None] for v in values.T))
        if self._any_turned:
            chain = self._turn(chain)
        twice = (2 * self._differences)[:, None, None]
        return Chain(*((part[:p] - part[p:]) / twice for part in np.broadcast_arrays(*chain)))

    def _turn(self, chain: Chain) -> Chain:
        back = chain.turned()
        return Chain(*(np.where(self._turned, b, a) for a, b in zip(chain, back, strict=True)))
