"""Runs made directly from circuits, without audio: references and pedal runs on a log grid.

The circuits are solved by `loopback.circuit.nodal`; drift, scatter and noise are drawn from a
seeded generator, so that whole examinations can be judged by the hundred.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import C128
from loopback.circuit.netlist import Element
from loopback.circuit.nodal import chain_matrix
from loopback.circuit.twoport import cascade, shunt_admittance, voltage_ratio
from loopback.identify.setup import SetupFound, find_setup
from loopback.plan.runs import Feed, Position, Power, ResistorEnd, RunLabel
from loopback.quantity import Estimate
from loopback.response.ratio import ratio_to_reference
from loopback.response.reading import RunResponse
from loopback.simulate.pedal import PedalFile, PedalState
from loopback.verdict.evidence import Evidence

F_HZ = np.geomspace(10.0, 40e3, 300)
NOISE = 1e-6
GAIN_U_DB = 0.002
CROSSTALK = 3e-6
"""Output to input at 20 kHz beside the pedal, rising with frequency: the floor of a dead path."""


@dataclass(frozen=True)
class Step:
    """One run of a plan."""

    feed: Feed
    power: Power | None
    position: Position
    reverse: bool = False
    mating: int = 0


STANDARD = (
    Step("resistor", "on", "a"),
    Step("resistor", "on", "b"),
    Step("resistor", "off", "b"),
    Step("resistor", "off", "a"),
)
WITHOUT_SWITCH = (Step("resistor", "on", "none"), Step("resistor", "off", "none"))


@dataclass(frozen=True)
class Bench:
    """A setup; every field may be replaced.

    Parameters are in base units; `gain_u_db` and `mating_f` are standard deviations per run and
    per plug; `loss_tangent` belongs to the return lead; `pedal_gain_db` is a gain change of every
    pedal run.
    """

    seed: int = 1
    source_ohm: float = 150.0
    resistor_ohm: float = 100e3
    resistor_true_ohm: float = 100e3
    resistor_end: ResistorEnd = "pedal"
    lead_a_f: float = 300e-12
    load_g: float = 1e-6
    load_f: float = 398e-12
    coupler_f: float = 2e-12
    gain_u_db: float = GAIN_U_DB
    mating_f: float = 0.15e-12
    shape_u_db: float = 0.0005
    delay_held: bool = True
    noise: float = NOISE
    tolerance: float = 0.01
    loss_tangent: float = 0.0
    pedal_gain_db: float = 0.0


class Table:
    """Draws the runs of one sitting at a bench."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.rng = np.random.default_rng(bench.seed)
        self.jw: C128 = np.asarray(2j * np.pi * F_HZ, dtype=np.complex128)
        self.count = 0
        self.references: dict[Feed, list[RunResponse]] = {"plain": [], "resistor": []}
        self.labels: dict[Feed, RunLabel] = {
            feed: RunLabel(
                "coupler",
                feed,
                resistor_ohm=bench.resistor_ohm if feed == "resistor" else None,
                resistor_tolerance=bench.tolerance if feed == "resistor" else None,
                resistor_end=bench.resistor_end,
            )
            for feed in ("plain", "resistor")
        }

    def reference(self, feed: Feed) -> None:
        """Make one run through the coupler."""
        scatter = self._scatter()
        coupler = shunt_admittance(self.jw * (self.bench.coupler_f + sum(scatter)))
        self.references[feed].append(self._run(coupler, feed))

    def setup(self) -> SetupFound | None:
        """Find the setup from the references made so far."""
        return find_setup(
            [(self.labels[f], r) for f, runs in self.references.items() for r in runs]
        )

    def pedal(self, state: PedalState, step: Step, scatter: tuple[float, float]) -> Evidence:
        """Make one run through a pedal."""
        matrix = self.matrix(state.elements, step.reverse)
        ends = [shunt_admittance(self.jw * c) for c in scatter]
        run = self._run(
            cascade(ends[0], matrix, ends[1]), step.feed, state.delay_s, state.band_edge_hz
        )
        run = replace(run, h=run.h * 10 ** (self.bench.pedal_gain_db / 20))
        references = self.references[step.feed]
        ratio = None
        delay = None
        if references:
            ratio = ratio_to_reference(
                run, references, gain_u_db=GAIN_U_DB, delay_held=self.bench.delay_held
            )
            if self.bench.delay_held:
                delay = Estimate(ratio.delay_s, 1.4e-9, "s")
        label = replace_label(self.labels[step.feed], step)
        return Evidence(
            run.run_id, label, ratio, delay=delay,
            harmonics_db=-30.0 if (state.softclip_v or 9.0) < 1.0 else -75.0,
            harmonics_over_reference_db=60.0 if (state.softclip_v or 9.0) < 1.0 else 20.0,
        )  # fmt: skip

    def matrix(self, elements: tuple[Element, ...], reverse: bool = False) -> C128:
        """Chain matrix of a pedal on the grid."""
        if not reverse:
            return chain_matrix(elements, F_HZ)
        stray = Element("C", "Cstray", ("IN", "OUT"), 0.05e-12)  # a stage alone has no way back
        return chain_matrix((*elements, stray), F_HZ, "OUT", "IN")

    def scatter(self) -> tuple[float, float]:
        """Draw the capacitance scatter of a plug at each end."""
        return self._scatter()

    def _scatter(self) -> tuple[float, float]:
        a, b = self.rng.normal(0.0, self.bench.mating_f, 2)
        return float(a), float(b)

    def _run(
        self, matrix: C128, feed: Feed, delay_s: float = 0.0, edge_hz: float | None = None
    ) -> RunResponse:
        b = self.bench
        zs = np.full(len(F_HZ), b.source_ohm + 0j)
        if feed == "resistor":
            zs = zs + 1 / (1 / b.resistor_true_ohm + self.jw * 0.3e-12)
        emf = np.ones(len(F_HZ), dtype=np.complex128)
        if feed == "resistor" and b.resistor_end == "interface":
            emf = 1 / (1 + zs * self.jw * b.lead_a_f)
            zs = zs * emf
        h = emf * voltage_ratio(
            matrix, zs, b.load_g + self.jw * b.load_f * (1 - 1j * b.loss_tangent)
        )
        h = h * np.exp(-self.jw * delay_s) + CROSSTALK * 1j * F_HZ / 20e3
        if edge_hz is not None:
            h = h / (1 + (F_HZ / edge_hz) ** 40)
        gain_db = self.rng.normal(0.0, b.gain_u_db)
        shape_db = self.rng.normal(0.0, b.shape_u_db) * (F_HZ / 20e3) ** 2
        h = h * 10 ** ((gain_db + shape_db) / 20)
        interface = 1 / (1 + 2.0 / (1j * F_HZ))
        offset = 0.0 if b.delay_held else self.rng.uniform(-5e-6, 5e-6)
        h = h * interface * np.exp(-self.jw * (21e-6 + offset))
        noise = self.rng.normal(0.0, b.noise / np.sqrt(2), (2, len(F_HZ)))
        self.count += 1
        return RunResponse(
            f"{self.count:02d}",
            F_HZ,
            h + noise[0] + 1j * noise[1],
            np.full(len(F_HZ), b.noise**2),
            21e-6 + offset,
            0.0003,
            2,
        )


def replace_label(label: RunLabel, step: Step) -> RunLabel:
    """Label of a pedal run on the same leads."""
    return RunLabel(
        "pedal",
        label.feed,
        power=step.power,
        position=step.position,
        resistor_ohm=label.resistor_ohm,
        resistor_tolerance=label.resistor_tolerance,
        resistor_end=label.resistor_end,
        direction="reversed" if step.reverse else "forward",
        mating=step.mating,
    )


def examine(
    pedal: PedalFile,
    bench: Bench | None = None,
    steps: tuple[Step, ...] | None = None,
    plain: bool = True,
    plain_references: bool = True,
    resistor: bool = True,
) -> tuple[list[Evidence], SetupFound | None]:
    """Make the runs of the standard plan, or of the given steps, on one pedal.

    With `plain` the bypass position, taken from the pedal's own table, is also run with the plain
    lead, without power and with it.
    """
    table = Table(bench or Bench())
    positions = {position for _, position in pedal.table}
    if steps is None:
        steps = STANDARD if positions != {"none"} else WITHOUT_SWITCH
        if not resistor:
            steps = tuple(replace(s, feed="plain") for s in steps)
        elif plain:
            rest = next(
                (p for (power, p), s in pedal.table.items() if power == "on" and s == pedal.bypass),
                "a",
            )
            steps = (*steps, Step("plain", "off", rest), Step("plain", "on", rest))
    made: list[Evidence] = []
    feeds = {s.feed for s in steps}
    for feed in sorted(feeds | ({"plain"} if plain_references else set())):
        table.reference(feed)
        table.reference(feed)
    scatters: dict[tuple[Feed, int], tuple[float, float]] = {}
    last = ""
    for step in steps:
        key = (step.feed, step.mating)
        scatter = scatters.setdefault(key, table.scatter())
        state = pedal.state(step.power or "on", step.position, last)
        made.append(table.pedal(state, step, scatter))
        if step.power != "off":
            last = state.name
    return made, table.setup()
