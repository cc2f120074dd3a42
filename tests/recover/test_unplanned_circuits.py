"""Circuits and mistakes that no family of the study has: what is stated of them is true."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.circuit.netlist import Element, parse_elements
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal as RecordedPedal
from loopback.examination.records import Setup as Record
from loopback.facts import Analysis
from loopback.guided.plan_runner import play_plan
from loopback.identify.learned import learn
from loopback.identify.loads import find_setups
from loopback.plan.plans import STANDARD, TableFacts
from loopback.plan.runs import Feed, Power, RunLabel
from loopback.rig.protocol import Recorded, RigFacts, RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import plan_signal
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from loopback.verdict.result import Result
from loopback.verdict.sentences import result_sentences
from loopback.verdict.sentences_reasons import reason_sentence
from tests.reference.population_pedals import Pedal, Truth, made_of
from tests.reference.population_study import decide
from tests.reference.population_table import KINDS, Setup, examine_pedal

JACKS = ("Cci IN 0 6p", "Cco OUT 0 6p")
WIRE = (*JACKS, "Rsw IN OUT 0.05")
TONE_STACK = (
    "C1 IN a 250p", "R1 IN b 100k", "C2 b c 20n", "C3 b d 20n", "R2 a c 250k", "R3 c d 1M",
    "R4 d 0 25k",
)  # fmt: skip
ELECTRONIC_SWITCH = (
    "Cci IN 0 8p", "C1 IN a 100n", "Ra a 0 1M", "Ron a b 60", "Cb b 0 10p", "Rb b 0 1M",
    "C2 b OUT 1u", "Ro OUT 0 100k", "Cco OUT 0 6p",
)  # fmt: skip
DEAD = ("Cx IN OUT 1.5p", "Cci IN 0 8p", "Cco OUT 0 8p", "Ro OUT 0 100k", "Ri IN 0 1M")


def stage(gain: float) -> tuple[str, ...]:
    """A buffer of 1 megohm."""
    return (
        *JACKS, "C1 IN a 100n", "Ra a 0 1M", "Ca a 0 10p", f"E1 e 0 a 0 {gain}", "Ro e f 100",
        "C2 f OUT 10u", "Rp OUT 0 100k",
    )  # fmt: skip


def net(lines: tuple[str, ...]) -> tuple[Element, ...]:
    """Elements of lines."""
    return parse_elements(enumerate(lines, 1), "test")


def pedal_of(lines: tuple[str, ...], unpowered: tuple[str, ...] | None = None) -> Pedal:
    """A pedal whose bypass is as given, and the same without power unless that is given."""
    pedal = made_of(Truth("test", "loaded"), list(lines), np.random.default_rng(3))
    return pedal if unpowered is None else replace(pedal, unpowered=net(unpowered))


def judged(pedal: Pedal, kind: str = "standard", seed: int = 1) -> Result:
    """Examine and judge a pedal."""
    setup = Setup(KINDS[kind], np.random.default_rng(seed))
    examined = examine_pedal(pedal, setup)
    setups, priors = find_setups(examined.references)
    return decide(examined, setups, learn((), setup.kind.believed), priors)


def codes(result: Result) -> set[str]:
    """Codes of its reasons."""
    return {reason.code for reason in result.reasons}


@pytest.mark.parametrize("kind", ["standard", "standard_check"])
@pytest.mark.parametrize("seed", [1, 2])
def test_a_buffer_whose_supply_was_left_in_stays_possible(kind: str, seed: int) -> None:
    """The runs without power are the same because it had power: no wire, and no runs exchanged."""
    result = judged(pedal_of(stage(1.0)), kind, seed)
    assert (result.path, result.alternatives[0]) == ("undecided", "buffered")
    assert "wired" in result.excluded
    assert "supply_left_in" in codes(result)
    assert "battery" in " ".join(result_sentences(result))
    assert "unpowered_bypass" in result.would_tell


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_tone_stack_is_a_load(seed: int) -> None:
    """Where no R and C explains the runs, their values below zero mean nothing."""
    result = judged(pedal_of((*WIRE, *TONE_STACK)), seed=seed)
    assert "wired" not in (result.path, *result.alternatives)
    assert "exchanged" not in codes(result)
    assert "loaded" in (result.path, *result.alternatives)


@pytest.mark.parametrize("kind", ["standard", "standard_check"])
@pytest.mark.parametrize("seed", [1, 2])
def test_an_electronic_switch_without_buffers_is_not_called_a_stage(kind: str, seed: int) -> None:
    """It needs power and has no gain; only a stage whose input looks like the lead is as near."""
    result = judged(pedal_of(ELECTRONIC_SWITCH, DEAD), kind, seed)
    assert result.path in ("undecided", "loaded")
    assert "loaded" in (result.path, *result.alternatives)
    assert "wired" not in (result.path, *result.alternatives)


def test_a_contact_with_a_capacitor_across_it_is_no_transformer() -> None:
    """A fit with a million henry and 100 nF between its windings borrows another circuit."""
    for seed in (1, 2):
        lines = (*JACKS, "Rsw IN OUT 150", "Cp IN OUT 100n")
        assert "transformer" not in judged(pedal_of(lines), seed=seed).consistent


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_coil_across_the_line_is_no_transformer(seed: int) -> None:
    """100 henry with 10 kilohm, as a gyrator makes, once described by 0.2 mF between windings."""
    result = judged(pedal_of((*WIRE, "L1 IN a 100", "R1 a 0 10k")), seed=seed)
    assert (result.path, result.consistent) == ("loaded", ())


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_few_ohms_behind_a_capacitor_are_a_load(seed: int) -> None:
    """47 ohm across the line leave 66 dB less: no input of an effect, and no stage beside it."""
    result = judged(pedal_of((*WIRE, "C1 IN a 47u", "R1 a 0 47")), "standard_check", seed)
    assert result.path == "loaded"
    for reason in result.reasons:
        before, _, after = reason_sentence(reason).partition(" across the line becomes ")
        assert not after or before.split("the ")[-1] != after.split(":")[0]


@pytest.mark.parametrize("kind", ["standard", "standard_check"])
def test_a_converter_whose_supply_was_left_in_is_told_by_its_cliff(kind: str) -> None:
    """A response that ends steeply is no passive one, whatever the runs without power say."""
    pedal = replace(pedal_of(stage(0.98)), delay_s=1.2e-3, edge_hz=23.5e3)
    setup = Setup(KINDS[kind], np.random.default_rng(1))
    examined = examine_pedal(pedal, setup)
    with_power = {
        (e.label.feed, e.label.load): e
        for e in examined.evidence
        if e.label.power != "off" and e.label.position == pedal.position
    }
    made = [
        replace(e, ratio=with_power[e.label.feed, e.label.load].ratio,
                delay=with_power[e.label.feed, e.label.load].delay)
        if e.label.power == "off" and e.label.position == pedal.position else e
        for e in examined.evidence
    ]  # fmt: skip
    setups, priors = find_setups(examined.references)
    learned = learn((), setup.kind.believed)
    result = decide(replace(examined, evidence=tuple(made)), setups, learned, priors)
    assert result.path == "converted"
    assert "band_edge" in codes(result)


@pytest.mark.parametrize("pedal", ["harbour-bell", "amber-dial"])
def test_a_resistor_a_tenth_of_what_was_typed_makes_nothing_wire(
    tmp_path: Path, pedal: str
) -> None:
    """All values scale with it; that the lead has 40 pF and the input 10 megohm gives it away."""
    analysis = examined(tmp_path, pedal, leads=Leads(resistor_error=-0.9), typed_ohm=1e6)
    assert "resistor_doubtful" in codes(analysis.result)
    assert analysis.result.path != "wired"


def test_feeds_exchanged_all_through_leave_no_path(tmp_path: Path) -> None:
    """A plain lead that falls by 16 dB is none: the runs are refused, not judged."""
    feeds: dict[Feed, Feed] = {"plain": "resistor", "resistor": "plain"}

    def exchanged(label: RunLabel) -> RunLabel:
        ohm = 100e3 if label.feed == "plain" else None
        return msgspec.structs.replace(label, feed=feeds[label.feed], resistor_ohm=ohm)

    result = examined(tmp_path, "harbour-bell", really=exchanged).result
    assert result.path == "undecided"


def test_power_labels_exchanged_name_no_open_jack(tmp_path: Path) -> None:
    """What passes in one state of the supply is connected; which state it was is left open."""

    def exchanged(label: RunLabel) -> RunLabel:
        other: dict[Power | None, Power | None] = {"on": "off", "off": "on", None: None}
        return msgspec.structs.replace(label, power=other[label.power])

    analysis = examined(tmp_path, "salt-lantern", really=exchanged)
    assert analysis.result.path == "undecided"
    assert {"faulty", "buffered"} <= set(analysis.result.alternatives)
    assert analysis.faults == ()


class Mistaken:
    """A rig at which something else is connected than the label says."""

    def __init__(self, rig: SimulatedRig, really: Callable[[RunLabel], RunLabel]) -> None:
        self.rig, self.really = rig, really

    def facts(self) -> RigFacts:
        """Those of the rig."""
        return self.rig.facts()

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play what is really there."""
        return self.rig.play(replace(request, label=self.really(request.label)))


def examined(
    place: Path,
    name: str,
    *,
    leads: Leads | None = None,
    typed_ohm: float = 100e3,
    really: Callable[[RunLabel], RunLabel] = lambda label: label,
) -> Analysis:
    """Play the standard plan with short sweeps and silences, and analyse what it left."""
    rig = Mistaken(SimulatedRig(Scenario(name, leads=leads or Leads())), really)
    plan = replace(
        STANDARD, steps=tuple(replace(s, silence_s=min(s.silence_s, 1.0)) for s in STANDARD.steps)
    )
    setup = Record("simulator", resistor_ohm=typed_ohm, resistor_tolerance=0.01)
    folder = ExaminationFolder.create(
        place / name, RecordedPedal(name), setup, plan_signal(48_000, 1.0)
    )
    play_plan(folder, rig, plan, TableFacts("a", resistor_ohm=typed_ohm, resistor_tolerance=0.01))
    return analyse(place / name)
