"""From an analysis to the curves that the pictures are drawn from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.facts import Analysis, RunFacts
from loopback.quantity import coverage_factor
from loopback.report.cable_lines import rounded_up
from loopback.report.captions import where_and_when
from loopback.report.figures.curves import Curve, Floor, Sheet
from loopback.report.run_names import feed_name, is_bypass, run_name, state_number
from loopback.response.band import level_db
from loopback.response.reading import Ratio

_ZOOM_DB = 1.0
_HEARD_HZ = (20.0, 20_000.0)
_NEPER_DB = 20 / np.log(10)
_FEEDS: tuple[Literal["resistor", "plain"], ...] = ("resistor", "plain")


def insertion_sheet(analysis: Analysis) -> Sheet:
    """Collect every pedal run against its reference, with bands and the setup's floor.

    Parameters
    ----------
    analysis : Analysis
        Runs without a reference are left out.

    Returns
    -------
    Sheet
        Levels in dB; one floor for each feed, from the run that shows it best.
    """
    found = _with_ratio(analysis.pedal_runs)
    floors = [
        Floor(f"setup's own noise, {_feed_of(analysis, feed)}", ratio.f_hz, ratio.noise_db)
        for feed in _FEEDS
        if (ratio := _quietest(found, feed)) is not None
    ]
    return Sheet(
        f"{analysis.examination.pedal.name}: level against the cable",
        f"{where_and_when(analysis)} Bands cover 95 %. Hatched: the setup's own "
        "noise hides what lies there.",
        tuple(_ratio_curve(analysis, facts, ratio) for facts, ratio in found),
        tuple(floors),
    )


def zoom_sheet(analysis: Analysis) -> Sheet:
    """Collect the runs in bypass that pass, and what is told apart from the cable.

    Parameters
    ----------
    analysis : Analysis
        Runs without a reference are left out.

    Returns
    -------
    Sheet
        Levels in dB; the caption names the runs that are left out. Where no position is known to
        be bypass, those that lie mostly within the scale are shown. The zone is what a difference
        at the setup's own floor would do to the level, from the run of a feed that shows it best.
    """
    found = _with_ratio(analysis.pedal_runs)
    zones = []
    for feed in _FEEDS:
        ratio = _quietest(found, feed)
        if ratio is not None:
            half = _zone_db(ratio)
            middle = float(half[np.argmin(np.abs(np.log(ratio.f_hz / 1000.0)))])
            name = f"as the cable, {_feed_of(analysis, feed)}: ±{rounded_up(middle)} dB"
            zones.append(Floor(name, ratio.f_hz, half))
    drawn: list[Curve] = []
    away: list[Curve] = []
    for facts, ratio in found:
        curve = _ratio_curve(analysis, facts, ratio)
        (drawn if _in_zoom(analysis, facts, curve) else away).append(curve)
    left_out = f" Not drawn: {'; '.join(curve.label for curve in away)}." if away else ""
    return Sheet(
        f"{analysis.examination.pedal.name}: within {_ZOOM_DB:g} dB of the cable",
        f"{where_and_when(analysis)} Bands cover 95 %. Hatched: cannot be told from the cable. "
        f"Arrows: beyond this expanded scale.{left_out}",
        tuple(drawn),
        tuple(zones),
    )


def _in_zoom(analysis: Analysis, facts: RunFacts, curve: Curve) -> bool:
    """Whether a run belongs in the zoom: an effect, or what leaks past an open path, hides it."""
    if facts.state in ("open", "short"):
        return False
    position = analysis.result.bypass_position
    return _mostly_within(curve) if position is None else is_bypass(facts.run.label, position)


def _mostly_within(curve: Curve) -> bool:
    """Whether a curve is in the zoom for half of what is heard; else it only covers others."""
    heard = (curve.f_hz >= _HEARD_HZ[0]) & (curve.f_hz <= _HEARD_HZ[1])
    return bool(np.mean(np.abs(curve.level_db[heard]) <= _ZOOM_DB) >= 0.5)


def _with_ratio(runs: Iterable[RunFacts]) -> list[tuple[RunFacts, Ratio]]:
    return [(facts, facts.ratio) for facts in runs if facts.ratio is not None]


def _ratio_curve(analysis: Analysis, facts: RunFacts, ratio: Ratio) -> Curve:
    label = facts.run.label
    level, u_db = level_db(ratio)
    return Curve(
        run_name(facts.run, bypass_position=analysis.result.bypass_position),
        ratio.f_hz,
        level,
        half_width_db(u_db, ratio),
        label.feed,
        state_number(label),
    )


def _zone_db(ratio: Ratio) -> F64:
    """Half-width around 0 dB: a difference from the cable as large as the setup's own floor."""
    zone: F64 = _NEPER_DB * np.log1p(10 ** (ratio.floor_db / 20))
    return zone


def half_width_db(u_db: F64, ratio: Ratio) -> F64:
    """Half of the 95 % interval: noise and repeats, and the common gain drift, in squares.

    Parameters
    ----------
    u_db : ndarray of float64, shape (k,)
        Standard uncertainty from noise and repeats, dB.
    ratio : Ratio
        For the drift that all frequencies have in common.

    Returns
    -------
    ndarray of float64, shape (k,)
        In dB.
    """
    half: F64 = coverage_factor() * np.hypot(u_db, ratio.u_gain_db)
    return half


def _quietest(
    found: list[tuple[RunFacts, Ratio]], feed: Literal["resistor", "plain"]
) -> Ratio | None:
    """Choose the run of a feed that shows the setup best; an effect adds noise of its own."""
    ratios = [ratio for facts, ratio in found if facts.run.label.feed == feed]
    return min(ratios, key=lambda ratio: float(np.median(ratio.var)), default=None)


def _feed_of(analysis: Analysis, feed: Literal["resistor", "plain"]) -> str:
    for facts in analysis.pedal_runs:
        if facts.run.label.feed == feed:
            return feed_name(facts.run.label, analysis.examination.setup.resistor_ohm)
    return feed
