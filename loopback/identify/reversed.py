"""The passivity witness from a run with in and out exchanged, where there is no second load.

Reversed, a two-port has the matrix ``[[D, B], [C, A]] / Δ`` with ``Δ = AD - BC``, so that
``Δ h' = D + B Y + C Z + A Z Y``. With the two forward runs, plain and resistor, that leaves one
quantity open: B, the series part, to which the answer is all but blind.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128
from loopback.identify.chain_found import MIDDLE_HZ, Witness
from loopback.identify.data import PedalRun
from loopback.identify.learned import BELIEVED, SetupLearned
from loopback.identify.matrix_runs import cell_gain_u_db, timed_ratio
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import SetupFound
from loopback.identify.weights import DB
from loopback.identify.whole_samples import find_clock
from loopback.plan.runs import RunLabel
from loopback.quantity import Estimate
from loopback.response.reading import RunResponse

U_SERIES_OHM = 1000.0
"""What may be in series without being known (judgement): a transformer's windings. It moves the
answer by less than a hundredth."""
_DEAD = 0.01
_UNDEFINED = 0.25


def reversed_determinant(
    h_plain: C128,
    h_resistor: C128,
    h_reversed: C128,
    z_plain: C128,
    z_resistor: C128,
    y: C128,
    b_ohm: float = 0.0,
) -> C128:
    """``AD - BC`` from two forward runs and one reversed with the resistor lead.

    Parameters
    ----------
    h_plain, h_resistor, h_reversed : ndarray of complex128, shape (k,)
        EMF over load voltage.
    z_plain, z_resistor : ndarray of complex128, shape (k,)
        Source impedances, ohm.
    y : ndarray of complex128, shape (k,)
        Load admittance, siemens.
    b_ohm : float
        B, which these runs do not show.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Dimensionless.
    """
    loaded = (h_resistor - h_plain) / (z_resistor - z_plain)  # C + D Y
    a = h_plain - b_ohm * y - loaded * z_plain
    d = (loaded * z_resistor + a * z_resistor * y + b_ohm * (y + loaded * h_reversed)) / (
        a * h_reversed + b_ohm * y * h_reversed - 1 + y * z_resistor
    )
    return np.asarray(a * d - b_ohm * (loaded - d * y))


def reversed_witness(
    runs: Sequence[PedalRun],
    references: Sequence[tuple[RunLabel, RunResponse]],
    setup: SetupFound | None,
    rate_hz: float,
    *,
    learned: SetupLearned = BELIEVED,
    priors: Priors = DEFAULT_PRIORS,
) -> Witness | None:
    """Find the witness from a reversed run.

    Parameters
    ----------
    runs : sequence of PedalRun
        Usable pedal runs.
    references : sequence of (RunLabel, RunResponse)
        Usable runs through the coupler.
    setup : SetupFound or None
        Of the instrument input, from references with both feeds.
    rate_hz : float
        Sample rate.
    learned : SetupLearned
        How steady the setup is.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    Witness or None
        None without the three runs in one state, and where it is undefined.
    """
    if setup is None or setup.basis != "both" or setup.resistor_end != "pedal":
        return None
    chosen = _three(runs)
    if chosen is None:
        return None
    clock = find_clock(references, rate_hz)
    f_hz = chosen[0][0].ratio.f_hz
    use = (f_hz >= MIDDLE_HZ[0]) & (f_hz <= MIDDLE_HZ[1])
    s = 2j * math.pi * f_hz[use]
    timed = [[timed_ratio(r.ratio, clock) for r in cell] for cell in chosen]
    t = [np.mean([one[use] for one, _ in cell], axis=0) for cell in timed]
    if float(np.median(np.abs(t[0]))) < _DEAD:
        return None
    zs = (setup.zs_plain[use], setup.zs_resistor[use], setup.zs_resistor[use])

    def value(
        factors: Sequence[C128 | complex] = (1.0, 1.0, 1.0),
        b_ohm: float = 0.0,
        coupler: float = priors.coupler_farad,
        scale: float = 1.0,
    ) -> float:
        yc = setup.y_load[use] * scale
        h = [(1 + z * yc) / (x * f) for z, x, f in zip(zs, t, factors, strict=True)]
        y = yc - s * coupler
        det = reversed_determinant(h[0], h[1], h[2], zs[0], zs[1], y, b_ohm)
        return float(det.real.mean())

    found = value()
    moved = [
        value(b_ohm=U_SERIES_OHM),
        value(coupler=priors.coupler_farad + priors.coupler_u_farad),
        value(scale=1 + setup.u_scale),
    ]
    for i, (cell, pairs) in enumerate(zip(chosen, timed, strict=True)):
        u_mate = 2 * learned.mating_u_farad if i else 0.0
        changes: tuple[C128 | complex, ...] = (
            math.exp(cell_gain_u_db(cell, learned) / DB),
            np.exp(-s * max(u for _, u in pairs)),
            np.asarray(1 / (1 + setup.z_node[use] * s * u_mate)),
        )
        for factor in changes:
            factors: list[C128 | complex] = [1.0, 1.0, 1.0]
            factors[i] = factor
            moved.append(value(factors))
    noise = sum(float(np.mean(r.ratio.var[use])) for cell in chosen for r in cell)
    u = math.sqrt(sum((m - found) ** 2 for m in moved) + noise)
    if u > _UNDEFINED:
        return None
    ids = tuple(r.ratio.run_id for cell in chosen for r in cell)
    return Witness(Estimate(found, u, ""), "reversed", ids)


def _three(runs: Sequence[PedalRun]) -> list[list[PedalRun]] | None:
    mine = [r for r in runs if r.label.load == "instrument" and not r.label.level_db]
    for state in dict.fromkeys((r.label.power, r.label.position) for r in mine):
        of_state = [r for r in mine if (r.label.power, r.label.position) == state]
        cells = [
            [r for r in of_state if (r.label.feed, r.label.direction) == kind]
            for kind in (("plain", "forward"), ("resistor", "forward"), ("resistor", "reversed"))
        ]
        if all(cells):
            return cells
    return None
