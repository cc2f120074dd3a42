"""Several examinations on the same axes: each in bypass, against the cable."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from loopback.facts import Analysis
from loopback.report.cable_lines import told_runs
from loopback.report.curve_source import half_width_db
from loopback.report.dates import date_text
from loopback.report.figures.curves import Sheet
from loopback.report.figures.overlay import Trace, overlay_curves
from loopback.report.run_names import feed_name
from loopback.response.band import level_db

MOST_CURVES = 24
"""The first eight by name, the rest in grey; more would only be a grey area."""


def overlay_sheet(
    named: Sequence[tuple[str, Analysis]],
    feed: Literal["plain", "resistor"],
    *,
    near: bool = False,
) -> Sheet:
    """Collect the run in bypass of several examinations.

    Parameters
    ----------
    named : sequence of (str, Analysis)
        What each is called beside its curve; beyond the eighth they are grey and have no name.
    feed : {"plain", "resistor"}
        Which run; an examination without one is left out.
    near : bool
        True for a zoom: what lets nothing through is left out as well.

    Returns
    -------
    Sheet
        Levels in dB with bands of 95 %.
    """
    curves: list[tuple[str, Trace | None]] = []
    days: list[str] = []
    fed = str(feed)
    for name, analysis in named:
        facts = next((f for f in told_runs(analysis) if f.run.label.feed == feed), None)
        silent = near and facts is not None and facts.state in ("open", "short")
        if facts is None or facts.ratio is None or silent:
            curves.append((name, None))
            continue
        level, u_db = level_db(facts.ratio)
        half = half_width_db(u_db, facts.ratio)
        curves.append((name, Trace(facts.ratio.f_hz, level, half)))
        days.append(analysis.examination.created)
        fed = feed_name(facts.run.label, analysis.examination.setup.resistor_ohm)
    through = "with the plain lead" if feed == "plain" else f"through {fed}"
    when = sorted({date_text(day) for day in days})
    ends = [date_text(day) for day in (min(days), max(days))] if days else []
    span = f"{ends[0]}." if len(when) == 1 else f"{' to '.join(ends)}."
    return Sheet(
        f"In bypass, {'within 1 dB of' if near else 'against'} the cable, {through}",
        f"Measured {span} Bands cover 95 %." if days else "",
        overlay_curves(curves),
        (),
    )
