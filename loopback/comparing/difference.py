"""Difference of two examinations with the doubt that is left when common causes have cancelled."""

from __future__ import annotations

import math
from dataclasses import dataclass

from loopback.comparing.setups import Assumed, one_setup
from loopback.comparing.summary import BY_SETUP, UNITS, Quantity, Summary
from loopback.quantity import Estimate

RESOLVED = 0.25
"""A conductance is told as a resistance where its interval reaches no farther than this part."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One quantity of two examinations.

    Parameters
    ----------
    quantity : str
        Which.
    first, second : Estimate
        Of either, in the base unit.
    difference : Estimate
        Second less first.
    shared : bool
        Whether causes in common were taken off its doubt.
    """

    quantity: Quantity
    first: Estimate
    second: Estimate
    difference: Estimate
    shared: bool

    @property
    def in_u(self) -> float:
        """The difference in standard uncertainties of itself; 0 where nothing differs."""
        u = self.difference.u
        return abs(self.difference.value) / u if u > 0 else math.inf * abs(self.difference.value)

    @property
    def told(self) -> bool:
        """Whether the 95 % interval of the difference leaves zero out."""
        return abs(self.difference.value) > self.difference.half_width()


def differences(a: Summary, b: Summary, assumed: Assumed = "look") -> tuple[Difference, ...]:
    """Take the differences of everything that both examinations measured.

    Parameters
    ----------
    a, b : Summary
        Two examinations.
    assumed : {"look", "one", "several"}
        What the user says of their setups.

    Returns
    -------
    tuple of Difference
        In the order of the quantities; what depends on leads and input is left out where the
        setups are not one.
    """
    shared = one_setup(a, b, assumed)
    found: list[Difference] = []
    for quantity in UNITS:
        first, second = a.estimate(quantity), b.estimate(quantity)
        if first is None or second is None or (quantity in BY_SETUP and not shared):
            continue
        found.append(
            Difference(quantity, first, second, less(second, first, shared=shared), shared)
        )
    return tuple(found)


def less(one: Estimate, other: Estimate, *, shared: bool) -> Estimate:
    """Subtract with the covariance of common causes (JCGM 100:2008, 5.2.2 and F.1.2.3).

    Parameters
    ----------
    one, other : Estimate
        In the same unit.
    shared : bool
        True where causes of the same name are one cause; False takes the two as independent.

    Returns
    -------
    Estimate
        One less the other; effective degrees of freedom by Welch and Satterthwaite (G.4.1).
    """
    theirs = dict(other.common)
    both = (
        [(mine, theirs[cause]) for cause, mine in one.common if cause in theirs] if shared else []
    )
    covariance = sum(a * b for a, b in both)
    variance = max(one.u**2 + other.u**2 - 2 * covariance, 0.0)
    weight = sum(e.u**4 / e.dof for e in (one, other))
    dof = variance**2 / weight if weight > 0 and variance > 0 else math.inf
    left = () if not shared else _left(one, other)
    return Estimate(one.value - other.value, math.sqrt(variance), one.unit, dof, left)


def _left(one: Estimate, other: Estimate) -> tuple[tuple[str, float], ...]:
    mine, theirs = dict(one.common), dict(other.common)
    return tuple((c, mine.get(c, 0.0) - theirs.get(c, 0.0)) for c in {**mine, **theirs})


def as_resistance(difference: Difference) -> Difference | None:
    """Turn a difference of conductances into one of resistances.

    Parameters
    ----------
    difference : Difference
        Of "g" or "g_input".

    Returns
    -------
    Difference or None
        In ohms; None where one of the two is no more than a bound.
    """
    ends = (difference.first, difference.second)
    if any(e.half_width() > RESOLVED * e.value for e in ends):
        return None
    first, second = (e.inverse("ohm") for e in ends)
    return Difference(
        difference.quantity, first, second, less(second, first, shared=difference.shared),
        difference.shared,
    )  # fmt: skip
