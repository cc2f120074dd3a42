"""What a joint fit is given: pedal runs on the grid of the setup, and a compact grid of bands."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.priors import Priors
from loopback.identify.setup import SetupFound, discrepancy_var, fit_band
from loopback.identify.shunt import LATE_S, aligned
from loopback.plan.runs import Direction, Feed, Load, RunLabel
from loopback.response.delay import phase_delay_s
from loopback.response.reading import Ratio

BANDS_PER_OCTAVE = 6
HELD_DELAY_U_S = 1.5e-9
FREE_DELAY_U_S = 5e-6
LATE_DELAY_U_S = 60e-6
"""Of a delay held by one stream, of one taken off by minimum phase, and of a converter's."""


@dataclass(frozen=True, slots=True)
class PedalRun:
    """One usable pedal run.

    Parameters
    ----------
    label : RunLabel
        As set and seen.
    ratio : Ratio
        Over its references.
    place : int
        Where it stands in the order of all runs: what gain drift is reckoned by.
    reference_places : tuple of int
        The same of its references; empty: not known, taken as one before and one after.
    """

    label: RunLabel
    ratio: Ratio
    place: int = 0
    reference_places: tuple[int, ...] = ()

    @property
    def group(self) -> tuple[Feed, Load]:
        """Feed and load: runs of one group share their references."""
        return self.label.feed, self.label.load

    @property
    def places(self) -> tuple[int, ...]:
        """Places of the references, known or assumed."""
        if self.reference_places:
            return self.reference_places
        n = max(1, len(self.ratio.reference_ids))
        return (
            (self.place - 1,)
            if n == 1
            else (self.place - 1,) * (n - n // 2) + (self.place + 1,) * (n // 2)
        )


@dataclass(frozen=True, slots=True)
class HookUp:
    """All runs of one group as one: their nuisances are small, so their mean holds everything.

    Parameters
    ----------
    label : RunLabel
        Of the first.
    f_hz : ndarray of float64, shape (k,)
        Grid of the runs.
    t : ndarray of complex128, shape (k,)
        Geometric mean of the ratios.
    var : ndarray of float64, shape (k,)
        Variance of `t` from noise.
    places, reference_places : tuple of int
        Of all runs, and of the references they have in common.
    matings : int
        How many pluggings are among them.
    delay_u_s : float
        Standard deviation of what delay is left in `t`.
    u_gain_db : float
        Largest that any of them states.
    """

    label: RunLabel
    f_hz: F64
    t: C128
    var: F64
    places: tuple[int, ...]
    reference_places: tuple[int, ...]
    matings: int
    delay_u_s: float
    u_gain_db: float


def join_alike(runs: Sequence[PedalRun]) -> tuple[HookUp, ...]:
    """Join runs of one feed, load and direction.

    Parameters
    ----------
    runs : sequence of PedalRun
        All of one path: with power, and without where that is the same.

    Returns
    -------
    tuple of HookUp
        One per group, in the order of their first runs.
    """
    groups: dict[tuple[Feed, Load, Direction], list[PedalRun]] = {}
    for run in runs:
        groups.setdefault((*run.group, run.label.direction), []).append(run)
    return tuple(_joined(mine) for mine in groups.values())


def _joined(runs: Sequence[PedalRun]) -> HookUp:
    first = runs[0].ratio
    f_hz = first.f_hz
    logs, held = [], all(r.ratio.delay_held for r in runs)
    base = aligned(first)
    # Minimum phase does not tell the delay of a steep band edge: what is left goes first.
    left_s = 0.0 if held else phase_delay_s(f_hz, base, np.abs(base) ** 2 / first.var)
    late = abs(first.delay_s if held else left_s) >= LATE_S
    if late:
        base = base * np.exp(2j * math.pi * f_hz * left_s)
    for run in runs:
        t = aligned(run.ratio)
        if not held or late:
            shift = phase_delay_s(f_hz, t / base, np.abs(t) ** 2 / run.ratio.var)
            t = t * np.exp(2j * math.pi * f_hz * shift)
        logs.append(np.log(t / base))
    t = base * np.exp(np.mean(logs, axis=0))
    var = sum((r.ratio.var for r in runs), np.zeros(len(f_hz))) / len(runs) ** 2
    return HookUp(
        label=runs[0].label,
        f_hz=f_hz,
        t=np.asarray(t),
        var=np.asarray(var),
        places=tuple(r.place for r in runs),
        reference_places=runs[0].places,
        matings=len({r.label.mating for r in runs}),
        delay_u_s=LATE_DELAY_U_S
        if late
        else HELD_DELAY_U_S / math.sqrt(len(runs))
        if held
        else FREE_DELAY_U_S,
        u_gain_db=max(r.ratio.u_gain_db for r in runs),
    )


@dataclass(frozen=True, slots=True)
class FitData:
    """Runs of one pedal, ready for any hypothesis.

    Parameters
    ----------
    runs : tuple of HookUp
        n hook-ups.
    setups : dict
        Setup by load.
    f_hz : ndarray of float64, shape (k,)
        Grid of the model: that of the runs inside the band that fits use.
    starts : ndarray of int, shape (q,)
        Where each band of the compact grid begins in it.
    share : ndarray of float64, shape (n, k)
        Weight of each frequency in its band, adding up to 1.
    t : ndarray of complex128, shape (n, q)
        Measured ratios, averaged over the bands.
    w : ndarray of float64, shape (n, q)
        One over the standard deviation of each of the two parts of `t`, discrepancy included.
    y_load, zs_plain, zs_resistor : ndarray of complex128, shape (n, k)
        Of each run's setup.
    """

    runs: tuple[HookUp, ...]
    setups: Mapping[Load, SetupFound]
    f_hz: F64
    starts: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
    share: F64
    t: C128
    w: F64
    y_load: C128
    zs_plain: C128
    zs_resistor: C128

    def averaged(self, curves: C128) -> C128:
        """Average curves, shape (..., n, k), over the bands as the data were: (..., n, q)."""
        return np.asarray(np.add.reduceat(curves * self.share, self.starts, axis=-1))


def prepare(
    runs: Sequence[PedalRun],
    setups: Mapping[Load, SetupFound],
    priors: Priors,
    highest_hz: float = math.inf,
) -> FitData:
    """Average runs over bands, a sixth of an octave each, weighted by variance.

    The model is averaged in the same way, so that no curvature is lost.

    Parameters
    ----------
    runs : sequence of PedalRun
        One or more, on one grid, of loads that `setups` knows.
    setups : mapping
        Setup by load.
    priors : Priors
        For the discrepancy.
    highest_hz : float
        Where to end, such as below a converter's band edge.

    Returns
    -------
    FitData
        See there.
    """
    joined = join_alike(runs)
    grid = joined[0].f_hz
    use = fit_band(grid) & (grid <= highest_hz)
    f_hz = grid[use]
    band = np.floor(np.log2(f_hz / f_hz[0]) * BANDS_PER_OCTAVE + 1e-9)
    starts = np.flatnonzero(np.diff(band, prepend=-1.0))
    size = np.add.reduceat(np.ones_like(f_hz), starts)
    t = np.stack([run.t[use] for run in joined])
    var = np.stack([run.var[use] for run in joined])
    weight = 1 / np.maximum(var, 1e-30)
    share = weight / np.repeat(np.add.reduceat(weight, starts, axis=1), size.astype(int), axis=1)
    noise = np.add.reduceat(share**2 * var, starts, axis=1)
    compact = np.add.reduceat(t * share, starts, axis=1)
    centre = np.add.reduceat(f_hz, starts) / size
    spread = noise + np.abs(compact) ** 2 * discrepancy_var(centre, priors)

    def curve(run: HookUp, values: C128) -> C128:
        own = setups[run.label.load].f_hz
        return np.interp(f_hz, own, values.real) + 1j * np.interp(f_hz, own, values.imag)

    found = [setups[run.label.load] for run in joined]
    return FitData(
        runs=joined, setups=setups, f_hz=f_hz, starts=starts, share=share, t=compact,
        w=np.sqrt(2 / spread),
        y_load=np.stack([curve(r, s.y_load) for r, s in zip(joined, found, strict=True)]),
        zs_plain=np.stack([curve(r, s.zs_plain) for r, s in zip(joined, found, strict=True)]),
        zs_resistor=np.stack([curve(r, s.zs_resistor) for r, s in zip(joined, found, strict=True)]),
    )  # fmt: skip
