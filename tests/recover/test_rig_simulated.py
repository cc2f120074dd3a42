"""The simulated rig: pedal, power, position, every run field, every mistake; the same each time."""

from __future__ import annotations

import math
from functools import partial
from pathlib import Path
from typing import Any, cast

import msgspec
import numpy as np
import pytest
from numpy.typing import NDArray

from loopback.errors import ArgumentError, RigError
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded, RunRequest
from loopback.rig.simulated import SimulatedRig, simulated_pedals, simulated_rig
from loopback.signal.take import layout_of, plan_signal, render_take
from loopback.simulate.damage import zero_block
from loopback.simulate.imperfections_drift import mating_of_run
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.line import MONITOR_DELAY_S
from loopback.simulate.scenario import Damage, Mistake, MistakeKind, Scenario
from tests.reference.simple_readings import at, band_rms, lock_in, middle_of, tone_of, transfer_of

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

RATE = 48_000
SIGNAL = plan_signal(RATE, 1.0)
TAKE = render_take(SIGNAL)
PLAIN = RunLabel("coupler", "plain")
RESISTOR = RunLabel("coupler", "resistor", resistor_ohm=100e3)
PEDAL = RunLabel("pedal", "resistor", power="on", position="a", resistor_ohm=100e3)
FULL_SCALE_V = InterfaceModel.ideal().full_scale_v

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


def _rig(pedal: str | Path = "harbour-bell", **changes: Any) -> SimulatedRig:
    fields: dict[str, Any] = {
        "interface": InterfaceModel.ideal(),
        "leads": Leads.ideal(),
        "seed": 5,
    }
    return SimulatedRig(Scenario(pedal, **(fields | changes)))


def _mistaken(kind: MistakeKind, value: float = 0.0, **changes: Any) -> SimulatedRig:
    return _rig(mistakes=(Mistake(kind, value=value),), **changes)


def _recorded(rig: SimulatedRig, label: RunLabel, takes: int = 1) -> list[Recorded]:
    return list(rig.play(RunRequest(label, SIGNAL, takes)))


def _samples(rig: SimulatedRig, label: RunLabel) -> Real:
    samples = _recorded(rig, label)[0].samples
    assert samples is not None
    return samples


def _response(rig: SimulatedRig, label: RunLabel, channel: int = 0) -> tuple[Real, Complex]:
    f_hz, h = transfer_of(TAKE, _samples(rig, label)[:, channel], RATE)
    return f_hz, h * np.exp(2j * np.pi * f_hz * 480 / RATE)


def _same(one: tuple[Real, Complex], two: tuple[Real, Complex], off: float = 1e-6) -> bool:
    return bool(np.max(np.abs(one[1] - two[1])) < off)


def _with(label: RunLabel, **changes: Any) -> RunLabel:
    return msgspec.structs.replace(label, **changes)


def test_all_samples_depend_on_scenario_and_history_alone() -> None:
    """Two rigs with one seed give equal bits run by run; another seed, or run, gives others."""

    def evening(seed: int) -> list[Real]:
        rig = simulated_rig("salt-lantern", seed, check_cable=True)
        labels = (RESISTOR, PEDAL, _with(PEDAL, position="b"), RESISTOR)
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
    _recorded(whole, RESISTOR)
    rest = SimulatedRig(scenario, played=1)
    assert np.array_equal(_samples(whole, PEDAL), _samples(rest, PEDAL))


def test_facts() -> None:
    """Name, channels and full scale are those of the scenario."""
    facts = _rig("quarry-lamp", check_cable=True).facts()
    assert (facts.kind, facts.name) == ("simulator", "Quarry Lamp")
    assert (facts.path_channel, facts.check_channel, facts.full_scale_dbu) == (0, 1, 10.0)
    assert _rig().facts().check_channel is None


def test_every_pedal_of_the_package_can_be_played() -> None:
    """Each name that is offered plays in all four combinations of power and position."""
    names = simulated_pedals()
    assert len(names) > 20
    short = Leads(walk_f=0.0)
    for name in names[::9]:
        rig = _rig(name, leads=short)
        for power in ("on", "off"):
            for position in ("a", "b"):
                label = _with(PEDAL, power=power, position=position)
                assert np.all(np.isfinite(_samples(rig, label)))


def test_an_interface_with_one_rate_refuses_others() -> None:
    """The message names both rates, and the run does not count as played."""
    rig = _rig(rate_hz=44_100)
    with pytest.raises(RigError, match="runs at 44100 Hz, not at 48000 Hz"):
        rig.play(RunRequest(PLAIN, SIGNAL))


def test_pedal_forward_and_reversed(tmp_path: Path) -> None:
    """The whole way to the samples: a filter in line, in both directions, to 1e-6."""
    rig = _rig(_pedal(tmp_path, FILTER))
    for label in (PEDAL, _with(PEDAL, direction="reversed")):
        f_hz, h = _response(rig, label)
        s = 2j * np.pi * f_hz
        first, last = 1e-6, s * 1e-9
        if label.direction == "reversed":
            first, last = last, first
        source = 1 / (1 / 150 + s * 300e-12)
        emf = source / 150
        node = 1 / (1 / (source + 100e3) + first)
        emf = emf * node / (source + 100e3)
        closed = emf / (1 + (node + 10e3) * (last + 1e-6 + s * 400e-12))
        assert np.max(np.abs(h - closed)) < 1e-6


def test_power_and_position_choose_the_state(tmp_path: Path) -> None:
    """A latching relay keeps, without power, the state it had with power."""
    rig = _rig(_pedal(tmp_path, FILTER))
    passing, stuck = _response(rig, PEDAL), _response(rig, _with(PEDAL, position="b"))
    assert abs(at(*stuck, 1000)) < 0.01 * abs(at(*passing, 1000))
    unpowered = _with(PEDAL, power="off", position="a")
    assert _same(_response(rig, unpowered), stuck)
    assert _same(_response(rig, PEDAL), passing)
    assert _same(_response(rig, unpowered), passing)
    # A reference between two pedal runs is no power-on, and no word on power means on, as found.
    _samples(rig, RESISTOR)
    assert _same(_response(rig, unpowered), passing)
    assert _same(_response(rig, _with(PEDAL, power=None, position=None)), passing)


def test_pedal_noise(tmp_path: Path) -> None:
    """100 nV/√Hz at the output: 14.1 µV in 20 kHz, over an otherwise silent setup."""
    rig = _rig(_pedal(tmp_path, FILTER.replace(".state quiet", ".state quiet\n.noise 100n")))
    request = RunRequest(_with(PEDAL, position="b"), SIGNAL, 0, 10.0)
    x = next(rig.play(request)).samples
    assert x is not None
    found = band_rms(x[:, 0], RATE, 20, 20_000) * FULL_SCALE_V
    assert found == pytest.approx(100e-9 * math.sqrt(19_980), rel=0.01)


def test_digital_pedal(tmp_path: Path) -> None:
    """Its delay is 2 ms, its band ends at 10 kHz."""
    f_hz, h = _response(_rig(_pedal(tmp_path, CONVERTER)), _with(PEDAL, feed="plain"))
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
    rig = _rig(_pedal(tmp_path, LIMITER))
    plain = _with(PEDAL, feed="plain")
    turn = 2 * np.pi * np.arange(4096) / 4096
    volts = SIGNAL.amplitude * FULL_SCALE_V * np.sin(turn)
    limited = 0.2 * np.tanh(volts / 0.2)
    tone = middle_of(_samples(rig, plain)[:, 0], tone_of(layout_of(SIGNAL), 1000.0, -12.0), 480)
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
    rig = _rig()
    usual = _response(rig, RESISTOR)
    half = _response(rig, _with(RESISTOR, resistor_ohm=50e3))
    far = _response(rig, _with(RESISTOR, resistor_end="interface"))
    for (f_hz, h), r_ohm, c_farad in (
        (usual, 100e3, 4e-10),
        (half, 50e3, 4e-10),
        (far, 1e5, 7e-10),
    ):
        node = 1e-6 + 2j * np.pi * f_hz * c_farad
        assert np.max(np.abs(h * (1 + (r_ohm + 150) * node) - 1)) < 0.01


def test_an_end_that_stays_plugged_keeps_its_capacitance() -> None:
    """Pressing the footswitch changes nothing at the jacks; plugging again does, also at the
    coupler; the return end does not notice a change of the feeding lead."""
    leads = Leads.ideal(mating_f=20e-12)
    rig = _rig("harbour-bell", leads=leads)
    labels = (
        PEDAL,
        _with(PEDAL, power="off"),
        _with(PEDAL, mating=1),
        RESISTOR,
        _with(RESISTOR, mating=1),
        _with(RESISTOR, mating=1),
    )
    levels = [abs(at(*_response(rig, label), 15_000)) for label in labels]
    assert levels[0] == levels[1]
    assert levels[4] == levels[5]
    assert len({round(level, 9) for level in levels}) == 4
    # The coupler of run 4 carries both ends as plugged in run 4.
    in_f, out_f = mating_of_run(leads, 5, 4)
    omega = 2 * np.pi * 15_000
    node = 1e-6 + 1j * omega * (400e-12 + in_f + out_f)
    closed = 1 / abs(1 + (100e3 + 150) * node + 150j * omega * 300e-12 * (1 + 1e5 * node))
    assert levels[3] == pytest.approx(closed, rel=1e-3)


def test_unplugged_hears_leakage_only() -> None:
    """Nothing but crosstalk arrives, with whatever pedal."""
    rig = _rig(interface=InterfaceModel.ideal(crosstalk_db=-90.0))
    assert abs(at(*_response(rig, RunLabel("unplugged", "plain")), 1000)) == pytest.approx(
        10 ** (-90 / 20), rel=0.01
    )


# What the user does otherwise than asked --------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "asked", "really"),
    [
        ("coupler-left-in", PEDAL, RESISTOR),
        ("exchanged", PEDAL, RESISTOR),
        ("exchanged", RESISTOR, PEDAL),
        ("effect-engaged", PEDAL, _with(PEDAL, position="b")),
        ("effect-engaged", _with(PEDAL, position="b"), PEDAL),
        ("line-input", RESISTOR, _with(RESISTOR, load="line")),
        ("resistor-at-interface", RESISTOR, _with(RESISTOR, resistor_end="interface")),
        ("resistor-forgotten", RESISTOR, PLAIN),
        ("resistor-left-in", PLAIN, _with(PLAIN, feed="resistor")),
    ],
)
def test_another_hook_up_than_asked(kind: MistakeKind, asked: RunLabel, really: RunLabel) -> None:
    """The recording is that of the hook-up that was really made, and not of the one asked for."""
    mistaken = _response(_mistaken(kind, pedal="tidal-clock"), asked)
    assert _same(mistaken, _response(_rig("tidal-clock"), really))
    assert not _same(mistaken, _response(_rig("tidal-clock"), asked), 1e-3)


def test_mistakes_concern_the_runs_named() -> None:
    """From run 2 to run 3, and neither before nor after."""
    rig = _rig(mistakes=(Mistake("gain-moved", 2, 3, 1.3),))
    levels = [20 * math.log10(float(np.std(_samples(rig, PLAIN)))) for _ in range(4)]
    assert np.diff(levels) == pytest.approx([1.3, 0.0, -1.3], abs=1e-6)
    assert _samples(_mistaken("coupler-left-in"), PLAIN).shape == (len(TAKE) + 480 + 4800, 1)


def test_digital_return_is_bit_exact() -> None:
    """What is played comes back in whole 24-bit steps, without noise, late by whole samples."""
    rig = _mistaken("digital-return", interface=InterfaceModel(latency_jump_samples=0))
    x = _samples(rig, RESISTOR)[:, 0]
    assert np.array_equal(x[480 : 480 + len(TAKE)], np.rint(TAKE * 2**23) / 2**23)
    silence = next(rig.play(RunRequest(PEDAL, SIGNAL, 0, 0.5))).samples
    assert silence is not None
    assert not np.any(silence)


def test_wrong_channel() -> None:
    """The path is in channel 1; channel 0 has the check cable, or nothing but leakage and noise."""
    usual = _response(_rig(), RESISTOR)
    alone = _mistaken("wrong-channel", interface=InterfaceModel.ideal(crosstalk_db=-80.0))
    x = _samples(alone, RESISTOR)
    assert x.shape[1] == 2
    f_hz, leak = transfer_of(TAKE, x[:, 0], RATE)
    assert abs(at(f_hz, leak, 1000)) == pytest.approx(1e-4, rel=0.01)
    assert _same(_response(_mistaken("wrong-channel"), RESISTOR, channel=1), usual)
    both = _mistaken("wrong-channel", check_cable=True)
    assert _same(_response(both, RESISTOR, channel=1), usual)
    assert abs(at(*_response(both, RESISTOR, channel=0), 1000)) == pytest.approx(1.0, abs=1e-6)


def test_direct_monitoring_makes_a_comb() -> None:
    """H becomes H / (1 − g H exp(−jωτ)); the ripple repeats every 1/τ."""
    f_hz, h0 = _response(_rig(), PLAIN)
    _, h = _response(_mistaken("direct-monitoring", -20.0), PLAIN)
    closed = h0 / (1 - 0.1 * h0 * np.exp(-2j * np.pi * f_hz * MONITOR_DELAY_S))
    assert np.max(np.abs(h - closed)) < 1e-6
    assert 20 * np.log10(np.max(np.abs(h)) / np.min(np.abs(h))) == pytest.approx(1.743, abs=0.01)


def test_direct_monitoring_raises_the_noise() -> None:
    """The noise goes round the loop too: by 1/(1 − g²) in power."""
    quiet, loud = InterfaceModel.ideal(noise_dbfs_a=-80.0), -6.0

    def noise(rig: SimulatedRig) -> float:
        x = next(rig.play(RunRequest(PLAIN, SIGNAL, 0, 10.0))).samples
        assert x is not None
        return band_rms(x[:, 0], RATE, 100, 20_000)

    ratio = noise(_mistaken("direct-monitoring", loud, interface=quiet)) / noise(
        _rig(interface=quiet)
    )
    assert ratio**2 == pytest.approx(1 / (1 - 10 ** (loud / 10)), rel=0.02)


def test_rate_label() -> None:
    """The recording says another rate, its samples are the same."""
    said = _recorded(_mistaken("rate-label", 44_100), PLAIN)[0]
    assert said.rate_hz == 44_100
    assert np.array_equal(said.samples, _recorded(_rig(), PLAIN)[0].samples)


def test_damages_reach_the_recording_named() -> None:
    """Take 2 of run 1 is damaged, the others are not."""
    damage = Damage(1, 2, partial(zero_block, start=30_000, count=64))
    rig = _rig(damages=(damage,))
    one, two = (r.samples for r in _recorded(rig, PLAIN, takes=2))
    assert one is not None
    assert two is not None
    assert not np.any(two[30_000:30_064])
    assert np.array_equal(
        np.delete(one, slice(30_000, 30_064), 0), np.delete(two, slice(30_000, 30_064), 0)
    )
    assert np.any(one[30_000:30_064])


def test_impossible_scenarios_are_refused() -> None:
    """A pedal, a mistake, a seed or a number of takes that does not exist."""
    with pytest.raises(ArgumentError, match="no simulated pedal"):
        simulated_rig("harbour-bel")
    with pytest.raises(ArgumentError, match='no mistake "forgot"'):
        Mistake(cast("MistakeKind", "forgot"))
    with pytest.raises(ArgumentError, match="seed of -1"):
        Scenario("harbour-bell", seed=-1)
    with pytest.raises(ArgumentError, match="-1 takes"):
        _rig().play(RunRequest(PLAIN, SIGNAL, -1))
