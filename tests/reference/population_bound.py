"""Noise alone: the scatter of the fitted capacitance against the Cramér-Rao bound.

The bound is computed here from the model written out once more, with differences of the voltage
ratio itself; nothing of the fit is used for it. Unknowns: C, G, R in line, and
the delay of each run.
"""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np

from loopback.circuit.hypotheses import HYPOTHESES
from loopback.identify.data import PedalRun, prepare
from loopback.identify.joint import fit_hypothesis
from loopback.identify.learned import SetupLearned
from loopback.identify.nuisance import plan_nuisances
from loopback.identify.priors import DEFAULT_PRIORS
from loopback.identify.setup import SetupFound
from loopback.identify.starts import first_sight, starts_of
from loopback.plan.runs import Feed, RunLabel
from loopback.quantity import Estimate
from loopback.response.reading import Ratio

F_HZ = np.geomspace(20.0, 39e3, 240)
JW = 2j * np.pi * F_HZ
NOISE = 1e-5
R_FEED, R_SOURCE, Y_LOAD = 1e5, 150.0, 1e-6 + JW * 400e-12
TRUE = {"c": 10e-12, "g": 1e-7, "r": 0.5}
DELAY_U_S = 1e-6


def ratio(feed: Feed, c: float, g: float, r: float, delay_s: float) -> np.ndarray:
    """Pedal over reference, from Kirchhoff: load voltage with and without the pedal."""
    zs = R_SOURCE + (R_FEED if feed == "resistor" else 0.0)
    half = (g + JW * c) / 2
    into = Y_LOAD + half  # what the series resistance feeds
    ahead = half + into / (1 + r * into)  # what the source feeds
    passed = 1 / (1 + zs * ahead) / (1 + r * into)
    return np.asarray(passed * (1 + zs * Y_LOAD) * np.exp(-JW * delay_s))


def bound() -> float:
    """Standard deviation of C that no unbiased estimate from both feeds can beat, farad."""
    step = {"c": 1e-15, "g": 1e-12, "r": 1e-3}
    information = np.zeros((5, 5))
    feeds: tuple[Feed, ...] = ("resistor", "plain")
    for i, feed in enumerate(feeds):
        columns = []
        for name, h in step.items():
            up, down = dict(TRUE), dict(TRUE)
            up[name] += h
            down[name] -= h
            slope = ratio(feed, **up, delay_s=0.0) - ratio(feed, **down, delay_s=0.0)
            columns.append(slope / (2 * h))
        late = -JW * ratio(feed, **TRUE, delay_s=0.0)
        columns += [late if j == i else 0 * JW for j in range(2)]
        a = np.stack(columns, axis=1)
        information += 2 / NOISE**2 * (a.conj().T @ a).real
    information += np.diag([0, 0, 0, DELAY_U_S**-2, DELAY_U_S**-2])  # the prior is information too
    scale = 1 / np.sqrt(np.diag(information))
    return float(np.sqrt(np.linalg.inv(information * np.outer(scale, scale))[0, 0]) * scale[0])


def scatter(seed: int, count: int) -> tuple[float, float, float]:
    """Scatter, mean stated uncertainty and bias of C over noise alone, farad."""
    rng = np.random.default_rng(seed)
    still = SetupLearned(1e-9, 1e-9, 1e-9, 1e-20)
    priors = replace(
        DEFAULT_PRIORS, discrepancy=1e-9, source_u_log=1e-9, coupler_farad=0.0,
        coupler_u_farad=1e-20, reference_gain_u_db=1e-9, reference_delay_u_s=1e-15,
    )  # fmt: skip
    zs = np.full(len(F_HZ), R_SOURCE + 0j)
    setup = SetupFound(
        "both", F_HZ, Y_LOAD, zs, zs + R_FEED, 1 / (1 / (zs + R_FEED) + Y_LOAD), 0.0,
        Estimate(400e-12, 1e-15, "farad"), Estimate(1e6, 1.0, "ohm"),
        Estimate(R_FEED, 1e-6, "ohm"), "pedal", Estimate(R_SOURCE, 1e-6, "ohm"), 0.0,
    )  # fmt: skip
    found = []
    label = RunLabel("pedal", "plain", power="on", position="a")
    shunt = HYPOTHESES["shunt"]
    feeds: tuple[Feed, ...] = ("resistor", "plain")
    for _ in range(count):
        runs = []
        for place, feed in enumerate(feeds):
            noise = rng.normal(0.0, NOISE / np.sqrt(2), (2, len(F_HZ)))
            delay_s = float(rng.normal(0.0, DELAY_U_S))
            t = ratio(feed, **TRUE, delay_s=delay_s) + noise[0] + 1j * noise[1]
            var = np.full(len(F_HZ), NOISE**2)
            floor = np.full(len(F_HZ), -200.0)
            one = Ratio("01", ("00",), F_HZ, t, var, 1e-9, 0.0, False, floor)
            runs.append(PedalRun(msgspec.structs.replace(label, feed=feed), one, place, (place,)))
        data = prepare(runs, {"instrument": setup}, priors)
        plan = plan_nuisances(data, still, priors)
        plan = replace(plan, delay_s=np.full(2, DELAY_U_S))
        fit = fit_hypothesis(shunt, data, plan, starts_of(shunt, first_sight(data, priors)), priors)
        found.append((fit.value("c_farad"), fit.u("c_farad")))
    values, u = np.array(found).T
    return float(values.std(ddof=1)), float(u.mean()), float(values.mean() - TRUE["c"])
