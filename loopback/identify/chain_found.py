"""The measured chain matrix as a record: values, what moves them together, and their noise."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.twoport import determinant
from loopback.identify.weights import DB
from loopback.plan.runs import Load
from loopback.quantity import Estimate

MIDDLE_HZ = (800.0, 1250.0)
"""A third of an octave each way around 1 kHz, where single numbers are read."""
TREBLE_HZ = (8000.0, 12_000.0)
"""Where an input's capacitance is read: it is most of the admittance there."""


@dataclass(frozen=True, slots=True)
class Witness:
    """``AD - BC`` around 1 kHz: 1 for anything passive and reciprocal, 0 behind a buffer.

    Parameters
    ----------
    value : Estimate
        Real part, dimensionless; a delay common to all runs has been taken off.
    basis : {"second_load", "reversed"}
        What shows it: runs with a second load, or one with in and out exchanged.
    run_ids : tuple of str
        The pedal runs it rests on.
    """

    value: Estimate
    basis: Literal["second_load", "reversed"]
    run_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ChainMatrix:
    """A, B, C and D of a pedal in bypass over frequency, with covariance.

    Two kinds of doubt are kept apart. A *spread* is the change of the whole matrix, at all
    frequencies together, when one cause moves by its standard uncertainty: gain of a run, resistor,
    a plug. *Noise* is independent from frequency to frequency.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid, hertz.
    m : ndarray of complex128, shape (k, 2, 2)
        ``[[A, B], [C, D]]`` in 1, ohm, siemens, 1.
    spreads : ndarray of complex128, shape (n, k, 2, 2)
        One for each cause.
    noise : ndarray of complex128, shape (k, 4, 4)
        Hermitian covariance ``E[e e*]`` of (A, B, C, D), evenly on real and imaginary part.
    second_load : {"line", "plug"}
        The load beside the instrument input.
    second_load_ohm : Estimate
        Its resistance, as the runs through the coupler show it.
    power, position : str or None
        State of the pedal in these runs.
    run_ids : tuple of str
        The pedal runs used.
    witness : Witness or None
        None where it is undefined: an open or a short, for A and D are then without bound.
    """

    f_hz: F64
    m: C128
    spreads: C128
    noise: C128
    second_load: Load
    second_load_ohm: Estimate
    power: str | None
    position: str | None
    run_ids: tuple[str, ...]
    witness: Witness | None

    def u(self, by: C128 | None = None) -> F64:
        """Return the standard uncertainty of both parts of the entries, or of a function of them.

        Parameters
        ----------
        by : ndarray of complex128, shape (k, 4), or None
            Derivatives of an analytic function by A, B, C, D; None: the entries themselves.

        Returns
        -------
        ndarray of float64, shape (k, 2), or (k, 2, 2, 2) for the entries
            Last axis: real part, imaginary part (JCGM 102:2011, first order).
        """
        if by is None:
            parts = [self.u(np.tile(np.eye(4)[i], (len(self.f_hz), 1)) + 0j) for i in range(4)]
            return np.stack(parts, axis=1).reshape(len(self.f_hz), 2, 2, 2)
        moved = np.einsum("nki,ki->nk", self.spreads.reshape(len(self.spreads), -1, 4), by)
        noise = np.einsum("ki,kij,kj->k", by, self.noise, by.conj()).real / 2
        real = np.sum(moved.real**2, axis=0) + noise
        imag = np.sum(moved.imag**2, axis=0) + noise
        return np.asarray(np.sqrt(np.stack([real, imag], axis=-1)))

    @property
    def determinant(self) -> tuple[C128, F64]:
        """``AD - BC`` and the standard uncertainty of its two parts, shapes (k,) and (k, 2)."""
        a, b, c, d = _entries(self.m)
        return determinant(self.m), self.u(np.stack([d, -c, -b, a], axis=-1))

    @property
    def input_admittance(self) -> tuple[C128, F64]:
        """``C / A``, into the first port with nothing at the second, siemens; see `u`."""
        a, _, c, _ = _entries(self.m)
        none = np.zeros_like(a)
        return c / a, self.u(np.stack([-c / a**2, none, 1 / a, none], axis=-1))

    @property
    def output_impedance(self) -> tuple[C128, F64]:
        """``B / A``, into the second port from a source without impedance, ohm; see `u`."""
        a, b, _, _ = _entries(self.m)
        none = np.zeros_like(a)
        return b / a, self.u(np.stack([-b / a**2, 1 / a, none, none], axis=-1))

    @property
    def gain_db(self) -> Estimate:
        """Gain without load around 1 kHz, dB."""
        a = self.m[:, 0, 0]
        none = np.zeros_like(a)
        level = np.asarray(-DB * np.log(a), dtype=np.complex128)
        return self._mean(level, np.stack([-DB / a, none, none, none], axis=-1), "dB", MIDDLE_HZ)

    @property
    def output_ohm(self) -> Estimate:
        """Resistance of `output_impedance` around 1 kHz; of a passive path, what is in series."""
        a, b, _, _ = _entries(self.m)
        none = np.zeros_like(a)
        by = np.stack([-b / a**2, 1 / a, none, none], axis=-1)
        return self._mean(b / a, by, "ohm", MIDDLE_HZ)

    @property
    def input_siemens(self) -> Estimate:
        """Conductance of `input_admittance` around 1 kHz."""
        a, _, c, _ = _entries(self.m)
        none = np.zeros_like(a)
        by = np.stack([-c / a**2, none, 1 / a, none], axis=-1)
        return self._mean(c / a, by, "siemens", MIDDLE_HZ)

    @property
    def input_farad(self) -> Estimate:
        """Capacitance of `input_admittance` around 10 kHz."""
        a, _, c, _ = _entries(self.m)
        none = np.zeros_like(a)
        per = 1 / (2j * math.pi * self.f_hz)
        by = np.stack([-c / a**2, none, 1 / a, none], axis=-1) * per[:, None]
        return self._mean(c / a * per, by, "farad", TREBLE_HZ)

    def mean_determinant(self) -> Estimate:
        """Real part of ``AD - BC`` around 1 kHz, for `witness`."""
        a, b, c, d = _entries(self.m)
        by = np.stack([d, -c, -b, a], axis=-1)
        return self._mean(determinant(self.m), by, "", MIDDLE_HZ)

    def _mean(self, values: C128, by: C128, unit: str, band: tuple[float, float]) -> Estimate:
        """Mean of the real part over a band: noise averages out, what moves together does not."""
        use = (self.f_hz >= band[0]) & (self.f_hz <= band[1])
        by = by[use]
        moved = np.einsum(
            "nki,ki->nk", self.spreads[:, use].reshape(len(self.spreads), -1, 4), by
        ).real.mean(axis=1)
        noise = np.einsum("ki,kij,kj->k", by, self.noise[use], by.conj()).real.mean() / 2
        u = math.sqrt(float(np.sum(moved**2)) + float(noise) / int(use.sum()))
        return Estimate(float(values[use].real.mean()), u, unit)


def _entries(m: C128) -> tuple[C128, C128, C128, C128]:
    return m[:, 0, 0], m[:, 0, 1], m[:, 1, 0], m[:, 1, 1]
