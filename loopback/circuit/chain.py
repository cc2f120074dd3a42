"""Chain matrix as four arrays, for models that are evaluated many thousand times."""

from __future__ import annotations

from typing import NamedTuple

from loopback.arrays import C128


class Chain(NamedTuple):
    """A, B, C and D, each an array that broadcasts against the others (see the package).

    Parameters
    ----------
    a, d : ndarray of complex128
        Dimensionless.
    b : ndarray of complex128
        Ohm.
    c : ndarray of complex128
        Siemens.
    """

    a: C128
    b: C128
    c: C128
    d: C128

    def after_shunt(self, y: C128) -> Chain:
        """Return the cascade of a shunt admittance and this two-port."""
        return Chain(self.a, self.b, self.c + y * self.a, self.d + y * self.b)

    def after_series(self, z: C128) -> Chain:
        """Return the cascade of a series impedance and this two-port."""
        return Chain(self.a + z * self.c, self.b + z * self.d, self.c, self.d)

    def turned(self) -> Chain:
        """Return it with in and out exchanged; not for a stage, whose determinant is zero."""
        det = self.a * self.d - self.b * self.c
        return Chain(self.d / det, self.b / det, self.c / det, self.a / det)

    def inverse_ratio(self, zs: C128, yl: C128) -> C128:
        """Return EMF over load voltage, ``A + B YL + C Zs + D Zs YL``."""
        return self.a + self.b * yl + zs * (self.c + self.d * yl)


def from_admittance(y11: C128, y12: C128, y21: C128, y22: C128) -> Chain:
    """Chain matrix of admittances ``I1 = y11 V1 + y12 V2``, ``I2' = y21 V1 + y22 V2``.

    Parameters
    ----------
    y11, y12, y21, y22 : ndarray of complex128
        Siemens, both currents flowing in (Pozar, ch. 4).

    Returns
    -------
    Chain
        A, B, C, D.
    """
    return Chain(-y22 / y21, -1 / y21, y12 - y11 * y22 / y21, -y11 / y21)
