"""The chain matrix of an examination: which runs give it, and what its doubt is made of."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.chain_found import ChainMatrix, Witness
from loopback.identify.data import PedalRun
from loopback.identify.learned import BELIEVED, SetupLearned
from loopback.identify.matrix import CELLS, Hookups, chain_of, equations_inverted, feed_number
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import SetupFound
from loopback.identify.shunt import FREE_DELAY_U_S, LATE_S, aligned
from loopback.identify.weights import DB, discrepancy_var
from loopback.identify.whole_samples import LEAST_U_S, Clock, feeds_ratio, find_clock, held_by_clock
from loopback.plan.runs import Load, RunLabel
from loopback.response.reading import Ratio, RunResponse

U_STRAY_FARAD = 0.15e-12
"""Of the capacitance across the series resistor (judgement)."""
_DEAD = 0.01
_UNDEFINED = 0.25


def find_matrix(
    runs: Sequence[PedalRun],
    references: Sequence[tuple[RunLabel, RunResponse]],
    setups: Mapping[Load, SetupFound],
    rate_hz: float,
    *,
    learned: SetupLearned = BELIEVED,
    priors: Priors = DEFAULT_PRIORS,
) -> ChainMatrix | None:
    """Find the chain matrix of the state that was measured with both feeds and two loads.

    Parameters
    ----------
    runs : sequence of PedalRun
        Usable pedal runs of an examination, of any state.
    references : sequence of (RunLabel, RunResponse)
        Usable runs through the coupler.
    setups : mapping
        Setup by load, each from references with both feeds.
    rate_hz : float
        Sample rate. Its clock holds the delays where the references show that it does; otherwise
        minimum phase leaves a microsecond or two open behind a buffer.
    learned : SetupLearned
        How steady the setup is.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    ChainMatrix or None
        None without such runs, and where the resistor sat at the interface: the feeding lead is
        then in the references and, behind a buffer, not in the pedal's runs.
    """
    for second in ("plug", "line"):
        chosen = _four_cells(runs, second)
        pair = [setups.get("instrument"), setups.get(second)]
        if chosen is not None and all(s is not None and s.basis == "both" for s in pair):
            found = [s for s in pair if s is not None]
            if all(s.resistor_end == "pedal" for s in found):
                return _matrix(chosen, references, found, second, rate_hz, learned, priors)
    return None


def _four_cells(runs: Sequence[PedalRun], second: Load) -> list[list[PedalRun]] | None:
    forward = [r for r in runs if r.label.direction == "forward" and not r.label.level_db]
    for state in dict.fromkeys((r.label.power, r.label.position) for r in forward):
        mine = [r for r in forward if (r.label.power, r.label.position) == state]
        cells = [
            [r for r in mine if r.group == (feed, ("instrument", second)[n])] for feed, n in CELLS
        ]
        if all(cells):
            return cells
    return None


def _matrix(
    cells: list[list[PedalRun]],
    references: Sequence[tuple[RunLabel, RunResponse]],
    setups: list[SetupFound],
    second: Load,
    rate_hz: float,
    learned: SetupLearned,
    priors: Priors,
) -> ChainMatrix:
    f_hz = cells[0][0].ratio.f_hz
    use = (f_hz >= 20.0) & (f_hz <= 0.97 * f_hz[-1])
    f_hz = f_hz[use]
    clock = find_clock(references, rate_hz)
    timed = [[timed_ratio(r.ratio, clock) for r in cell] for cell in cells]
    t = np.stack([np.mean([t[use] for t, _ in cell], axis=0) for cell in timed])
    u_delay = [max(u for _, u in cell) for cell in timed]
    var = np.stack([np.mean([r.ratio.var[use] for r in c], axis=0) / len(c) for c in cells])
    resistor = setups[0].resistor
    assert resistor is not None, "references with both feeds have a resistor"
    loads: tuple[Load, Load] = ("instrument", second)
    q = np.stack(
        [_feeds(s, load, references, clock)[use] for s, load in zip(setups, loads, strict=True)]
    )
    nominal = Hookups(
        f_hz, t, q, setups[0].source_ohm.value, resistor.value,
        priors.resistor_parallel_farad, priors.coupler_farad,
    )  # fmt: skip
    m = chain_of(nominal)
    spreads = np.stack(
        [
            chain_of(moved) - m
            for moved in _moved(nominal, m, cells, u_delay, setups, learned, priors)
        ]
    )
    z, yc = nominal.feeds, nominal.loads
    h = np.stack([(1 + z[feed_number(c)] * yc[c[1]]) / t[i] for i, c in enumerate(CELLS)])
    detail = discrepancy_var(f_hz, priors)
    h_var = np.abs(h) ** 2 * (var / np.abs(t) ** 2 + detail)
    inverse = equations_inverted(z, yc - 2j * math.pi * f_hz * priors.coupler_farad)
    noise = np.einsum("kij,jk,klj->kil", inverse, h_var, inverse.conj())
    label = cells[0][0].label
    ids = tuple(r.ratio.run_id for cell in cells for r in cell)
    load_g = setups[1].load_r
    found = ChainMatrix(
        f_hz, m, spreads, noise, second, load_g, label.power, label.position, ids, None
    )
    middle = (f_hz >= 200) & (f_hz <= 2000)
    passes = float(np.median(np.abs(t[0][middle]))) > _DEAD
    value = found.mean_determinant()
    if not passes or value.u > _UNDEFINED:
        return found
    return replace(found, witness=Witness(value, "second_load", ids))


def _moved(
    nominal: Hookups,
    m: C128,
    cells: list[list[PedalRun]],
    u_delay: list[float],
    setups: list[SetupFound],
    learned: SetupLearned,
    priors: Priors,
) -> list[Hookups]:
    """Every cause, one after the other, moved by its standard uncertainty."""
    f_hz, t = nominal.f_hz, nominal.t
    s = 2j * math.pi * f_hz
    source, resistor = setups[0].source_ohm, setups[0].resistor
    u_resistor = resistor.u if resistor is not None else 0.0
    out = [
        replace(nominal, source_ohm=nominal.source_ohm + source.u),
        replace(nominal, resistor_ohm=nominal.resistor_ohm + u_resistor),
        replace(nominal, stray_farad=nominal.stray_farad + U_STRAY_FARAD),
        replace(nominal, coupler_farad=nominal.coupler_farad + priors.coupler_u_farad),
    ]
    for load in range(2):
        q = nominal.q.copy()
        q[load] *= math.exp(priors.reference_gain_u_db / DB)
        out.append(replace(nominal, q=q))
        q = nominal.q.copy()
        q[load] *= np.exp(-s * max(u_delay))
        out.append(replace(nominal, q=q))
    z, y = nominal.feeds, nominal.loads
    shape = (f_hz / 20e3) ** 2

    def turned(cell: int, factor: C128 | F64 | float) -> None:
        changed = t.copy()
        changed[cell] = changed[cell] * factor
        out.append(replace(nominal, t=changed))

    for i, (cell, runs) in enumerate(zip(CELLS, cells, strict=True)):
        turned(i, math.exp(cell_gain_u_db(runs, learned) / DB))
        turned(i, np.exp(-s * u_delay[i]))
        turned(i, np.exp(shape * max(r.ratio.u_shape_db for r in runs) / DB))
        # Plugged anew, either end of the pedal has another capacitance, and the coupler has.
        zs, yl = z[feed_number(cell)], y[cell[1]]
        a, b, c, d = (m[:, j, k] for j, k in ((0, 0), (0, 1), (1, 0), (1, 1)))
        h = a + b * yl + zs * (c + d * yl)
        end = s * learned.mating_u_farad / math.sqrt(len(runs))
        turned(i, 1 / (1 + end * zs * (a + b * yl) / h))
        turned(i, 1 / (1 + end * (b + d * zs) / h))
        references = max(1, len(runs[0].ratio.reference_ids))
        both_ends = s * learned.mating_u_farad * math.sqrt(2 / references)
        turned(i, 1 + both_ends * zs / (1 + zs * yl))
    return out


def timed_ratio(ratio: Ratio, clock: Clock | None) -> tuple[C128, float]:
    """Give a ratio the delay that is known best, and say how well.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.
    clock : Clock or None
        What holds the delays.

    Returns
    -------
    t : ndarray of complex128, shape (k,)
        A converter's delay is taken off.
    u_s : float
        Standard uncertainty of its delay, seconds.
    """
    if ratio.delay_held and abs(ratio.delay_s) < LATE_S:
        return ratio.t, LEAST_U_S
    held = None if clock is None or ratio.delay_held else held_by_clock(ratio, clock.rate_hz)
    if clock is None or held is None:
        return aligned(ratio), FREE_DELAY_U_S
    return held, math.sqrt(2) * clock.u_s


def cell_gain_u_db(runs: Sequence[PedalRun], learned: SetupLearned) -> float:
    """Doubt of gain of the mean of several runs over their common references.

    Parameters
    ----------
    runs : sequence of PedalRun
        Of one feed and load.
    learned : SetupLearned
        Drift from run to run.

    Returns
    -------
    float
        Standard uncertainty, dB.
    """
    drift = math.hypot(learned.gain_u_db, learned.walk_u_db)
    references = max(1, len(runs[0].ratio.reference_ids))
    believed = drift * math.sqrt(1 / len(runs) + 1 / references)
    stated = max(r.ratio.u_gain_db for r in runs) / math.sqrt(len(runs))
    return max(believed, stated)


def _feeds(
    setup: SetupFound,
    load: Load,
    references: Sequence[tuple[RunLabel, RunResponse]],
    clock: Clock | None,
) -> C128:
    """Resistor reference over plain reference, delay taken off by the clock or by the fit."""
    q = (1 + setup.zs_plain * setup.y_load) / (1 + setup.zs_resistor * setup.y_load)
    held = None if clock is None else feeds_ratio(references, load, q, clock)
    return q if held is None else held
