"""Size of what stays on the line: one grade, or the two that an interval straddles."""

from __future__ import annotations

from loopback.quantity import Estimate
from loopback.verdict.limits import GRADES
from loopback.verdict.result import GradeName


def grade_load(
    c_farad: Estimate, g_siemens: Estimate, series_ohm: Estimate | None = None
) -> tuple[GradeName, ...]:
    """Grade by capacitance, conductance and, where it was resolved, series resistance.

    Parameters
    ----------
    c_farad, g_siemens : Estimate
        Across the line.
    series_ohm : Estimate or None
        In to out; None: not tested. It counts only with the lower end of its interval: into a
        high load nobody can show that it is under 1 ohm.

    Returns
    -------
    tuple of str
        One name when the whole 95 % interval of everything lies inside one grade; two adjacent
        ones when it straddles an end; empty when it reaches over more than two.
    """
    lows, highs = [], []
    for estimate, ends in (
        (c_farad, [g.c_farad for g in GRADES]),
        (g_siemens, [g.g_siemens for g in GRADES]),
        (series_ohm, [g.series_ohm for g in GRADES]),
    ):
        if estimate is None:
            continue
        low, high = estimate.interval()
        if estimate is series_ohm:
            # What cannot be shown does not count against the grade, only what is there for sure.
            high = low
        lows.append(next(i for i, end in enumerate(ends) if low <= end))
        highs.append(next(i for i, end in enumerate(ends) if high <= end))
    best, worst = max(lows), max(highs)
    if worst - best > 1:
        return ()
    return tuple(GRADES[i].name for i in range(best, worst + 1))
