"""How well repeated examinations of one pedal agree: within one, between them, and how sure.

One-way analysis of variance with unequal groups, as in ISO 5725-2:2019 (there for laboratories,
here for examinations of one owner: what it gives is intermediate precision).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from loopback.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Precision:
    """Scatter of one quantity over examinations.

    Parameters
    ----------
    groups, values : int
        Examinations, and values in all of them.
    mean : Estimate
        Of the means of the examinations, each counting once.
    within : float or None
        Standard deviation within one examination; None where each has one value.
    between : float or None
        What examinations differ by beyond that; 0 where the scatter within explains it all. None
        where each has one value, so that the two cannot be told apart.
    all_together : float
        Standard deviation of single values of different examinations.
    low95, high95 : float
        Interval that covers the true `all_together` with 95 %.
    dof : float
        Degrees of freedom behind it.
    stated : float
        Standard uncertainty that the examinations state for what they have not in common.
    """

    groups: int
    values: int
    mean: Estimate
    within: float | None
    between: float | None
    all_together: float
    low95: float
    high95: float
    dof: float
    stated: float

    @property
    def explained(self) -> bool:
        """Whether the stated doubts may explain the scatter (95 %, one-sided by the interval)."""
        return self.low95 <= self.stated


def precision(
    groups: Sequence[Sequence[float]], stated: Sequence[float], unit: str
) -> Precision | None:
    """Estimate the scatter.

    Parameters
    ----------
    groups : sequence of sequence of float
        Values of each examination, one or more in each.
    stated : sequence of float
        For each examination, the standard uncertainty of its value, common causes left out.
    unit : str
        Of the values.

    Returns
    -------
    Precision or None
        None with fewer than two examinations. Degrees of freedom of the sum of the two variances
        by Satterthwaite 1946; the interval by the chi-square distribution.
    """
    k, n = len(groups), sum(len(group) for group in groups)
    if k < 2:
        return None
    means = [math.fsum(group) / len(group) for group in groups]
    centre = math.fsum(means) / k
    s_means = math.fsum((m - centre) ** 2 for m in means) / (k - 1)
    root = math.sqrt(math.fsum(u * u for u in stated) / k)
    within = between = None
    dof: float = k - 1
    variance = s_means
    if n > k:
        inner = math.fsum(
            (x - m) ** 2 for group, m in zip(groups, means, strict=True) for x in group
        ) / (n - k)
        # Means of unequal groups carry the harmonic mean of their sizes.
        share = math.fsum(1 / len(group) for group in groups) / k
        outer = max(0.0, s_means - share * inner)
        within, between = math.sqrt(inner), math.sqrt(outer)
        variance = outer + inner
        parts = (s_means**2 / (k - 1), ((1 - share) * inner) ** 2 / (n - k))
        if outer > 0 and math.fsum(parts) > 0:
            dof = variance**2 / math.fsum(parts)
        elif outer == 0:
            dof = n - k
    s = math.sqrt(variance)
    low, high = _interval(s, dof)
    mean = Estimate(centre, math.sqrt(s_means / k), unit, k - 1)
    return Precision(k, n, mean, within, between, s, low, high, dof, root)


def _interval(s: float, dof: float) -> tuple[float, float]:
    from scipy import special

    upper, lower = special.chdtri(dof, 0.025), special.chdtri(dof, 0.975)
    return s * math.sqrt(dof / float(upper)), s * math.sqrt(dof / float(lower))
