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

_SHOWN = ((2, "2nd"), (3, "3rd"))
_MOST_RUNS = 2


def harmonics_sheet(analysis: Analysis) -> Sheet:
    """Collect second and third harmonic of the runs in bypass, and of their references.

    Parameters
    ----------
    analysis : Analysis
        Runs whose harmonics were not read are left out.

    Returns
    -------
    Sheet
        Levels in dB over the fundamental; what the noise hides is the floor, one for each feed.
        The stronger of the cable's own two is one curve for each feed.
    """
    runs = told_runs(analysis) or analysis.pedal_runs
    runs = tuple(facts for facts in runs if _distortion(facts) is not None)[:_MOST_RUNS]
    curves: list[Curve] = []
    floors: list[Floor] = []
    resistor = analysis.examination.setup.resistor_ohm
    for facts in runs:
        feed = facts.run.label.feed
        like = (_distortion(r) for r in analysis.references if r.run.label.feed == feed)
        reference = next((found for found in like if found is not None), None)
        if reference is not None:
            name = feed_name(facts.run.label, resistor)
            curves.append(_setups_own(reference, f"cable, {name}: the setup's own"))
            floors.append(_floor(reference, f"noise hides, {name}"))
    for facts in runs:
        found = _distortion(facts)
        if found is None:
            continue
        name = run_name(facts.run, bypass_position=analysis.result.bypass_position)
        for order, word in _SHOWN:
            curves.append(_curve(found, order, f"{word}, {name}", facts.run.label.feed))
    return Sheet(
        f"{analysis.examination.pedal.name}: harmonics in bypass",
        f"{where_and_when(analysis)} Amplitude of the harmonic over that of the signal, at the "
        "frequency that makes it. Bands cover 95 %. Hatched: the noise hides what lies there.",
        tuple(curve for curve in curves if np.isfinite(curve.level_db).any()),
        tuple(floors),
    )


def _distortion(facts: RunFacts) -> Distortion | None:
    return None if facts.behaviour is None else facts.behaviour.distortion


def _curve(found: Distortion, order: int, label: str, line: LineKind) -> Curve:
    level, u = found.level_db[order - 2], found.u_db[order - 2]
    return Curve(label, found.f_hz, level, coverage_factor() * u, line, order - 2)


def _setups_own(found: Distortion, label: str) -> Curve:
    level: F64 = np.fmax(found.level_db[0], found.level_db[1])
    return Curve(label, found.f_hz, level, None, "cable", 0)


def _floor(found: Distortion, label: str) -> Floor:
    known = np.isfinite(found.u_power[:2]).all(axis=0)
    size = coverage_factor() * np.max(found.u_power[:2, known], axis=0)
    return Floor(label, found.f_hz[known], np.asarray(10 * np.log10(np.maximum(size, 1e-30))))
