"""Many presses of one direction put together: median and worst."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.quantity import Estimate
from loopback.switching.causes import rested_press
from loopback.switching.contacts import Contacts
from loopback.switching.pop import burst_level
from loopback.switching.result import DirectionFigures, Figure, Press
from loopback.switching.silence import Silence

_MEDIAN_SPREAD = math.sqrt(math.pi / 2)
"""Standard deviation of a median over that of a mean, for many normal draws."""


def figure_of(estimates: Sequence[Estimate], silence_99: float | None = None) -> Figure | None:
    """Take median and worst of the same measure of several presses.

    The doubt of the median is that of the scatter from press to press, which holds the noise as
    well; where the presses agree better than their own doubt says, that doubt counts.

    Parameters
    ----------
    estimates : sequence of Estimate
        One per press, in one unit.
    silence_99 : float or None
        See `Figure`.

    Returns
    -------
    Figure or None
        None without presses.
    """
    sound = [e for e in estimates if math.isfinite(e.value)]
    if not sound:
        return None
    values = np.array([e.value for e in sound])
    noise = float(np.sqrt(np.mean(np.square([e.u for e in sound]))))
    count = len(values)
    spread = max(noise, float(np.std(values, ddof=1))) if count > 1 else noise
    factor = 1.0 if count < 3 else _MEDIAN_SPREAD
    dof = sound[0].dof if count == 1 else min(e.dof for e in sound) + count - 1
    if count > 1 and spread > noise:
        dof = count - 1
    worst = max(sound, key=lambda e: abs(e.value))
    if sound[0].unit in ("dBV", "dBFS"):
        worst = max(sound, key=lambda e: e.value)
    median = Estimate(
        float(np.median(values)), factor * spread / math.sqrt(count), sound[0].unit, dof
    )
    return Figure(median, worst, silence_99)


def direction_figures(
    presses: tuple[Press, ...], contacts: Sequence[Contacts], silence: Silence, unit: str
) -> DirectionFigures:
    """Put one direction together.

    Parameters
    ----------
    presses : tuple of Press
        In silence, of this direction.
    contacts : sequence of Contacts
        With a tone, of this direction.
    silence : Silence
        Of the state that it leads to.
    unit : {"V", "FS"}
        Of amplitudes.

    Returns
    -------
    DirectionFigures
        Presses after a long rest count only where there are no others.
    """
    pops = [press for press in presses if press.is_pop]
    usual = [press for press in pops if not press.rested]
    peak_99, a_99, energy_99 = (float(limit) for limit in silence.limits)
    level_99 = burst_level(Estimate(energy_99, 0.0, ""), unit).value
    steps = [press.step for press in usual if press.step is not None]
    tails = [step.tail_s for step in steps if step.tail_s is not None]
    overlaps = [c.overlap_s for c in contacts if c.overlap_s is not None]
    return DirectionFigures(
        presses=len(presses),
        pops=len(pops),
        silence_peak_99=peak_99,
        peak=figure_of([p.pop.peak for p in usual], peak_99),
        a_weighted_peak=figure_of([p.pop.a_weighted_peak for p in usual], a_99),
        burst_level=figure_of([burst_level(p.pop.energy, unit) for p in usual], level_99),
        energy_s=figure_of([p.pop.energy_s for p in usual]),
        decay_s=figure_of([p.pop.decay_s for p in usual]),
        dc_step=figure_of([step.jump for step in steps]),
        tail_s=float(np.median(tails)) if 2 * len(tails) > len(steps) else None,
        rested=rested_press(presses),
        gap_s=figure_of([c.gap_s for c in contacts]),
        overlap_s=figure_of(overlaps),
        bounces=max((c.bounces for c in contacts), default=None),
    )
