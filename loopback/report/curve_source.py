"""From an analysis to the curves that the pictures are drawn from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.facts import Analysis, RunFacts
from loopback.quantity import coverage_factor, with_prefix
from loopback.report.cable_lines import rounded_up, told_runs
from loopback.report.captions import where_and_when
from loopback.report.figures.curves import Curve, Floor, Mark, Sheet
from loopback.report.run_names import feed_name, run_name, state_number
from loopback.response.band import level_db
from loopback.response.reading import Ratio

_NEPER_DB = 20 / np.log(10)
_BANDS_PER_OCTAVE = 6
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
    """Collect the same curves, and the zone around 0 dB that cannot be told from the cable.

    Parameters
    ----------
    analysis : Analysis
        Runs without a reference are left out.

    Returns
    -------
    Sheet
        Levels in dB; the zone is what a difference at the setup's own floor would do to the
        level, from the run of a feed that shows it best.
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
    return Sheet(
        f"{analysis.examination.pedal.name}: within 1 dB of the cable",
        f"{where_and_when(analysis)} Bands cover 95 %. Hatched: cannot be told from the cable. "
        "Arrows: off this expanded scale.",
        tuple(_ratio_curve(analysis, facts, ratio) for facts, ratio in found),
        tuple(zones),
    )


def noise_sheet(analysis: Analysis) -> Sheet:
    """Collect the noise density of every run whose silence was read, the cable's first.

    Parameters
    ----------
    analysis : Analysis
        Runs without a noise density are left out.

    Returns
    -------
    Sheet
        Mean density in sixths of an octave, dBFS in 1 Hz; one reference for each feed.
    """
    curves: list[Curve] = []
    fed: set[str] = set()
    for facts in analysis.references:
        spectrum = _spectrum(facts)
        if spectrum is not None and facts.run.label.feed not in fed:
            fed.add(facts.run.label.feed)
            name = f"{run_name(facts.run)}: the setup's own"
            curves.append(Curve(name, *spectrum, None, "cable", 0))
    for facts in analysis.pedal_runs:
        spectrum = _spectrum(facts)
        if spectrum is not None:
            label = facts.run.label
            name = run_name(facts.run, bypass_position=analysis.result.bypass_position)
            curves.append(Curve(name, *spectrum, None, label.feed, state_number(label)))
    return Sheet(
        f"{analysis.examination.pedal.name}: noise while nothing is played",
        f"{where_and_when(analysis)} Curves: mean density in sixths of an octave. Stems: level of "
        "single tones. A full-scale sine is 0 dBFS.",
        tuple(curves),
        (),
        _marks(analysis),
    )


def _marks(analysis: Analysis) -> tuple[Mark, ...]:
    """Collect the tones of one run in bypass: its mains lines, and all others."""
    known = [f for f in (*told_runs(analysis), *analysis.pedal_runs) if f.behaviour is not None]
    # A long silence knows its mains lines, a short one does not.
    known.sort(
        key=lambda facts: (
            facts.behaviour is None
            or facts.behaviour.survey is None
            or facts.behaviour.survey.mains is None
        )
    )
    for facts in known:
        behaviour = facts.behaviour
        if behaviour is None or behaviour.survey is None:
            continue
        mains, marks = behaviour.survey.mains, []
        if mains is not None:
            marks += [
                Mark(
                    line.order * mains.f_hz.value,
                    line.level_dbfs.value,
                    f"{line.order * mains.nominal_hz:.0f} Hz",
                    own=False,
                )
                for line in mains.lines
                if line.level_dbfs is not None
            ]
        marks += [
            Mark(
                t.tone.f_hz.value,
                t.tone.level_dbfs.value,
                with_prefix(t.tone.f_hz.value, "Hz", 4),
                own=bool(t.over_reference),
            )
            for t in behaviour.tones
        ]
        return tuple(marks)
    return ()


def _with_ratio(runs: Iterable[RunFacts]) -> list[tuple[RunFacts, Ratio]]:
    return [(facts, facts.ratio) for facts in runs if facts.ratio is not None]


def _ratio_curve(analysis: Analysis, facts: RunFacts, ratio: Ratio) -> Curve:
    label = facts.run.label
    level, u_db = level_db(ratio)
    return Curve(
        run_name(facts.run, bypass_position=analysis.result.bypass_position),
        ratio.f_hz,
        level,
        _half_width_db(u_db, ratio),
        label.feed,
        state_number(label),
    )


def _zone_db(ratio: Ratio) -> F64:
    """Half-width around 0 dB: a difference from the cable as large as the setup's own floor."""
    zone: F64 = _NEPER_DB * np.log1p(10 ** (ratio.floor_db / 20))
    return zone


def _half_width_db(u_db: F64, ratio: Ratio) -> F64:
    """Half of the 95 % interval: noise and repeats, and the common gain drift, in squares."""
    half: F64 = coverage_factor() * np.hypot(u_db, ratio.u_gain_db)
    return half


def _quietest(
    found: list[tuple[RunFacts, Ratio]], feed: Literal["resistor", "plain"]
) -> Ratio | None:
    """Choose the run of a feed that shows the setup best; an effect adds noise of its own."""
    ratios = [ratio for facts, ratio in found if facts.run.label.feed == feed]
    return min(ratios, key=lambda ratio: float(np.median(ratio.var)), default=None)


def _spectrum(facts: RunFacts) -> tuple[F64, F64] | None:
    if facts.noise_f_hz is None or facts.noise_psd is None:
        return None
    f_hz, psd = facts.noise_f_hz, facts.noise_psd
    ratio = 2.0 ** (1 / _BANDS_PER_OCTAVE)
    count = int(np.log(40_000.0 / 10.0) / np.log(ratio)) + 1
    edges = 10.0 * ratio ** np.arange(count + 1)
    place = np.searchsorted(edges, f_hz) - 1
    ok = (place >= 0) & (place < count)
    total = np.bincount(place[ok], weights=psd[ok], minlength=count)
    lines = np.bincount(place[ok], minlength=count)
    held = (lines > 0) & (total > 0)
    if not held.any():
        return None
    mean = total[held] / lines[held]
    # The power of a full-scale sine is 1/2.
    return (edges[:-1] * np.sqrt(ratio))[held], 10 * np.log10(2 * mean)


def _feed_of(analysis: Analysis, feed: Literal["resistor", "plain"]) -> str:
    for facts in analysis.pedal_runs:
        if facts.run.label.feed == feed:
            return feed_name(facts.run.label, analysis.examination.setup.resistor_ohm)
    return feed
