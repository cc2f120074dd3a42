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
from loopback.plan.runs import Feed, Load, RunLabel
from loopback.response.reading import Ratio

BANDS_PER_OCTAVE = 6


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
class FitData:
    """Runs of one pedal, ready for any hypothesis.

    Parameters
    ----------
    runs : tuple of PedalRun
        n runs.
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
    late : tuple of bool
        Runs that a converter's delay was taken off.
    """

    runs: tuple[PedalRun, ...]
    setups: Mapping[Load, SetupFound]
    f_hz: F64
    starts: np.ndarray[tuple[int, ...], np.dtype[np.intp]]
    share: F64
    t: C128
    w: F64
    y_load: C128
    zs_plain: C128
    zs_resistor: C128
    late: tuple[bool, ...]

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

    The model is averaged in the same way, so that no curvature is lost. The discrepancy counts as
    often as a hook-up was repeated: a detail outside the model is the same in each repeat.

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
    grid = runs[0].ratio.f_hz
    use = fit_band(grid) & (grid <= highest_hz)
    f_hz = grid[use]
    band = np.floor(np.log2(f_hz / f_hz[0]) * BANDS_PER_OCTAVE + 1e-9)
    starts = np.flatnonzero(np.diff(band, prepend=-1.0))
    size = np.add.reduceat(np.ones_like(f_hz), starts)
    t = np.stack([aligned(run.ratio)[use] for run in runs])
    var = np.stack([run.ratio.var[use] for run in runs])
    weight = 1 / np.maximum(var, 1e-30)
    share = weight / np.repeat(np.add.reduceat(weight, starts, axis=1), size.astype(int), axis=1)
    noise = np.add.reduceat(share**2 * var, starts, axis=1)
    compact = np.add.reduceat(t * share, starts, axis=1)
    alike = [
        sum(r.group == other.group and r.label.direction == other.label.direction for other in runs)
        for r in runs
    ]
    centre = np.add.reduceat(f_hz, starts) / size
    detail = discrepancy_var(centre, priors) * np.array(alike)[:, None]
    spread = noise + np.abs(compact) ** 2 * detail

    def curve(run: PedalRun, values: C128) -> C128:
        own = setups[run.label.load].f_hz
        return np.interp(f_hz, own, values.real) + 1j * np.interp(f_hz, own, values.imag)

    found = [setups[run.label.load] for run in runs]
    return FitData(
        runs=tuple(runs), setups=setups, f_hz=f_hz, starts=starts, share=share, t=compact,
        w=np.sqrt(2 / spread),
        y_load=np.stack([curve(r, s.y_load) for r, s in zip(runs, found, strict=True)]),
        zs_plain=np.stack([curve(r, s.zs_plain) for r, s in zip(runs, found, strict=True)]),
        zs_resistor=np.stack([curve(r, s.zs_resistor) for r, s in zip(runs, found, strict=True)]),
        late=tuple(r.ratio.delay_held and abs(r.ratio.delay_s) >= LATE_S for r in runs),
    )  # fmt: skip
