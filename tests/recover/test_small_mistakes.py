"""A gain that moved a little, a resistor mistyped, a coupler left in: no fault is made of them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.facts import Analysis
from loopback.guided.plan_runner import play_plan
from loopback.plan.plans import STANDARD, TableFacts
from loopback.rig.protocol import Recorded, Rig, RigFacts, RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import plan_signal
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Mistake, Scenario
from loopback.verdict.sentences import result_sentences
from loopback.verdict.sentences_reasons import reason_sentence


class LowerWithPedal:
    """A rig whose gain stands a step lower in every run of the pedal."""

    def __init__(self, pedal: str, step_db: float, seed: int) -> None:
        model = InterfaceModel()
        lower = replace(model, gain_error_db=model.gain_error_db + step_db)
        self.rig = SimulatedRig(Scenario(pedal, seed=seed))
        self.lower = SimulatedRig(Scenario(pedal, seed=seed, interface=lower))

    def facts(self) -> RigFacts:
        """Those of either."""
        return self.rig.facts()

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play with the gain that stands then."""
        yield from (self.lower if request.label.path == "pedal" else self.rig).play(request)


def examined(place: Path, rig: Rig, typed_ohm: float = 100e3) -> Analysis:
    """Play the standard plan with short sweeps and silences, and analyse what it left."""
    steps = tuple(replace(s, silence_s=min(s.silence_s, 1.0)) for s in STANDARD.steps)
    setup = Setup("simulator", resistor_ohm=typed_ohm, resistor_tolerance=0.01)
    facts = TableFacts("a", resistor_ohm=typed_ohm, resistor_tolerance=0.01)
    folder = ExaminationFolder.create(
        place / "pedal", Pedal("pedal"), setup, plan_signal(48_000, 1.0)
    )
    play_plan(folder, rig, replace(STANDARD, steps=steps), facts)
    return analyse(place / "pedal")


@pytest.mark.parametrize("seed", [1, 2])
def test_a_level_a_little_lower_all_over_is_no_weak_joint(tmp_path: Path, seed: int) -> None:
    """0.02 dB into 1 MΩ would be 2.5 kΩ in line; with no gain held it may as well be a knob."""
    analysis = examined(tmp_path, LowerWithPedal("harbour-bell", -0.02, seed))
    result = analysis.result
    assert analysis.faults == ()
    assert result.path in ("wired", "undecided")
    if result.path == "undecided":
        assert result.alternatives == ("wired", "faulty")
        assert "check_cable" in result.would_tell
        assert result.series_ohm is not None
        assert result.series_ohm.interval()[0] <= 0.0
        (reason,) = (r for r in result.reasons if r.code == "flat_level")
        assert "a gain that moved" in reason_sentence(reason)
    assert "delay" not in " ".join(result_sentences(result))


def test_the_lower_level_was_the_one_that_looks_like_a_joint(tmp_path: Path) -> None:
    """Without a clock that holds the delay the case is the undecided one, not wire by luck."""
    result = examined(tmp_path, LowerWithPedal("harbour-bell", -0.02, 1)).result
    assert (result.path, result.reasons[0].code) == ("undecided", "flat_level")


@pytest.mark.parametrize(("resistor_error", "typed_ohm"), [(9.0, 100e3), (9.0, 1e6)])
def test_a_pulldown_is_not_wrong_where_all_ohms_are_in_doubt(
    tmp_path: Path, resistor_error: float, typed_ohm: float
) -> None:
    """Ten times the resistor makes 100 kΩ of 1 MΩ, and 90 kΩ of the input: no band is misread."""
    scenario = Scenario("quarry-lamp", leads=Leads(resistor_error=resistor_error))
    analysis = examined(tmp_path, SimulatedRig(scenario), typed_ohm)
    assert "line_input" in {finding.code for finding in analysis.findings}
    assert "pulldown_wrong" not in {fault.code for fault in analysis.faults}


@pytest.mark.parametrize("pedal", ["harbour-bell", "quarry-lamp"])
def test_a_coupler_left_in_is_asked_for(tmp_path: Path, pedal: str) -> None:
    """Both runs with power equal the reference, the one without differs: one thing to do."""
    mistakes = (Mistake("coupler-left-in", 2, 3),)
    analysis = examined(tmp_path, SimulatedRig(Scenario(pedal, mistakes=mistakes)))
    (found,) = (f for f in analysis.findings if f.code == "coupler_left_in")
    assert (found.grade, found.where) == ("look", "02 03")
    assert "run 02 equals the reference within 0.0" in found.number
    assert found.action == "Plug in the pedal and repeat run 02."
    assert analysis.result.path == "undecided"


@pytest.mark.parametrize("pedal", ["harbour-bell", "field-gate", "salt-lantern"])
def test_no_coupler_is_asked_for_where_the_pedal_was_in(tmp_path: Path, pedal: str) -> None:
    """Wire, a stage that looks like the lead with a relay, and a buffer: none is a coupler."""
    analysis = examined(tmp_path, SimulatedRig(Scenario(pedal)))
    assert "coupler_left_in" not in {finding.code for finding in analysis.findings}
