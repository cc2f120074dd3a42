"""Probability that a quantity lies inside a limit (JCGM 106:2012, 7.3, normal distribution)."""

from __future__ import annotations

import math

from loopback.quantity import Estimate

DECIDED = 0.975
"""Guard: a statement needs this probability, so that the whole 95 % interval lies inside a limit.

As a guard band (JCGM 106:2012, 8.3.2) it is 1.96 standard uncertainties wide on either side."""
CEILING = 0.9995
"""No certainty above this: models, not intervals, limit what can be known."""


def probability_below(estimate: Estimate, limit: float) -> float:
    """Probability that the true value lies below `limit`, between 0 and 1.

    Parameters
    ----------
    estimate : Estimate
        The quantity.
    limit : float
        In the unit of the quantity.

    Returns
    -------
    float
        Between 0 and 1.
    """
    if estimate.u == 0:
        return 1.0 if estimate.value < limit else 0.0
    return 0.5 * math.erfc((estimate.value - limit) / (estimate.u * math.sqrt(2)))


def capped(probability: float) -> float:
    """Return `probability`, but never more than `CEILING`.

    Parameters
    ----------
    probability : float
        Between 0 and 1.

    Returns
    -------
    float
        Between 0 and `CEILING`.
    """
    return min(max(probability, 0.0), CEILING)
