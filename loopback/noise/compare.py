"""Noise of a pedal run beside its reference: difference by power, and how sure it is."""

from __future__ import annotations

import math
from dataclasses import dataclass

from loopback.noise.figures import (
    AddedNoise,
    NoiseFigures,
    Weighting,
    added_noise,
    noise_difference,
)
from loopback.quantity import Estimate


@dataclass(frozen=True, slots=True)
class NoiseCompared:
    """One level of a pedal run over that of its reference.

    Parameters
    ----------
    weighting : {"a", "none", "468"}
        Which level.
    difference_db : Estimate
        Pedal over reference.
    significance : float
        Probability that two equal noises differ by less than was found, 0 to 1; 0.95 and more
        says that they are not equal.
    added : AddedNoise
        What the pedal adds by itself, by power, or what it stays below.
    """

    weighting: Weighting
    difference_db: Estimate
    significance: float
    added: AddedNoise


def compare_noise(pedal: NoiseFigures, reference: NoiseFigures) -> tuple[NoiseCompared, ...]:
    """Compare all three levels of a pedal run with those of its reference.

    Parameters
    ----------
    pedal, reference : NoiseFigures
        Of runs with the same feed and load.

    Returns
    -------
    tuple of NoiseCompared
        Unweighted, A-weighted, and through the 468 network where both have it.
    """
    weightings: tuple[Weighting, ...] = ("none", "a")
    if pedal.weighted_468_dbfs is not None and reference.weighted_468_dbfs is not None:
        weightings = (*weightings, "468")
    out = []
    for weighting in weightings:
        difference = noise_difference(pedal, reference, weighting)
        added = added_noise(pedal, reference, weighting)
        out.append(NoiseCompared(weighting, difference, significance(difference), added))
    return tuple(out)


def significance(difference: Estimate) -> float:
    """Return how sure it is that a difference is not zero.

    Parameters
    ----------
    difference : Estimate
        With its degrees of freedom.

    Returns
    -------
    float
        Two-sided, by Student's distribution (JCGM 100:2008, G.3): 0.95 where the 95 % interval
        just leaves out zero; 0 where nothing is known.
    """
    if not math.isfinite(difference.u):
        return 0.0
    if difference.u == 0:
        return 1.0 if difference.value else 0.0
    t = abs(difference.value) / difference.u
    if math.isinf(difference.dof):
        return math.erf(t / math.sqrt(2))
    from scipy import special

    return float(2 * special.stdtr(difference.dof, t) - 1)
