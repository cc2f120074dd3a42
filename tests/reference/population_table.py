"""Invented setups, and a whole examination of one pedal on one of them, without audio.

What a setup really does is not what a fit believes of it: each size is drawn from half to twice
the stated one, and each draw from Student's t with five degrees of freedom.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, exp, sqrt

import msgspec
import numpy as np

from loopback.arrays import C128
from loopback.circuit.netlist import Element
from loopback.circuit.nodal import chain_matrix
from loopback.circuit.twoport import cascade, shunt_admittance, voltage_ratio
from loopback.errors import NetlistError
from loopback.identify.learned import BELIEVED, CASUAL, SetupLearned
from loopback.identify.lossy_load import lossy
from loopback.plan.plans import FULL, NO_RESISTOR, QUICK, STANDARD, Plan, without_footswitch
from loopback.plan.runs import RunLabel
from loopback.quantity import Estimate
from loopback.response.ratio import ratio_to_reference
from loopback.response.reading import RunResponse
from loopback.verdict.evidence import Evidence
from tests.reference.population_pedals import Pedal, Rng

F_HZ = np.geomspace(10.0, 40e3, 216)
JW: C128 = np.asarray(2j * np.pi * F_HZ, dtype=np.complex128)
NOISE = 1e-6
TOP = (F_HZ / 20e3) ** 2


@dataclass(frozen=True)
class Kind:
    """A way to measure: plan, check cable, care, tolerance of the resistor."""

    name: str
    plan: Plan
    check_cable: bool
    believed: SetupLearned
    true_mating_f: float
    true_gain_db: float
    tolerance: float = 0.01


KINDS = {
    kind.name: kind
    for kind in (
        Kind("full", FULL, True, BELIEVED, 0.15e-12, 0.002),
        Kind("standard_check", STANDARD, True, BELIEVED, 0.15e-12, 0.002),
        Kind("standard", STANDARD, False, BELIEVED, 0.15e-12, 0.002),
        Kind("casual", QUICK, False, CASUAL, 0.4e-12, 0.004, 0.05),
        Kind("no_resistor", NO_RESISTOR, False, BELIEVED, 0.15e-12, 0.002),
    )
}


def _input_ohm(z: float) -> float:
    """Resistance of an instrument input: 1 megohm as a rule, 200 kilohm on some, up to 10 megohm.

    From a standard normal number; three in a hundred are low and one in ten is high (judgement:
    the values are common practice, their shares are not known).
    """
    share = 0.5 * (1 + erf(z / sqrt(2)))
    if share < 0.03:
        return 200e3 * 1.25 ** (share / 0.03)
    if share > 0.9:
        return float(1e6 * 10.0 ** ((share - 0.9) / 0.1))
    return 1e6 * exp(0.1 * z)


class Setup:
    """One setup as it really is; `perfect` switches every systematic effect off."""

    def __init__(self, kind: Kind, rng: Rng, perfect: bool = False) -> None:
        self.kind, self.rng, self.perfect = kind, rng, perfect
        self.source_ohm = 150.0 if perfect else float(np.clip(rng.lognormal(5.01, 0.45), 50, 350))
        kind_of_input = float(rng.standard_normal())
        self.load_ohm = 1e6 if perfect else _input_ohm(kind_of_input)
        lead = rng.uniform(150e-12, 450e-12)
        self.load_f = 398e-12 if perfect else float(lead + rng.uniform(50e-12, 250e-12))
        self.loss = (
            0.0 if perfect else float(rng.choice([0.0005, 0.01, 0.03]) * rng.uniform(0.5, 1.5))
        )
        self.coupler_f = 2e-12 if perfect else float(rng.normal(2e-12, 0.3e-12))
        self.lead_a_f = 300e-12 if perfect else float(rng.uniform(150e-12, 450e-12))
        t = kind.tolerance
        self.resistor_ohm = 100e3 if perfect else 100e3 * (1 + float(rng.uniform(-t, t)))
        self.at_interface = not perfect and rng.random() < 0.2
        self.plug_ohm = 1000.0 * (1 + float(rng.uniform(-0.01, 0.01)))
        off = 0.0 if perfect else 1.0
        self.mating_f = off * kind.true_mating_f * self._between()
        self.gain_db = off * kind.true_gain_db * self._between()
        self.walk_db = off * kind.believed.walk_u_db * self._between()
        self.shape_db = off * kind.believed.shape_u_db * self._between()

    def _between(self) -> float:
        return float(np.exp(self.rng.uniform(np.log(0.5), np.log(2.0))))

    def tail(self, size: float) -> float:
        """One draw of that standard deviation, with heavy tails."""
        return size * float(self.rng.standard_t(5)) / np.sqrt(5 / 3)

    def y_load(self, label: RunLabel) -> C128:
        """Return lead and input, without the coupler."""
        y = 1 / self.load_ohm + lossy(JW, self.load_f, self.loss)
        return np.asarray(y + 1 / self.plug_ohm) if label.load == "plug" else np.asarray(y)


@dataclass(frozen=True)
class Examined:
    """Everything that analysis would get: references, and evidence of the pedal runs."""

    references: tuple[tuple[RunLabel, RunResponse], ...]
    evidence: tuple[Evidence, ...]
    places: dict[str, int]
    bypass: str


def examine_pedal(pedal: Pedal, setup: Setup) -> Examined:
    """Make all runs of the plan in its order, with gain walking and plugs made anew."""
    plan = setup.kind.plan if pedal.position != "none" else without_footswitch(setup.kind.plan)
    made: list[tuple[RunLabel, RunResponse]] = []
    position, walk, scatter, key = "a", 0.0, (0.0, 0.0), None
    cache: dict[tuple[int, bool], C128] = {}
    for i, step in enumerate(plan.steps):
        label = step.label
        if step.switch == "press_once":
            position = "b"
        elif step.switch == "as_found":
            position = "a"
        elif step.switch == "to_bypass":
            position = pedal.position
        if label.path == "pedal":
            where = "none" if pedal.position == "none" else (label.position or position)
            label = msgspec.structs.replace(label, position=where)
        if label.feed == "resistor":
            label = msgspec.structs.replace(
                label, resistor_ohm=100e3, resistor_tolerance=setup.kind.tolerance,
                resistor_end="interface" if setup.at_interface else "pedal",
            )  # fmt: skip
        walk += setup.tail(setup.walk_db)
        plugged = (label.path, label.feed, label.load, label.mating, label.direction)
        if plugged != key:
            key, scatter = plugged, (setup.tail(setup.mating_f), setup.tail(setup.mating_f))
        made.append((label, _run(pedal, setup, label, i + 1, walk, scatter, cache)))
    references = [(lab, r) for lab, r in made if lab.path == "coupler"]
    return Examined(
        tuple(references),
        tuple(
            _evidence(pedal, setup, lab, r, references) for lab, r in made if lab.path == "pedal"
        ),
        {r.run_id: int(r.run_id) for _, r in made},
        pedal.position,
    )


def _elements(pedal: Pedal, label: RunLabel) -> tuple[Element, ...]:
    here = label.position == pedal.position
    if label.power == "off":
        return pedal.unpowered if here else pedal.dead
    return pedal.bypass if here else pedal.engaged


def _run(
    pedal: Pedal, setup: Setup, label: RunLabel, number: int, walk_db: float,
    scatter: tuple[float, float], cache: dict[tuple[int, bool], C128],
) -> RunResponse:  # fmt: skip
    rng = setup.rng
    if label.path == "coupler":
        matrix = shunt_admittance(JW * (setup.coupler_f + sum(scatter)))
    else:
        elements, back = _elements(pedal, label), label.direction == "reversed"
        if (id(elements), back) not in cache:
            ends = ("OUT", "IN") if back else ("IN", "OUT")
            cache[id(elements), back] = _chain(elements, ends)
        ends_y = [shunt_admittance(JW * c) for c in scatter]
        matrix = cascade(ends_y[0], cache[id(elements), back], ends_y[1])
    zs = np.full(len(F_HZ), setup.source_ohm + 0j)
    if label.feed == "resistor":
        zs = zs + 1 / (1 / setup.resistor_ohm + JW * 0.3e-12)
    emf = np.ones(len(F_HZ), dtype=np.complex128)
    if label.feed == "resistor" and setup.at_interface:
        emf = 1 / (1 + zs * JW * setup.lead_a_f)
        zs = zs * emf
    h = emf * voltage_ratio(matrix, zs, setup.y_load(label))
    if label.path == "pedal" and label.power != "off" and label.position == pedal.position:
        h = h * np.exp(-JW * pedal.delay_s)
        if pedal.edge_hz is not None:
            h = h / (1 + (F_HZ / pedal.edge_hz) ** 48)
    h = h + 3e-6j * F_HZ / 20e3  # beside the pedal, not through it
    gain = walk_db + setup.tail(setup.gain_db)
    h = h * 10 ** ((gain + setup.tail(setup.shape_db) * TOP) / 20)
    held = setup.kind.check_cable
    off_s = setup.tail(1e-9) if held else float(rng.uniform(-5e-6, 5e-6))
    if setup.perfect:
        off_s = 0.0
    h = h * np.exp(-JW * (21e-6 + off_s)) / (1 + 2.0 / (1j * F_HZ))
    noise = rng.normal(0.0, NOISE / np.sqrt(2), (2, len(F_HZ)))
    return RunResponse(
        f"{number:02d}", F_HZ, h + noise[0] + 1j * noise[1], np.full(len(F_HZ), NOISE**2),
        21e-6 if held else 21e-6 + off_s, 0.0003, 2,
    )  # fmt: skip


def _chain(elements: Sequence[Element], ends: tuple[str, str]) -> C128:
    """Chain matrix; where nothing at all comes back, that of a cut line."""
    try:
        return chain_matrix(elements, F_HZ, *ends)
    except NetlistError:
        cut = np.zeros((len(F_HZ), 2, 2), dtype=np.complex128)
        cut[:] = [[1.0, 1e15], [1e-8, 1.0]]
        return cut


def _evidence(
    pedal: Pedal, setup: Setup, label: RunLabel, run: RunResponse,
    references: list[tuple[RunLabel, RunResponse]],
) -> Evidence:  # fmt: skip
    mine = [
        r for lab, r in references
        if (lab.feed, lab.load, lab.level_db) == (label.feed, label.load, label.level_db)
    ]  # fmt: skip
    held = setup.kind.check_cable
    ratio = (
        ratio_to_reference(run, mine, gain_u_db=setup.kind.believed.gain_u_db, delay_held=held)
        if mine
        else None
    )
    loud = label.position != pedal.position and label.power != "off" and pedal.position != "none"
    return Evidence(
        run.run_id, label, ratio,
        delay=Estimate(ratio.delay_s, 2e-9, "s") if held and ratio is not None else None,
        harmonics_db=-30.0 if loud else -80.0, harmonics_over_reference_db=60.0 if loud else 10.0,
    )  # fmt: skip
