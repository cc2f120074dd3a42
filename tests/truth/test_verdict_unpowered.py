"""Paths that pass alike without power, gains that need none, and what lies in line."""

from __future__ import annotations

from dataclasses import replace

import pytest

from loopback.circuit.netlist import parse_elements
from loopback.simulate.pedal import PedalFile, PedalState
from loopback.verdict.judge import judge
from loopback.verdict.limits import JOINT_OHM
from loopback.verdict.path import FALL_BACK
from loopback.verdict.probability import probability_below
from loopback.verdict.sentences import consistent_line, result_sentences
from tests.reference.bench_runs import STANDARD, Bench, Step, examine


def _pedal(bypass: str, dead: str, off_bypass: str = "") -> PedalFile:
    def state(name: str, text: str, clip: float | None = None) -> PedalState:
        return PedalState(name, parse_elements(enumerate(text.split("; "), 1), "test"), clip)

    engaged = "Ci IN 0 8p; C1 IN a 22n; Ra a 0 470k; E1 e 0 a 0 8; Ro e OUT 1k; Rp OUT 0 100k"
    states = {
        "bypass": state("bypass", bypass),
        "engaged": state("engaged", engaged, 0.5),
        "dead": state("dead", dead),
        "rest": state("rest", off_bypass or dead),
    }
    table = {
        ("on", "a"): "bypass", ("on", "b"): "engaged",
        ("off", "a"): "rest", ("off", "b"): "rest" if off_bypass else "dead",
    }  # fmt: skip
    return PedalFile("Test", "", "", "mechanical-latching", "bypass", states, table)


DEAD = "Ci IN 0 10p; Co OUT 0 10p; Cx IN OUT 3p; Ro OUT 0 100k; Ri IN 0 1M"


STEP_UP = "Ci IN 0 100p; Rp IN a 400; Lm a 0 60; Llk a b 10m; T1 b 0 s 0 0.9; Rq s OUT 400"
CHOKE = "L1 IN OUT 1; R1 IN OUT 1M; Ci IN 0 20p; Co OUT 0 20p"
STAGE = "Ri IN 0 1M; E1 e 0 IN 0 1.1; Ro e OUT 100"


@pytest.mark.parametrize("bypass", [STEP_UP, CHOKE])
@pytest.mark.parametrize("delay_held", [True, False])
def test_what_works_the_same_without_power_is_no_stage(bypass: str, delay_held: bool) -> None:
    """A winding or a choke that is louder than a wire, with power and without, is passive."""
    evidence, setup = examine(
        _pedal(bypass, DEAD, bypass), Bench(seed=2, delay_held=delay_held), resistor=False
    )
    result = judge(evidence, setup)
    assert result.path == "loaded"
    assert not {"buffered", "converted"} & set(result.alternatives)
    prose = " ".join(result_sentences(result))
    assert "digital" not in prose
    assert "powered stage" not in prose


def test_a_gain_alone_is_no_proof_of_a_stage() -> None:
    """Louder than a wire and never seen without power: a stage or a winding."""
    steps = (Step("plain", "on", "a"), Step("plain", "on", "b"))
    evidence, setup = examine(_pedal(STEP_UP, DEAD, STEP_UP), Bench(seed=2), steps)
    result = judge(evidence, setup)
    assert result.path == "undecided"
    assert {"buffered", "loaded"} <= set(result.alternatives)
    assert "unpowered_bypass" in result.would_tell


def test_a_gain_that_goes_with_the_power_is_a_stage() -> None:
    """A stage with a gain beside a relay that falls back to wire is not taken for a winding."""
    steps = tuple(replace(s, feed="plain") for s in STANDARD)
    evidence, setup = examine(_pedal(STAGE, DEAD, "Ci IN 0 30p; R0 IN OUT 0.05"), None, steps)
    result = judge(evidence, setup)
    assert result.path == "undecided"
    assert result.alternatives[0] == "buffered"


@pytest.mark.parametrize("seed", range(3))
def test_how_sure_of_wire_holds_the_doubt_about_what_lies_in_line(seed: int) -> None:
    """With a free delay 300 ohms may pass for wire, never surer than they are below the limit."""
    bypass = "Ci IN 0 6p; Rj IN OUT 300; Co OUT 0 6p"
    evidence, setup = examine(_pedal(bypass, DEAD, bypass), Bench(seed=seed, delay_held=False))
    result = judge(evidence, setup)
    assert result.path in ("wired", "undecided")
    assert result.certainty is not None
    assert result.series_ohm is not None
    straight = probability_below(result.series_ohm, JOINT_OHM.value)
    assert result.certainty <= FALL_BACK * straight + 1e-9
    assert result.certainty < FALL_BACK - 0.0005


def test_a_fault_in_line_is_not_beside_wiring_alone() -> None:
    """What is called faulty is not also said to be wiring and contacts and nothing else."""
    bypass = "Ci IN 0 6p; Rj IN OUT 300; Co OUT 0 6p"
    evidence, setup = examine(_pedal(bypass, DEAD, bypass), Bench(seed=1))
    result = judge(evidence, setup)
    assert result.path == "faulty"
    assert "alone" not in consistent_line(result)
    assert "in line" in consistent_line(result)
