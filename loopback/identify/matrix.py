"""Chain matrix from runs with two feeds and two loads.

With ``h = 1/H``, H the load voltage over the EMF, each run gives ``h = A + B Y + C Z + D Z Y`` for
its own source impedance Z and load admittance Y (see `loopback.circuit.twoport.voltage_ratio`), so
four runs are four linear equations at each frequency. H comes from the ratio to the run through the
coupler with the same feed and load: ``h = (1 + Z Yc) / T``, where Yc is the measured load with the
coupler. A load plug is thus measured, never assumed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.plan.runs import Feed

CELLS: tuple[tuple[Feed, int], ...] = (
    ("plain", 0), ("plain", 1), ("resistor", 0), ("resistor", 1),
)  # fmt: skip
"""Feed, and number of the load: the order of all arrays over runs here."""


@dataclass(frozen=True, slots=True)
class Hookups:
    """Everything that the four equations are made of.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid.
    t : ndarray of complex128, shape (4, k)
        Ratio to the coupler, in the order of `CELLS`.
    q : ndarray of complex128, shape (2, k)
        Resistor reference over plain reference, for each load.
    source_ohm, resistor_ohm, stray_farad : float
        Output impedance; series resistor and what lies across it.
    coupler_farad : float
        Capacitance of the coupler, in the references only.
    """

    f_hz: F64
    t: C128
    q: C128
    source_ohm: float
    resistor_ohm: float
    stray_farad: float
    coupler_farad: float

    @property
    def feeds(self) -> C128:
        """Source impedance with the plain and with the resistor lead, ohm, shape (2, k)."""
        s = 2j * math.pi * self.f_hz
        resistor = 1 / (1 / self.resistor_ohm + s * self.stray_farad) + self.source_ohm
        return np.stack([np.full(len(s), complex(self.source_ohm)), resistor])

    @property
    def loads(self) -> C128:
        """Load admittance with the coupler in it, siemens, shape (2, k)."""
        plain, resistor = self.feeds
        return np.asarray((1 - self.q) / (self.q * resistor - plain))


def solve_four(h: C128, z: C128, y: C128) -> C128:
    """Solve the four equations.

    Parameters
    ----------
    h : ndarray of complex128, shape (4, k)
        EMF over load voltage, in the order of `CELLS`.
    z : ndarray of complex128, shape (2, k)
        Source impedances, ohm.
    y : ndarray of complex128, shape (2, k)
        Load admittances, siemens.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        Chain matrix. Not for sources or loads that are nearly equal.
    """
    solved: C128 = np.einsum("kij,jk->ki", equations_inverted(z, y), h).reshape(-1, 2, 2)
    return solved


def equations_inverted(z: C128, y: C128) -> C128:
    """Return the inverse of the four equations.

    Parameters
    ----------
    z, y : ndarray of complex128, shape (2, k)
        Source impedances, ohm; load admittances, siemens.

    Returns
    -------
    ndarray of complex128, shape (k, 4, 4)
        From h in the order of `CELLS` to (A, B, C, D): the Kronecker product of the two 2×2
        inverses, which are known in closed form.
    """
    by_z = np.moveaxis(np.array([[z[1], -z[0]], [-np.ones_like(z[0]), np.ones_like(z[0])]]), 2, 0)
    by_y = np.moveaxis(np.array([[y[1], -y[0]], [-np.ones_like(y[0]), np.ones_like(y[0])]]), 2, 0)
    scale = (z[1] - z[0]) * (y[1] - y[0])
    kron = np.einsum("kab,kcd->kacbd", by_z, by_y).reshape(-1, 4, 4)
    return np.asarray(kron / scale[:, None, None])


def chain_of(hookups: Hookups) -> C128:
    """Chain matrix of one set of hook-ups.

    Parameters
    ----------
    hookups : Hookups
        Ratios and setup.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        See `solve_four`.
    """
    z, yc = hookups.feeds, hookups.loads
    h = np.stack(
        [(1 + z[feed_number(c)] * yc[c[1]]) / t for c, t in zip(CELLS, hookups.t, strict=True)]
    )
    y = yc - 2j * math.pi * hookups.f_hz * hookups.coupler_farad
    return solve_four(h, z, y)


def feed_number(cell: tuple[Feed, int]) -> int:
    """Return the place of a cell's feed in `Hookups.feeds`.

    Parameters
    ----------
    cell : tuple
        One of `CELLS`.

    Returns
    -------
    int
        0 for the plain lead, 1 for the resistor lead.
    """
    return 0 if cell[0] == "plain" else 1
