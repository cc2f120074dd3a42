"""Setting up on the simulator: what is found, and every mistake told with one action."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from numpy.typing import NDArray

from loopback.errors import RigError, StoppedError
from loopback.guided.setting_up import carry_out
from loopback.guided.setup_asked import SetupOutcome, Wishes
from loopback.guided.setup_listening import START_DBFS, TARGET_PEAK_DBFS
from loopback.guided.setup_steps import set_up
from loopback.plan.events import Key
from loopback.quantity import parse_value
from loopback.rig.protocol import Recorded, Rig, RigFacts, RunRequest
from loopback.rig.simulated import SimulatedRig, read_mistake
from loopback.simulate.damage import add_offset, clip_at
from loopback.simulate.damage_process import automatic_gain, lossy_lowpass
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Damage, Scenario
from tests.reference.scripted_hands import ScriptedHands

WISHES = Wishes("Kestrel Two", (48_000,), resistor_ohm=100e3, resistor_tolerance=0.01)
Real = NDArray[np.float64]


class Spy:
    """A rig that remembers what it was asked to play."""

    def __init__(self, rig: SimulatedRig) -> None:
        self.rig = rig
        self.requests: list[RunRequest] = []

    def facts(self) -> RigFacts:
        """Return those of the rig."""
        return self.rig.facts()

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play."""
        self.requests.append(request)
        return self.rig.play(request)


def done(
    hands: ScriptedHands, wishes: Wishes = WISHES, mistake: str = "", **scenario: object
) -> tuple[SetupOutcome, Spy]:
    """Set up; every doubt is answered as the hands have it."""
    mistakes = (read_mistake(mistake),) if mistake else ()
    plain = Scenario("harbour-bell", mistakes=mistakes, **scenario)
    spy = Spy(SimulatedRig(plain))

    def rig_for(check: bool) -> Rig:
        return SimulatedRig(replace(plain, check_cable=True)) if check else spy

    return carry_out(set_up(wishes), rig_for, hands, 1.0), spy


def test_ordinary_setup_finds_what_is_there() -> None:
    """Setup capacitance, input resistance, floor and a level near the target, no remarks."""
    hands = ScriptedHands()
    outcome, _ = done(hands)
    assert hands.bad() == hands.looks() == []
    # 300 pF lead, 100 pF input, 2 pF coupler; 1 MΩ: what the simulator was given.
    assert outcome.node_farad == pytest.approx(402e-12, rel=0.02)
    assert outcome.input_ohm == pytest.approx(1e6, rel=0.03)
    assert outcome.unplugged.noise is not None
    assert outcome.unplugged.noise.a_weighted_dbfs.value == pytest.approx(-100.0, abs=1.5)
    assert outcome.plain.peak_dbfs == pytest.approx(TARGET_PEAK_DBFS, abs=1.0)
    assert outcome.full_scale_dbu is None
    assert "stay relative" in hands.all_text()


def test_level_rises_from_quiet_and_never_above_the_ceiling() -> None:
    """Unplugged and the first run with leads at the start level, the resistor lead before the plain
    one, steps of 12 dB at most."""
    for ceiling in (-12.0, -20.0, -40.0):
        _, spy = done(ScriptedHands(), replace(WISHES, ceiling_dbfs=ceiling))
        levels = [request.signal.level_dbfs for request in spy.requests]
        feeds = [request.label.feed for request in spy.requests if request.label.path == "coupler"]
        assert levels[0] == levels[1] == min(START_DBFS, ceiling)
        assert max(levels) <= ceiling
        assert max(np.diff(levels)) <= 12.0
        assert feeds[0] == "resistor"
        assert feeds[-1] == "plain"


def test_a_hot_input_gets_a_lower_level() -> None:
    """Full scale 20 dB further down: the level follows, and nothing clips on the way."""
    hands = ScriptedHands()
    outcome, _ = done(hands, interface=InterfaceModel(full_scale_dbu=-10.0))
    assert outcome.level_dbfs == pytest.approx(-32.0, abs=1.0)
    assert outcome.plain.peak_dbfs == pytest.approx(TARGET_PEAK_DBFS, abs=1.0)
    assert "clipped" not in hands.all_text()


CASES: dict[str, tuple[str, Key, str]] = {
    "resistor lead forgotten": ("resistor-forgotten:2-4", "repeat", "plain lead still seems"),
    "resistor lead left in": ("resistor-left-in:5", "repeat", "resistor lead still seems"),
    "direct monitoring": ("direct-monitoring:2=-20", "repeat", "direct monitoring"),
    "digital return, unplugged": ("digital-return:1", "repeat", "No analogue input"),
    "digital return": ("digital-return:2", "repeat", "No analogue input"),
    "return lead in input 2": ("wrong-channel:2", "repeat", "the signal arrives at input 2"),
}


@pytest.mark.parametrize("what", CASES)
def test_mistake_is_told_and_put_right(what: str) -> None:
    """Told once, with its action; after the next try everything is as it should be."""
    mistake, answer, words = CASES[what]
    hands = ScriptedHands([answer])
    outcome, _ = done(hands, mistake=mistake)
    assert words in hands.all_text()
    assert len(hands.bad()) == 1
    assert outcome.node_farad == pytest.approx(402e-12, rel=0.02)


@pytest.mark.parametrize("what", CASES)
def test_where_nobody_answers_it_ends_with_the_finding(what: str) -> None:
    """Without anybody to put it right no setup is saved: the error is the finding."""
    mistake, _, words = CASES[what]
    mistake = mistake.split(":")[0] + ("=-20" if "monitoring" in mistake else "")
    with pytest.raises(RigError) as caught:
        done(ScriptedHands(), mistake=mistake)
    assert words.casefold() in str(caught.value).casefold()


def test_line_input_is_told_by_its_resistance() -> None:
    """10 kΩ in place of 1 MΩ: both leads are asked for again."""
    hands = ScriptedHands(["keep", "repeat"])  # the level is low behind the resistor
    outcome, _ = done(hands, mistake="line-input:2-5")
    assert any("the input has" in text for text in hands.bad())
    assert "Press INST" in hands.all_text()
    assert outcome.input_ohm == pytest.approx(1e6, rel=0.05)


def test_misplaced_resistor_shows_as_capacitance() -> None:
    """At the interface's end the feeding lead adds its 300 pF: worth a look, never refused."""
    hands = ScriptedHands()
    outcome, _ = done(hands, mistake="resistor-at-interface")
    assert outcome.node_farad == pytest.approx(702e-12, rel=0.02)
    assert any("setup capacitance 70" in text for text in hands.looks())


def _always(apply: Callable[[Real], Real], first: int = 2, last: int = 9) -> tuple[Damage, ...]:
    return tuple(Damage(run, 1, apply) for run in range(first, last))


def test_clipping_stops_the_rise_one_step_below() -> None:
    """A stage that ends at -28 dBFS: it is said which kind, and the quieter level is kept."""
    hands = ScriptedHands()
    outcome, spy = done(hands, damages=_always(partial(clip_at, level=0.04)))
    assert "cut" in hands.all_text()
    levels = [request.signal.level_dbfs for request in spy.requests]
    assert outcome.level_dbfs == START_DBFS
    assert max(levels) > START_DBFS
    assert f"So the level stays at {START_DBFS:g} dBFS." in hands.all_text()


def test_automatic_gain_is_found_by_the_tone_pair() -> None:
    """Loud and soft tones are no longer 20 dB apart."""
    hands = ScriptedHands()
    with pytest.raises(RigError, match="dB apart instead of 20"):
        done(hands, damages=_always(partial(automatic_gain, rate_hz=48_000)))


def test_an_offset_is_worth_a_look() -> None:
    """Usable, with the number and what to do."""
    hands = ScriptedHands()
    done(hands, damages=_always(partial(add_offset, offset=0.01)))
    assert any("of full scale" in text for text in hands.looks())


def test_a_converting_system_is_found_and_the_honest_rate_taken() -> None:
    """At 96 kHz the treble ends at 22 kHz; 48 kHz is honest, and is used from there on."""
    hands = ScriptedHands()
    cut = partial(lossy_lowpass, rate_hz=96_000, cutoff_hz=21_500.0)

    def only_at_96k(samples: Real) -> Real:
        return cut(samples) if len(samples) > 500_000 else samples

    outcome, spy = done(
        hands, replace(WISHES, rates_hz=(96_000, 48_000)), damages=_always(only_at_96k)
    )
    assert outcome.rate_hz == 48_000
    assert any("not honest" in text for text in hands.looks())
    assert {request.signal.rate_hz for request in spy.requests[3:]} == {48_000}


def test_hum_is_found_from_the_data() -> None:
    """60 Hz lines 40 dB over the noise: its frequency and height are told."""
    loud = InterfaceModel(mains_hz=60.0, hum_dbfs=(-62.0, -70.0, -66.0))
    hands = ScriptedHands()
    done(hands, interface=loud)
    assert any(text.startswith("mains 60 Hz") for text in hands.looks())


def test_a_leaking_box_is_worth_a_look() -> None:
    """Crosstalk of -50 dB would look like a dead path that is not quite dead."""
    hands = ScriptedHands()
    outcome, _ = done(hands, interface=InterfaceModel(crosstalk_db=-60.0))
    assert any("leaks into input" in text for text in hands.looks())
    assert outcome.unplugged.gain_db is None


def test_too_little_level_is_worth_a_look() -> None:
    """An input 30 dB less sensitive than the ceiling allows for."""
    hands = ScriptedHands()
    done(hands, interface=InterfaceModel(full_scale_dbu=45.0))
    assert any("peak -4" in text for text in hands.looks())


@pytest.mark.parametrize(
    ("name", "ends", "words"),
    [
        ("Aria Buds Hands-Free", True, "Wireless audio"),
        ("Bluetooth Headset", True, "Wireless audio"),
        ("Built-in Microphone", False, "no instrument input"),
        ("HDA Intel PCH", False, "no instrument input"),
    ],
)
def test_names_that_say_enough(name: str, ends: bool, words: str) -> None:
    """Wireless is refused before anything is played; built-in sound is worth a look."""
    hands = ScriptedHands()
    if ends:
        with pytest.raises(RigError, match=words):
            done(hands, replace(WISHES, name=name))
    else:
        done(hands, replace(WISHES, name=name))
        assert words in hands.all_text()


def test_check_cable_is_offered_and_heard() -> None:
    """With a spare pair of sockets; its delay is that of the path within what the lead makes."""
    hands = ScriptedHands(["yes"])
    outcome, _ = done(hands, replace(WISHES, check_output=2, check_input=2))
    assert outcome.check
    # 150 Ω and 700 pF of leads and input, the circuit that the simulator was given: 0.1 µs.
    (line,) = [tell.text for tell in hands.told if tell.text.startswith("Check cable heard")]
    assert parse_value("".join(line.split()[-2:]), "s") == pytest.approx(105e-9, rel=0.15)
    hands = ScriptedHands(["no"])
    assert not done(hands, replace(WISHES, check_output=2, check_input=2))[0].check


def test_check_cable_that_is_not_there() -> None:
    """Asked for, but not plugged in: told, and gone on without."""
    wishes = replace(WISHES, check_output=2, check_input=2, check=True)
    hands = ScriptedHands(["keep"])
    rig = SimulatedRig(Scenario("harbour-bell"))
    outcome = carry_out(set_up(wishes), lambda _check: rig, hands, 1.0)
    assert not outcome.check
    assert "nothing arrives at input 2" in hands.bad()


def test_meter_reading_gives_the_level_of_full_scale() -> None:
    """A sine of 0.7746 V RMS is 0 dBu; the input's full scale is 10 dBu by construction."""
    model = InterfaceModel(full_scale_dbu=10.0, output_full_scale_dbu=7.0, gain_error_db=0.0)
    level = TARGET_PEAK_DBFS + 2.0  # the ceiling ends the rise before the target does
    wishes = replace(WISHES, ceiling_dbfs=level, meter=True)
    volts = math.sqrt(0.6) * 10 ** ((7.0 + level) / 20)
    hands = ScriptedHands(texts=[f"{volts:.4f}V"])
    outcome, spy = done(hands, wishes, interface=model)
    assert outcome.level_dbfs == level
    assert outcome.full_scale_dbu == pytest.approx(10.0, abs=0.02)
    assert "dBV" in hands.all_text()
    assert [request.tone_s for request in spy.requests if request.tone_s] == [12.0]
    given = replace(wishes, meter=False, meter_v=volts)
    assert done(ScriptedHands(), given, interface=model)[0].full_scale_dbu == pytest.approx(
        10.0, abs=0.02
    )


def test_without_a_resistor_there_is_one_lead() -> None:
    """The level is found through the plain lead, and nothing is said about a resistor."""
    hands = ScriptedHands()
    outcome, spy = done(hands, replace(WISHES, with_resistor=False, resistor_ohm=None))
    assert {r.label.feed for r in spy.requests} == {"plain"}
    assert outcome.resistor is None
    assert outcome.node_farad is None


def test_resistor_is_asked_for_until_it_can_be_read() -> None:
    """A comma is explained; the value and its tolerance are kept."""
    hands = ScriptedHands(texts=["99,6k", "99.6k 0.5%"])
    outcome, _ = done(hands, replace(WISHES, resistor_ohm=None, resistor_tolerance=None))
    assert (outcome.resistor_ohm, outcome.resistor_tolerance) == (99_600.0, 0.005)
    assert len(hands.bad()) == 1


def test_whoever_stops_leaves_nothing() -> None:
    """`quit` at a question ends it, and nothing is saved."""
    with pytest.raises(StoppedError, match="Nothing was saved"):
        done(ScriptedHands(["quit"]), interface=InterfaceModel(full_scale_dbu=45.0))


def test_longer_leads_are_found() -> None:
    """6 m of return lead: 600 pF more or less, found within 2 %."""
    outcome, _ = done(ScriptedHands(), leads=Leads(return_f=450e-12))
    assert outcome.node_farad == pytest.approx(552e-12, rel=0.02)
