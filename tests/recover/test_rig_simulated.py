"""The simulated rig: pedal, power, position and every run field; the same each time."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from loopback.errors import RigError
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig, simulated_pedals, simulated_rig
from loopback.signal.take import layout_of, plan_signal
from loopback.simulate.imperfections_drift import mating_of_run
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from tests.reference.simple_readings import at, band_rms, lock_in, middle_of, tone_of
from tests.reference.simulated_runs import (
    FULL_SCALE_V,
    PEDAL,
    PLAIN,
    RATE,
    RESISTOR,
    SIGNAL,
    Real,
    changed,
    ideal_rig,
    response_of,
    same,
    silence_of,
    take_of,
)

FILTER = """\
.title Plain Filter
.about A shunt before, a series part, a shunt after; latching relay.
.family test
.footswitch relay-latching
.bypass bypass
.state bypass
Rp IN 0 1M
Rf IN OUT 10k
Cf OUT 0 1n
.state quiet
Cx IN OUT 1p
Ci IN 0 5p
Ro OUT 0 100k
.table
on  a bypass
on  b quiet
off a last
off b last
"""

CONVERTER = """\
.title Plain Converter
.about Delays, ends at 10 kHz, and limits.
.family test
.footswitch none
.bypass through
.state through
Ri IN 0 1M
E1 e 0 IN 0 1
Ro e OUT 100
.delay 2m
.band 10k
.table
on  none through
off none through
"""

LIMITER = """\
.title Plain Limiter
.about A follower that limits at 0.2 V.
.family test
.footswitch none
.bypass through
.state through
Ri IN 0 1M
E1 e 0 IN 0 1
Ro e OUT 1
.softclip 0.2
.table
on  none through
off none through
"""


def _pedal(folder: Path, text: str) -> Path:
    path = folder / "own.cir"
    path.write_text(text, encoding="utf-8")
    return path


def test_all_samples_depend_on_scenario_and_history_alone() -> None:
    """Two rigs with one seed give equal bits run by run; another seed, or run, gives others."""

    def evening(seed: int) -> list[Real]:
        rig = simulated_rig("salt-lantern", seed, check_cable=True)
        labels = (RESISTOR, PEDAL, changed(PEDAL, position="b"), RESISTOR)
        found = [r.samples for label in labels for r in rig.play(RunRequest(label, SIGNAL, 2, 0.5))]
        return [x for x in found if x is not None]

    first, again, other = evening(1), evening(1), evening(2)
    assert len(first) == 12
    assert all(np.array_equal(a, b) for a, b in zip(first, again, strict=True))
    assert not any(np.array_equal(a, b) for a, b in zip(first, other, strict=True))
    assert not np.array_equal(first[0], first[1])
    assert not np.array_equal(first[0], first[9])


def test_an_examination_can_be_taken_up_again() -> None:
    """A rig that is told how many runs were played goes on as if it had played them."""
    scenario = Scenario("harbour-bell", seed=9, check_cable=True)
    whole = SimulatedRig(scenario)
    take_of(whole, RESISTOR)
    rest = simulated_rig("harbour-bell", 9, check_cable=True, played=1)
    assert np.array_equal(take_of(whole, PEDAL), take_of(rest, PEDAL))


def test_facts() -> None:
    """Name, channels and full scale are those of the scenario."""
    facts = ideal_rig("quarry-lamp", check_cable=True).facts()
    assert (facts.kind, facts.name) == ("simulator", "Quarry Lamp")
    assert (facts.path_channel, facts.check_channel, facts.full_scale_dbu) == (0, 1, 10.0)
    assert ideal_rig().facts().check_channel is None


def test_every_pedal_of_the_package_can_be_played() -> None:
    """Each name that is offered plays in all four combinations of power and position."""
    names = simulated_pedals()
    assert len(names) > 20
    short = Leads(walk_f=0.0)
    for name in names[::9]:
        rig = ideal_rig(name, leads=short)
        for power in ("on", "off"):
            for position in ("a", "b"):
                label = changed(PEDAL, power=power, position=position)
                assert np.all(np.isfinite(take_of(rig, label)))


def test_an_interface_with_one_rate_refuses_others() -> None:
    """The message names both rates, and the run does not count as played."""
    rig = ideal_rig(rate_hz=44_100)
    with pytest.raises(RigError, match="runs at 44100 Hz, not at 48000 Hz"):
        rig.play(RunRequest(PLAIN, SIGNAL))


def test_pedal_forward_and_reversed(tmp_path: Path) -> None:
    """The whole way to the samples: a filter in line, in both directions, to 1e-6."""
    rig = ideal_rig(_pedal(tmp_path, FILTER))
    for label in (PEDAL, changed(PEDAL, direction="reversed")):
        f_hz, h = response_of(rig, label)
        s = 2j * np.pi * f_hz
        shunts = [1e-6 + 0 * s, s * 1e-9]
        first, last = shunts[::-1] if label.direction == "reversed" else shunts
        source = 1 / (1 / 150 + s * 300e-12)
        emf = source / 150
        node = 1 / (1 / (source + 100e3) + first)
        emf = emf * node / (source + 100e3)
        closed = emf / (1 + (node + 10e3) * (last + 1e-6 + s * 400e-12))
        assert np.max(np.abs(h - closed)) < 1e-6


def test_power_and_position_choose_the_state(tmp_path: Path) -> None:
    """A latching relay keeps, without power, the state it had with power."""
    rig = ideal_rig(_pedal(tmp_path, FILTER))
    passing, stuck = response_of(rig, PEDAL), response_of(rig, changed(PEDAL, position="b"))
    assert abs(at(*stuck, 1000)) < 0.01 * abs(at(*passing, 1000))
    unpowered = changed(PEDAL, power="off", position="a")
    assert same(response_of(rig, unpowered), stuck)
    assert same(response_of(rig, PEDAL), passing)
    assert same(response_of(rig, unpowered), passing)
    # A reference between two pedal runs is no power-on, and no word on power means on, as found.
    take_of(rig, RESISTOR)
    assert same(response_of(rig, unpowered), passing)
    assert same(response_of(rig, changed(PEDAL, power=None, position=None)), passing)


def test_pedal_noise(tmp_path: Path) -> None:
    """100 nV/√Hz at the output: 14.1 µV in 20 kHz, over an otherwise silent setup."""
    rig = ideal_rig(_pedal(tmp_path, FILTER.replace(".state quiet", ".state quiet\n.noise 100n")))
    found = (
        band_rms(silence_of(rig, changed(PEDAL, position="b"))[:, 0], RATE, 20, 20_000)
        * FULL_SCALE_V
    )
    assert found == pytest.approx(100e-9 * math.sqrt(19_980), rel=0.01)


def test_digital_pedal(tmp_path: Path) -> None:
    """Its delay is 2 ms, its band ends at 10 kHz."""
    f_hz, h = response_of(ideal_rig(_pedal(tmp_path, CONVERTER)), changed(PEDAL, feed="plain"))
    lost = 20 * np.log10(np.abs(h) / abs(at(f_hz, h, 1000)))
    assert at(f_hz, lost, 10_000).real == pytest.approx(-3.01, abs=0.02)
    assert at(f_hz, lost, 8000).real == pytest.approx(0.0, abs=0.01)
    assert at(f_hz, lost, 15_000).real < -80
    turned = h * np.exp(2j * np.pi * f_hz * 2e-3)
    # What remains is the follower's output, 100 Ω into 400 pF: 40 ns.
    assert abs(np.angle(at(f_hz, turned, 1000))) < 2 * np.pi * 1000 * 100e-9


def test_limiting_pedal(tmp_path: Path) -> None:
    """A 1 kHz tone has the harmonics of 0.2 V · tanh(v / 0.2 V), by a direct Fourier sum; small
    signals pass as they are."""
    rig = ideal_rig(_pedal(tmp_path, LIMITER))
    plain = changed(PEDAL, feed="plain")
    turn = 2 * np.pi * np.arange(4096) / 4096
    volts = SIGNAL.amplitude * FULL_SCALE_V * np.sin(turn)
    limited = 0.2 * np.tanh(volts / 0.2)
    tone = middle_of(take_of(rig, plain)[:, 0], tone_of(layout_of(SIGNAL), 1000.0, -12.0), 480)
    for order in (1, 3, 5, 7):
        expected = 2 * np.mean(limited * np.sin(order * turn))
        found = abs(lock_in(tone, 1000 * order, RATE)) * FULL_SCALE_V
        assert found == pytest.approx(abs(expected), rel=3e-3)
    assert abs(lock_in(tone, 2000, RATE)) * FULL_SCALE_V < 1e-5
    soft_signal = plan_signal(RATE, 1.0, level_dbfs=-60.0)
    soft = next(rig.play(RunRequest(plain, soft_signal, 1))).samples
    assert soft is not None
    assert np.max(np.abs(soft)) == pytest.approx(10 ** (-60 / 20), rel=2e-3)


def test_resistor_value_and_end() -> None:
    """Half the resistor, and the resistor at the other end of the lead, are other circuits."""
    rig = ideal_rig()
    usual = response_of(rig, RESISTOR)
    half = response_of(rig, changed(RESISTOR, resistor_ohm=50e3))
    far = response_of(rig, changed(RESISTOR, resistor_end="interface"))
    for (f_hz, h), r_ohm, c_farad in (
        (usual, 100e3, 4e-10),
        (half, 50e3, 4e-10),
        (far, 1e5, 7e-10),
    ):
        node = 1e-6 + 2j * np.pi * f_hz * c_farad
        assert np.max(np.abs(h * (1 + (r_ohm + 150) * node) - 1)) < 0.01


def _level_at_15k(c_farad: float) -> float:
    """Closed form of the resistor feed with a capacitance at the node."""
    omega = 2 * np.pi * 15_000
    node = 1e-6 + 1j * omega * c_farad
    return 1 / abs(1 + (100e3 + 150) * node + 150j * omega * 300e-12 * (1 + 1e5 * node))


def test_an_end_that_stays_plugged_keeps_its_capacitance() -> None:
    """Pressing the footswitch changes nothing at the jacks, plugging again does; the coupler has
    both ends as they were plugged with it."""
    leads = Leads.ideal(mating_f=20e-12)
    rig = ideal_rig("harbour-bell", leads=leads)
    labels = (
        PEDAL,
        changed(PEDAL, power="off"),
        changed(PEDAL, mating=1),
        RESISTOR,
        changed(RESISTOR, mating=1),
        changed(RESISTOR, mating=1),
    )
    levels = [abs(at(*response_of(rig, label), 15_000)) for label in labels]
    assert levels[0] == levels[1]
    assert levels[4] == levels[5]
    assert len({round(level, 9) for level in levels}) == 4
    both = sum(mating_of_run(leads, 5, 4))
    assert levels[3] == pytest.approx(_level_at_15k(400e-12 + both), rel=1e-4)


def test_another_feeding_lead_is_plugged_at_the_input_only() -> None:
    """Resistor lead, plain lead, resistor lead again: the input end is as plugged in run 3, the
    output end still as in run 1."""
    leads = Leads.ideal(mating_f=20e-12)
    rig = ideal_rig("harbour-bell", leads=leads)
    labels = (PEDAL, changed(PEDAL, feed="plain"), PEDAL)
    first, _, last = [abs(at(*response_of(rig, label), 15_000)) for label in labels]
    wiring = 412e-12
    plugged = [mating_of_run(leads, 5, run) for run in (1, 2, 3)]
    assert first == pytest.approx(_level_at_15k(wiring + sum(plugged[0])), rel=1e-4)
    assert last == pytest.approx(_level_at_15k(wiring + plugged[2][0] + plugged[0][1]), rel=1e-4)


def test_unplugged_hears_leakage_only() -> None:
    """Nothing but crosstalk arrives, with whatever pedal."""
    rig = ideal_rig(interface=InterfaceModel.ideal(crosstalk_db=-90.0))
    assert abs(at(*response_of(rig, RunLabel("unplugged", "plain")), 1000)) == pytest.approx(
        10 ** (-90 / 20), rel=0.01
    )
