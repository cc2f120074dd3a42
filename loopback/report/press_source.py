"""From what presses show to the picture of a footswitch."""

from __future__ import annotations

import numpy as np

from loopback.facts import Analysis
from loopback.report.captions import where_and_when
from loopback.report.figures.curves import PressGroup, PressSheet
from loopback.switching.result import Direction, PressFigures

_NAMES: tuple[tuple[Direction, str], ...] = (("lit", "effect on"), ("dark", "effect off"))


def press_sheet(analysis: Analysis) -> PressSheet:
    """Collect all presses in silence.

    Parameters
    ----------
    analysis : Analysis
        Without presses there are no groups.

    Returns
    -------
    PressSheet
        Peaks with their doubt, and the course of the highest press of either direction.
    """
    figures = analysis.footswitch
    groups = () if figures is None else tuple(_group(figures, *which) for which in _NAMES)
    return PressSheet(
        f"{analysis.examination.pedal.name}: what the footswitch puts on the line",
        f"{where_and_when(analysis)} Presses in silence; bars cover 95 %. Hatched, and lines among "
        "the dots: 99 windows of silence in 100 stay below. The courses above have a scale of "
        "their own.",
        "V" if figures is None else figures.unit,
        groups,
    )


def _group(figures: PressFigures, which: Direction, name: str) -> PressGroup:
    one = figures.direction(which)
    found = [(n, p) for n, p in enumerate(figures.presses, start=1) if p.direction == which]
    wave = one.wave
    none = np.empty(0)
    if not found:
        said = f"{name}: no press heard"
    elif not one.pops:
        said = f"{name}: none of {one.presses} pops"
    else:
        said = f"{name}: {one.pops} of {one.presses} pop"
    return PressGroup(
        name,
        said,
        np.array([float(n) for n, _ in found]),
        np.array([p.pop.peak.value for _, p in found]),
        np.array([p.pop.peak.half_width() for _, p in found]),
        one.silence_peak_99,
        *((none, none, none) if wave is None else (wave.t_s, wave.low, wave.high)),
    )
