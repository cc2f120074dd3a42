"""Numbers that JSON has: an estimate with its interval, and nothing infinite."""

from __future__ import annotations

import math

from loopback.quantity import Estimate
from loopback.report.fact_base import Number


def number(estimate: Estimate) -> Number:
    """Turn an estimate into value, uncertainty and 95 % interval.

    Parameters
    ----------
    estimate : Estimate
        In any unit.

    Returns
    -------
    Number
        None for what is not finite.
    """
    low, high = estimate.interval() if estimate.dof > 0 else (math.nan, math.nan)
    return Number(finite(estimate.value), finite(estimate.u), finite(low), finite(high))


def number_or_none(estimate: Estimate | None) -> Number | None:
    """Turn an estimate into a number, if there is one.

    Parameters
    ----------
    estimate : Estimate or None
        In any unit.

    Returns
    -------
    Number or None
        None for None.
    """
    return None if estimate is None else number(estimate)


def finite(value: float | None) -> float | None:
    """Turn a number into one that JSON has; neither infinity nor "not a number" is.

    Parameters
    ----------
    value : float or None
        Also one of the numeric library's own.

    Returns
    -------
    float or None
        A plain number.
    """
    return float(value) if value is not None and math.isfinite(value) else None
