"""Simulated pedals that clamp, charge, tremble, gate, convert and bleed are told as such."""

from __future__ import annotations

import math
from dataclasses import replace

import msgspec
import numpy as np
import pytest

from loopback.plan.runs import Position, Power, RunLabel
from loopback.quality.behaviour import find_behaviours
from loopback.quality.finding import Finding
from loopback.quality.moving import explain_movement
from loopback.quality.read_run import RunRead
from loopback.quality.seen import RunSeen
from loopback.response.bleed import find_bleed
from loopback.response.join import join_takes
from loopback.response.linearity import find_linearity
from loopback.response.movement import find_movement
from loopback.response.ratio import ratio_to_reference
from loopback.response.reading import Ratio
from loopback.rig.simulated import SimulatedRig
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.moving import rail_voltage
from loopback.simulate.pedal import parse_pedal
from loopback.simulate.scenario import Scenario
from loopback.simulate.state_sound import Clamp
from tests.reference.behaviour_recovery import (
    DELAY_S,
    DEPTH_DB,
    EDGE_HZ,
    RATE_HZ,
    latency_recovered,
    movement_recovered,
    steps_recovered,
)
from tests.reference.sounding_pedals import (
    COUPLER,
    PLAIN,
    SIGNAL,
    recorded_run,
    rig_with,
    takes_of,
)

RESISTOR = RunLabel("pedal", "resistor", power="on", position="a", resistor_ohm=100e3)
CABLE_100K = RunLabel("coupler", "resistor", resistor_ohm=100e3)
CLAMP = ".clamp at 0.35 ohm 1k farad 100u leak 100k"


@pytest.mark.parametrize("label", [PLAIN, RESISTOR], ids=["plain", "resistor"])
def test_a_wire_is_steady_and_straight(label: RunLabel) -> None:
    """No conclusion is drawn from a wire but that there is nothing."""
    rig = rig_with("")
    cable = takes_of(rig, COUPLER if label is PLAIN else CABLE_100K, run_id="01")
    takes = takes_of(rig, label)
    movement = find_movement(takes, SIGNAL)
    assert movement is not None
    assert (movement.kind, movement.own) == ("steady", False)
    found = find_linearity("02", takes, cable, SIGNAL, movement=movement)
    assert found is not None
    assert found.silicon == "no"
    assert found.level_step_db is not None
    assert abs(found.level_step_db.value) < 3 * found.level_step_db.u


@pytest.mark.parametrize("label", [PLAIN, RESISTOR], ids=["plain", "resistor"])
def test_unpowered_conduction_is_told_by_level_harmonics_and_charge(label: RunLabel) -> None:
    """A clamp whose rail charges: loud is held back, harmonics rise, takes drift."""
    rig = rig_with(CLAMP)
    cable = takes_of(rig, COUPLER if label is PLAIN else CABLE_100K, run_id="01")
    takes = takes_of(rig, label)
    movement = find_movement(takes, SIGNAL)
    assert movement is not None
    assert (movement.kind, movement.loud_only, movement.own) == ("settling", True, True)
    found = find_linearity("02", takes, cable, SIGNAL, movement=movement)
    assert found is not None
    assert (found.level_dependent, found.harmonics_raised, found.charging) == ("yes",) * 3
    assert found.level_step_db is not None
    assert found.level_step_db.value < -0.1
    assert found.over_reference_db is not None
    assert found.over_reference_db.value > 40
    even, odd = (next(h.level_db for h in found.harmonics if h.order == n) for n in (2, 3))
    assert odd is not None
    assert even is None or even.value < odd.value - 15  # what re-centres itself has no even ones


def test_conduction_is_worse_through_the_resistor_and_gone_at_low_level() -> None:
    """At 1 V, 100 kΩ loses dB where 150 Ω loses tenths; 20 dB lower neither loses anything."""
    lost = {}
    for label, cable in ((PLAIN, COUPLER), (RESISTOR, CABLE_100K)):
        for drop in (0.0, -26.0):
            signal = msgspec.structs.replace(SIGNAL, level_dbfs=SIGNAL.level_dbfs + drop)
            rig = rig_with(CLAMP)
            soft = takes_of(rig, cable, 1, signal), takes_of(rig, label, 1, signal)
            ratio = ratio_to_reference(join_takes(soft[1]), [join_takes(soft[0])])
            band = (ratio.f_hz > 200) & (ratio.f_hz < 2000)
            lost[label.feed, drop] = 20 * float(np.log10(np.mean(np.abs(ratio.t[band]))))
    assert lost["resistor", 0.0] < 5 * lost["plain", 0.0] < -0.02
    assert abs(lost["plain", -26.0]) < 0.02
    assert abs(lost["resistor", -26.0]) < 0.02


def test_rail_charges_with_its_time_constant() -> None:
    """Against the closed form: a square wave charges the rail through R with R C, no leak."""
    rate, source, ohm, farad = 48_000, 9e3, 1e3, 10e-6
    volts = np.where(np.arange(rate) // 24 % 2, 2.0, -2.0)
    rail = rail_voltage(volts, rate, Clamp(0.5, ohm, farad, 1e12), source, 0.0)
    t = (np.arange(len(rail)) + 1) * 1e-3
    assert rail == pytest.approx(1.5 * (1 - np.exp(-t / ((source + ohm) * farad))), abs=0.01)
    leaking = rail_voltage(np.zeros(rate), rate, Clamp(0.5, ohm, farad, 1e4), source, 1.0)
    assert leaking == pytest.approx(np.exp(-t / (1e4 * farad)), rel=1e-9)


def test_tremolo_rate_and_depth() -> None:
    """Both within three of their uncertainties, whatever the phase at which a take begins."""
    for row in movement_recovered(range(1, 9)):
        for truth, found in zip(row.truths, row.found, strict=True):
            assert abs(found.value - truth) < 3 * found.u, row.measure
            assert found.u < 0.01 * truth
    assert (RATE_HZ, DEPTH_DB) == (4.7, 0.8)


def test_tremolo_is_the_pedals_own_and_is_no_silicon() -> None:
    """Loud and soft tones stand at different moments: no conclusion on level or charge."""
    rig = rig_with(".tremolo rate 5.3 depth 2")
    cable, takes = takes_of(rig, COUPLER, run_id="01"), takes_of(rig, PLAIN)
    movement = find_movement(takes, SIGNAL)
    assert movement is not None
    assert movement.own
    found = find_linearity("02", takes, cable, SIGNAL, movement=movement)
    assert found is not None
    assert (found.level_dependent, found.charging, found.level_step_db) == ("open", "open", None)
    refused = Finding("gain_drift", "refuse", "1 dB", "The level moved.", "Repeat.", "02/1")
    other = Finding("hum", "look", "30 dB", "Hum.", "Battery.", "02/1")
    told = explain_movement([refused, other], takes, SIGNAL, PLAIN)
    assert [(f.code, f.grade) for f in told] == [("hum", "look"), ("moves", "look")]
    assert "5.30 times a second" in told[1].number
    assert explain_movement([refused], takes, SIGNAL, COUPLER) == (refused,)


def test_a_knob_is_not_a_tremolo() -> None:
    """A gain that moves once in a take stays refused: it is nobody's own."""
    takes = list(takes_of(rig_with(""), PLAIN))
    tones = tuple(
        replace(t, level_dbfs=t.level_dbfs + (0.5 if t.block == "tones_after" else 0.0))
        for t in takes[1].tones
    )
    moved = [takes[0], replace(takes[1], tones=tones)]
    movement = find_movement(moved, SIGNAL)
    assert movement is not None
    assert not movement.own
    refused = Finding("gain_drift", "refuse", "0.5 dB", "The level moved.", "Repeat.", "02/2")
    assert explain_movement([refused], moved, SIGNAL, PLAIN) == (refused,)


def test_a_gate_is_told_by_its_soft_tone() -> None:
    """Shut below 100 mV: the soft tone is gone, the loud one is there."""
    takes = takes_of(rig_with(".gate at 100m hold 10m"), PLAIN)
    movement = find_movement(takes, SIGNAL)
    assert movement is not None
    assert (movement.kind, movement.own) == ("gated", True)
    assert movement.gate_db > 40


def test_latency_and_band_edge() -> None:
    """1.3 ms and 17 kHz: within three u, to nanoseconds with a check cable, and told without."""
    for row in latency_recovered(range(1, 4)):
        for truth, found in zip(row.truths, row.found, strict=True):
            low, high = found.interval(0.99)
            assert low < truth < high, row.measure
    assert (DELAY_S, EDGE_HZ) == (1.3e-3, 17_000.0)


def test_level_step_through_the_whole_interface() -> None:
    """A cubic path on the ordinary interface: within four u of noise alone."""
    (row,) = steps_recovered(range(1, 5))
    for truth, found in zip(row.truths, row.found, strict=True):
        assert abs(found.value - truth) < 4 * found.u


BLEEDING = """.title Bleeder
.about A wire, with an effect that gets across.
.family wire
.footswitch mechanical-latching
.bypass bypass
.common
Cj IN 0 6p
.state bypass
Rsw IN OUT 0.05
Cx e OUT {across}
E1 e 0 IN 0 20
.state engaged
Rin IN 0 1M
E1 e 0 IN 0 20
Ro e OUT 470
Cx IN OUT 2p
.state dead
Rin IN 0 1M
Cx IN OUT 2p
Rvol OUT 0 100k
.state quiet
Rsw IN OUT 0.05
.table
on a bypass
on b engaged
off a quiet
off b dead
"""


POWERS: tuple[Power, ...] = ("on", "off")
POSITIONS: tuple[Position, ...] = ("a", "b")
STATES = {
    f"{power}-{position}": RunLabel(
        "pedal", "resistor", power=power, position=position, resistor_ohm=100e3
    )
    for power in POWERS
    for position in POSITIONS
}


def bleed_ratios(across: str, model: InterfaceModel) -> dict[str, Ratio]:
    """Ratios of all four states with the resistor lead, and of a run with nothing plugged in."""
    pedal = parse_pedal(BLEEDING.format(across=across), "bleeder")
    rig = SimulatedRig(Scenario(pedal, interface=model, leads=Leads.ideal()))
    labels = {**STATES, "unplugged": RunLabel("unplugged", "resistor", resistor_ohm=100e3)}
    cable = join_takes(takes_of(rig, CABLE_100K, run_id="01"))
    out = {}
    for name, label in labels.items():
        located = takes_of(rig, label, run_id=name)
        out[name] = ratio_to_reference(join_takes(located), [cable])
    return out


def test_bleed_both_ways() -> None:
    """The effect 20 times amplified through 0.05 pF, and 2 pF past an effect that is off."""
    model = InterfaceModel(crosstalk_db=-140.0)
    ratios = bleed_ratios("0.05p", model)
    runs = [(label, ratios[name]) for name, label in STATES.items()]
    unplugged = [(RunLabel("unplugged", "resistor"), ratios["unplugged"])]
    effect, bypass = find_bleed(runs, "a", unplugged)
    assert (effect.kind, bypass.kind) == ("effect_in_bypass", "bypass_when_engaged")
    assert effect.unplugged
    heard = {level.f_hz: level for level in effect.levels}
    assert heard[100.0].level_db is None
    assert heard[100.0].below_db < -55
    told = heard[10_000.0].level_db
    assert told is not None
    # The effect drives 19 times the line's own voltage through 0.05 pF, over the line's impedance.
    w, leads = 2j * math.pi * 10_000.0, Leads.ideal()
    line = 1 / (1 / leads.resistor_ohm + 1 / model.input_ohm
                + w * (leads.return_f + model.input_f + 6e-12))  # fmt: skip
    low, high = told.interval()
    assert low < 20 * math.log10(abs(19 * w * 0.05e-12 * line)) < high
    at_10k = next(level for level in bypass.levels if level.f_hz == 10_000.0)
    assert at_10k.level_db is not None
    low, high = at_10k.level_db.interval()
    truth = dead_level_db(10_000.0, model)
    assert low - 0.1 < truth < high + 0.1
    assert find_bleed(runs, None) == ()


def dead_level_db(f_hz: float, model: InterfaceModel) -> float:
    """2 pF into 100 kΩ and all that hangs on the output, over the cable, by hand."""
    w = 2j * math.pi * f_hz
    leads = Leads.ideal()
    load = w * (leads.return_f + model.input_f) + 1 / model.input_ohm
    source = leads.resistor_ohm
    cable = 1 / (1 + source * load)
    there = 1 / (1 + source * (w * 6e-12 + 1e-6 + w * 2e-12))
    across = w * 2e-12 / (w * 2e-12 + load + 1e-5)
    return 20 * math.log10(abs(there * across / cable))


def test_behaviours_of_a_sitting() -> None:
    """Runs find their references, and the run without power, by themselves."""
    rig = rig_with(".bend second 70", CLAMP)
    labels = (COUPLER, PLAIN, msgspec.structs.replace(PLAIN, power="off"))
    reads, ratios, cable = [], {}, None
    for number, label in enumerate(labels, start=1):
        run_id = f"{number:02d}"
        takes = takes_of(rig, label, run_id=run_id)
        run = recorded_run(run_id, label)
        response = join_takes(takes)
        cable = cable or response
        if label.path == "pedal":
            ratios[run_id] = ratio_to_reference(response, [cable])
        seen = RunSeen(run, takes, response, None)
        reads.append(RunRead(run, seen, (), False, None, None, None, takes))
    found = find_behaviours(reads, ratios, SIGNAL)
    assert found["01"].linearity is None
    assert found["01"].steady
    powered, unpowered = found["02"], found["03"]
    assert powered.linearity is not None
    assert powered.linearity.harmonics_raised == "yes"
    assert powered.steady
    assert powered.latency is not None
    assert powered.latency.converts == "open"  # one reference tells nothing of openings
    assert unpowered.linearity is not None
    assert unpowered.linearity.charging == "yes"
    assert not unpowered.steady
    assert unpowered.latency is None
