"""Pairs of pedals examined without audio: on one setup, and on two setups of the same make."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from loopback.identify.data import PedalRun
from loopback.identify.identify import identify
from loopback.identify.learned import BELIEVED, PRIOR_U_LOG
from loopback.identify.priors import DEFAULT_PRIORS
from loopback.identify.readings import Readings
from loopback.simulate.pedal import load_pedal
from tests.reference.bench_runs import Bench, examine

TOLERANCE = 0.01


@dataclass(frozen=True)
class Drawn:
    """One pedal on a first setup; another on the same one, and on a second."""

    first: Readings
    same_setup: Readings
    other_setup: Readings


def bypass_values(name: str) -> tuple[float, float]:
    """Capacitance and conductance across the line, farad and siemens, from the pedal's own list."""
    pedal = load_pedal(name)
    elements = pedal.states[pedal.bypass].elements
    c = math.fsum(e.value for e in elements if e.kind == "C")
    return c, math.fsum(1 / e.value for e in elements if e.kind == "R" and "0" in e.nodes)


def drawn(first: str, second: str, seed: int) -> Drawn:
    """Draw setups and sittings from what is believed of them, and identify all three."""
    rng = np.random.default_rng([seed, 77])
    one, two = _setup(rng), _setup(rng)
    return Drawn(
        *(
            _identified(name, Bench(seed=3 * seed + i + 1, **setup, **_sitting(rng)))
            for i, (name, setup) in enumerate(((first, one), (second, one), (second, two)))
        )
    )


def _setup(rng: np.random.Generator) -> dict[str, Any]:
    """What stays as it is from sitting to sitting: the resistor and the coupler."""
    return {
        "resistor_true_ohm": 100e3 * (1 + rng.uniform(-TOLERANCE, TOLERANCE)),
        "coupler_f": rng.normal(DEFAULT_PRIORS.coupler_farad, DEFAULT_PRIORS.coupler_u_farad),
        "tolerance": TOLERANCE,
    }


def _sitting(rng: np.random.Generator) -> dict[str, Any]:
    """How steady it is on that day."""
    size = np.exp(rng.normal(0.0, PRIOR_U_LOG, 3))
    return {
        "gain_u_db": BELIEVED.gain_u_db * size[0],
        "shape_u_db": BELIEVED.shape_u_db * size[1],
        "mating_f": BELIEVED.mating_u_farad * size[2],
    }


def _identified(name: str, bench: Bench) -> Readings:
    pedal = load_pedal(name)
    evidence, setup = examine(pedal, bench)
    assert setup is not None
    position = next(
        p for (power, p), state in pedal.table.items() if power == "on" and state == pedal.bypass
    )
    runs = [
        PedalRun(e.label, e.ratio, i + 2)
        for i, e in enumerate(evidence)
        if e.ratio is not None and e.label.position == position
    ]
    found = identify(runs, {"instrument": setup})
    assert found is not None
    assert found.readings is not None
    return found.readings
