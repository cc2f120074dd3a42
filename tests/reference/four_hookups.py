"""Runs for a chain matrix, solved as whole circuits: two feeds, two loads, one of them reversed.

Every response is the nodal solution of leads, resistor, load and pedal, with drift of gain, treble
and delay, scatter of plugs, and errors of resistor and load plug; so it shares no formula with what
is tested.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from loopback.circuit.netlist import Element
from loopback.circuit.nodal import transfer
from loopback.identify.chain_found import ChainMatrix, Witness
from loopback.identify.data import PedalRun
from loopback.identify.loads import find_setups
from loopback.identify.matrix_runs import find_matrix
from loopback.identify.reversed import reversed_witness
from loopback.plan.runs import RunLabel
from loopback.response.ratio import ratio_to_reference
from loopback.response.reading import RunResponse
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Chance, Leads, hook_up

RATE_HZ = 48_000.0
F_HZ = np.geomspace(15.0, 22_000.0, 300)
ORDER = (
    ("coupler", "resistor", "instrument", "forward"),
    ("pedal", "resistor", "instrument", "forward"),
    ("pedal", "resistor", "instrument", "reversed"),
    ("coupler", "resistor", "instrument", "forward"),
    ("coupler", "resistor", "plug", "forward"),
    ("pedal", "resistor", "plug", "forward"),
    ("coupler", "resistor", "plug", "forward"),
    ("coupler", "plain", "plug", "forward"),
    ("pedal", "plain", "plug", "forward"),
    ("coupler", "plain", "plug", "forward"),
    ("coupler", "plain", "instrument", "forward"),
    ("pedal", "plain", "instrument", "forward"),
    ("coupler", "plain", "instrument", "forward"),
)


@dataclass(frozen=True)
class Evening:
    """How imperfect the runs are; each a standard deviation unless it says otherwise."""

    gain_db: float = 0.002
    shape_db: float = 0.001
    delay_s: float = 0.3e-9
    mating_f: float = 0.18e-12
    noise: float = 1e-6
    tolerance: float = 0.01
    plug_error: float = 0.02
    output_ohm: float = 150.0


QUIET = Evening(0.0, 0.0, 0.0, 0.0, 1e-12, 0.0, 0.0)


@dataclass(frozen=True)
class Found:
    """What the runs give."""

    matrix: ChainMatrix | None
    turned: Witness | None


def examined(pedal: tuple[Element, ...], evening: Evening, seed: int) -> Found:
    """Make all runs with one pedal and find its chain matrix."""
    rng = np.random.default_rng(seed)
    off = rng.uniform(-1, 1) * evening.tolerance
    leads = Leads(
        coupler_f=2e-12 + rng.normal() * (0.3e-12 if evening.mating_f else 0.0),
        resistor_error=off,
        plug_error=evening.plug_error,
        return_f=rng.uniform(150e-12, 450e-12),
    )
    interface = InterfaceModel.ideal(output_ohm=evening.output_ohm, input_f=100e-12)
    references: list[tuple[RunLabel, RunResponse]] = []
    pedals: list[tuple[RunLabel, RunResponse]] = []
    for number, (path, feed, load, direction) in enumerate(ORDER):
        label = RunLabel(
            path, feed, load=load, direction=direction, mating=number,
            power="on" if path == "pedal" else None, position="a" if path == "pedal" else None,
            resistor_ohm=100e3 if feed == "resistor" else None,
            resistor_tolerance=max(evening.tolerance, 1e-6) if feed == "resistor" else None,
            load_ohm=1e3 if load == "plug" else None,
        )  # fmt: skip
        ends = rng.normal(size=2) * evening.mating_f
        circuit = hook_up(label, pedal, interface, leads, Chance(0.0, 0.0, ends[0], ends[1]))
        h = transfer(circuit.elements, F_HZ, circuit.source, circuit.out)
        neper = (
            rng.normal() * evening.gain_db + rng.normal() * evening.shape_db * (F_HZ / 20e3) ** 2
        ) / 8.686
        late_s = int(rng.integers(-5, 6)) / RATE_HZ + rng.normal() * evening.delay_s + 7.3e-6
        h = h * np.exp(neper - 2j * np.pi * F_HZ * late_s)
        noise = evening.noise / np.sqrt(2) * (rng.normal(size=(2, len(F_HZ))))
        var = np.full(len(F_HZ), evening.noise**2)
        run = RunResponse(f"{number:02d}", F_HZ, h + noise[0] + 1j * noise[1], var, late_s, 0.0, 2)
        (references if path == "coupler" else pedals).append((label, run))
    setups, priors = find_setups(references)
    compared = []
    for label, run in pedals:
        like = [r for lab, r in references if (lab.feed, lab.load) == (label.feed, label.load)]
        compared.append(PedalRun(label, ratio_to_reference(run, like)))
    return Found(
        find_matrix(compared, references, setups, RATE_HZ, priors=priors),
        reversed_witness(compared, references, setups.get("instrument"), RATE_HZ, priors=priors),
    )
