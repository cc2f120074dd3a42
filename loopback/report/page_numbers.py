"""Intervals in words: both ends in one prefix, rounded as their width allows."""

from __future__ import annotations

import math

from loopback.quantity import Estimate, round_together
from loopback.verdict.wording import resistance_text

_STEPS = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"))
_BARE = ("dB", "")
_FINEST_DB = 0.003
"""Rounds both ends to a thousandth, as fine as the values beside them."""


def interval_text(estimate: Estimate, unit: str) -> str:
    """Write the interval that covers 95 %.

    Parameters
    ----------
    estimate : Estimate
        In base units.
    unit : str
        Printed unit.

    Returns
    -------
    str
        Such as ``18.5 to 19.9 pF``; an end below zero is written as it is.
    """
    low, high = estimate.interval()
    size = max(abs(low), abs(high))
    scale, prefix = next(((s, p) for s, p in _STEPS if size >= s * 0.9995), (1e-12, "p"))
    if unit in _BARE or size == 0:
        scale, prefix = 1.0, ""
    half = estimate.half_width() / scale
    if unit == "dB" and half > 0:
        half = max(half, _FINEST_DB)
    ends = (_no_negative_zero(round_together(end / scale, half)[0]) for end in (low, high))
    return f"{' to '.join(ends)} {prefix}{unit}".rstrip()


def resistance_interval_text(g: Estimate) -> str:
    """Write the interval of the resistance that a conductance stands for.

    Parameters
    ----------
    g : Estimate
        Siemens.

    Returns
    -------
    str
        Such as ``0.99 to 1.01 MΩ``; where the conductance may be zero ``over 150 MΩ``, one-sided
        as `loopback.verdict.wording.resistance_text` writes it.
    """
    low, high = g.interval()
    if high <= 0:
        return "not limited"
    if low <= 0:
        return resistance_text(g)
    middle = Estimate(0.5 * (1 / high + 1 / low), (1 / low - 1 / high) / (2 * 1.96), "ohm")
    return interval_text(middle, "Ω")


def probability_text(probability: float | None) -> str:
    """Write a probability without ever claiming certainty.

    Parameters
    ----------
    probability : float or None
        Between 0 and 1; None: not known.

    Returns
    -------
    str
        Such as ``62 %`` or ``over 99.9 %``.
    """
    if probability is None or not math.isfinite(probability):
        return ""
    if probability > 0.999:
        return "over 99.9 %"
    if probability < 0.001:
        return "under 0.1 %"
    percent = 100 * probability
    return f"{percent:.1f} %" if percent > 95 or percent < 5 else f"{percent:.0f} %"


def _no_negative_zero(text: str) -> str:
    return text.lstrip("-") if float(text) == 0 else text
