"""From an analysis to the curves of the picture of harmonics."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.facts import Analysis, RunFacts
from loopback.quantity import coverage_factor
from loopback.report.cable_lines import told_runs
from loopback.report.captions import where_and_when
from loopback.report.figures.curves import Curve, Floor, LineKind, Sheet
from loopback.report.run_names import feed_name, run_name
from loopback.response.distortion import Distortion
from loopback.response.harmonics import ORDERS
from loopback.response.standing_out import stands_over

_WORDS = {2: "2nd", 3: "3rd", 4: "4th", 5: "5th"}
_MOST_RUNS = 2


def harmonics_sheet(analysis: Analysis) -> Sheet:
    """Collect the harmonics of the runs in bypass where they exceed those of their references.

    Parameters
    ----------
    analysis : Analysis
        Runs whose harmonics were not read are left out.

    Returns
    -------
    Sheet
        Levels in dB over the fundamental; what the noise hides is the floor, one for each feed.
        The strongest of the cable's own is one curve for each feed.
    """
    runs = told_runs(analysis) or analysis.pedal_runs
    runs = tuple(facts for facts in runs if _distortion(facts) is not None)[:_MOST_RUNS]
    own: list[Curve] = []
    setups: list[Curve] = []
    floors: list[Floor] = []
    resistor = analysis.examination.setup.resistor_ohm
    for facts in runs:
        found, reference = _distortion(facts), _reference(analysis, facts)
        if found is None:
            continue
        name = feed_name(facts.run.label, resistor)
        if reference is not None:
            setups.append(_setups_own(reference, f"cable, {name}: the setup's own"))
        floors.append(_floor(reference or found, f"noise hides, {name}"))
        over = stands_over(found, reference)
        name = run_name(facts.run, bypass_position=analysis.result.bypass_position)
        for row, order in enumerate(ORDERS):
            if np.count_nonzero(over[row]) > 1:
                label = f"{_WORDS[order]}, {name}"
                own.append(_curve(found, over[row], order, label, facts.run.label.feed))
    said = "of the cable's own" if own else "of the cable's own: none does"
    return Sheet(
        f"{analysis.examination.pedal.name}: harmonics in bypass",
        f"{where_and_when(analysis)} Amplitude of the harmonic over that of the signal, at the "
        f"frequency that makes it. Drawn is what stands out {said}. Bands cover 95 %. Hatched: the "
        "noise hides what lies there.",
        (*(curve for curve in setups if np.isfinite(curve.level_db).any()), *own),
        tuple(floor for floor in floors if len(floor.f_hz) > 1),
    )


def _distortion(facts: RunFacts) -> Distortion | None:
    return None if facts.behaviour is None else facts.behaviour.distortion


def _reference(analysis: Analysis, facts: RunFacts) -> Distortion | None:
    """Find the reference of the same feed, load and level that was read."""
    label = facts.run.label
    like = (
        _distortion(other)
        for other in analysis.references
        if (other.run.label.feed, other.run.label.load, other.run.label.level_db)
        == (label.feed, label.load, label.level_db)
    )
    return next((found for found in like if found is not None), None)


def _curve(found: Distortion, over: np.ndarray, order: int, label: str, line: LineKind) -> Curve:
    row = order - 2
    level = np.where(over, found.level_db[row], np.nan)
    return Curve(label, found.f_hz, level, coverage_factor() * found.u_db[row], line, row)


def _setups_own(found: Distortion, label: str) -> Curve:
    shown = np.where(found.settled, found.level_db, np.nan)
    level: F64 = np.fmax.reduce(shown, axis=0)
    return Curve(label, found.f_hz, level, None, "cable", 0)


def _floor(found: Distortion, label: str) -> Floor:
    known = found.settled[:2].all(axis=0)
    size = coverage_factor() * np.max(found.u_power[:2, known], axis=0)
    return Floor(label, found.f_hz[known], np.asarray(10 * np.log10(np.maximum(size, 1e-30))))
