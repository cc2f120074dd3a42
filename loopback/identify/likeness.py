"""Whether two runs show the same path, whatever it is: no model of it is needed."""

from __future__ import annotations

import math

import numpy as np

from loopback.identify.data import FREE_DELAY_U_S, HELD_DELAY_U_S, PedalRun
from loopback.identify.learned import SetupLearned
from loopback.identify.priors import DEFAULT_PRIORS
from loopback.identify.setup import DB, discrepancy_var, fit_band
from loopback.identify.shunt import aligned

ENOUGH = 3.5
"""Root of the reduced sum of squares up to which two runs are the same."""
MOVED = 5.5
"""Most that one of gain, treble, delay or plug may have moved, in standard deviations: of four,
with tails heavier than normal and a scatter that a few references tell to a factor of 1.5, one in
some hundred goes beyond 4 (computed)."""


def same_path(one: PedalRun, two: PedalRun, learned: SetupLearned) -> bool:
    """Tell whether two runs of one feed and load differ by no more than drift and plugs.

    Parameters
    ----------
    one, two : PedalRun
        On one grid.
    learned : SetupLearned
        Sizes of drift and scatter.

    Returns
    -------
    bool
        From the logarithm of their quotient, in which gain, treble shape, delay and a little
        capacitance are linear. When not to use: where one of them lets nothing through.
    """
    use = fit_band(one.ratio.f_hz)
    f_hz = one.ratio.f_hz[use]
    t1, t2 = aligned(one.ratio)[use], aligned(two.ratio)[use]
    apart = np.log(t1 / t2)
    apart = apart.real + 1j * np.unwrap(apart.imag)
    var = (
        one.ratio.var[use] / np.abs(t1) ** 2
        + two.ratio.var[use] / np.abs(t2) ** 2
        + discrepancy_var(f_hz, DEFAULT_PRIORS)
    )
    s = 2j * math.pi * f_hz
    held = one.ratio.delay_held and two.ratio.delay_held
    steps = abs(one.place - two.place)
    gain = math.hypot(math.sqrt(2) * learned.gain_u_db, math.sqrt(steps) * learned.walk_u_db) / DB
    columns = [
        gain * np.ones_like(s),
        math.sqrt(2) * learned.shape_u_db / DB * (f_hz / 20e3) ** 2,
        math.sqrt(2) * (HELD_DELAY_U_S if held else FREE_DELAY_U_S) * s,
    ]
    if one.label.feed == "resistor":
        # A capacitance beside a 400 pF node behind 100 kΩ, as seen from either.
        plugs = 2 * learned.mating_u_farad if one.label.mating != two.label.mating else 0.1e-12
        columns.append(plugs * s * 91e3 / (1 + s * 91e3 * 400e-12))
    w = np.sqrt(2 / var)
    a = np.stack([np.concatenate([(c * w).real, (c * w).imag]) for c in columns], axis=1)
    y = np.concatenate([(apart * w).real, (apart * w).imag])
    moved = np.linalg.solve(a.T @ a + np.eye(a.shape[1]), a.T @ y)
    left = y - a @ moved
    excess = math.sqrt(float(left @ left) / len(y))
    return excess < ENOUGH and float(np.max(np.abs(moved))) < MOVED
