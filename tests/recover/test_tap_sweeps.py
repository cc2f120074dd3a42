"""Short sweeps instead of a tone: joints that let go are found, timed and sized."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import plan_signal
from loopback.signal.watch import Watch, render_watch, watch_problem
from loopback.signal.watch_sweeps import HIGH_HZ, LOW_HZ, SWEEP_S, frequency_at, sweep_period
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from loopback.switching.moments import moments_of
from loopback.switching.taps import read_taps

RATE = 48_000
WATCH = Watch(steady=True, presses=0, rest_s=13.0, sweep_s=SWEEP_S)
LABEL = RunLabel("pedal", "resistor", "on", "a", None, 100e3, 0.01)


def heard(pedal: str, seed: int = 1, rate_hz: int = RATE) -> F64:
    """What the interface records while the joints of a pedal let go."""
    rig = SimulatedRig(Scenario(pedal, seed=seed))
    request = RunRequest(LABEL, plan_signal(rate_hz, 1.0), 0, watch=WATCH)
    samples = next(iter(rig.play(request))).samples
    assert samples is not None
    return samples[:, 0]


def loss_db(ohm: float, f_hz: float) -> float:
    """Level with a joint over that without, by hand: source, joint, lead and input."""
    leads, model = Leads(), InterfaceModel()
    w = 2j * math.pi * f_hz
    load = w * (leads.return_f + model.input_f + 6e-12) + 1 / model.input_ohm
    source, near = leads.resistor_ohm + model.output_ohm, w * 6e-12
    levels = []
    for joint in (1e3, 1e3 + ohm):
        at_in = near + 1 / (joint + 1 / load)
        levels.append(1 / (1 + source * at_in) / (1 + joint * load))
    return 20 * math.log10(abs(levels[1] / levels[0]))


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_joints_are_timed_and_sized(rate_hz: int) -> None:
    """20 kΩ, 4.7 kΩ and an open joint: moment with the latency, size as the circuit has it."""
    figures = read_taps(heard("kit-cold-joint", rate_hz=rate_hz), rate_hz, WATCH)
    assert [e.at_s for e in figures.events] == pytest.approx([3.2, 7.5, 11.0], abs=0.02)
    assert [e.drops_out for e in figures.events] == [False, False, True]
    for event, ohm in zip(figures.events[:2], (20e3, 4.7e3), strict=True):
        assert event.f_hz is not None
        assert LOW_HZ <= event.f_hz <= HIGH_HZ
        assert event.level_db.value == pytest.approx(loss_db(ohm, event.f_hz), rel=0.35)
        assert event.phase_deg.value < 0
    assert figures.events[0].lasts_s == pytest.approx(0.04, abs=0.011)


@pytest.mark.parametrize("seed", range(3))
def test_a_sound_pedal_has_no_events(seed: int) -> None:
    """Nothing moves, and the least that would show is said."""
    figures = read_taps(heard("harbour-bell", seed), RATE, WATCH)
    assert figures.events == ()
    assert figures.crackles == 0
    assert 0 < figures.level_99_db < 0.02


def test_level_and_phase_of_one_stretch() -> None:
    """A change of -1 dB and 5 degrees for 30 ms is read as that, from any place in the sweep."""
    period = sweep_period(SWEEP_S, RATE)
    quarter = np.fft.irfft(-1j * np.fft.rfft(period), len(period))
    x = np.tile(period, 60)
    turned = np.tile(
        10 ** (-1 / 20) * (math.cos(0.087266) * period + math.sin(0.087266) * quarter), 60
    )
    part = slice(30 * len(period) + 1500, 30 * len(period) + 1500 + round(0.03 * RATE))
    x[part] = turned[part]
    read = moments_of(np.roll(x, 777), RATE, WATCH)
    level = 20 * np.log10(np.abs(read.values))
    phase = np.degrees(np.angle(read.values))
    assert read.f_hz is not None
    assert np.min(level) == pytest.approx(-1.0, abs=0.01)
    assert np.min(phase) == pytest.approx(-5.0, abs=0.05)
    assert np.sum(level < -0.9) == pytest.approx(6, abs=1)


def test_period_is_a_sweep_that_meets_itself() -> None:
    """No step at the seam; from 500 Hz to 12 kHz; the share of a period tells the frequency."""
    period = sweep_period(SWEEP_S, RATE)
    assert abs(period[0] - 0.0) < 1e-12
    ends = np.sin(np.pi * HIGH_HZ / RATE) * 2  # the most that neighbours differ by
    assert abs(period[0] - period[-1]) < ends
    crossings = np.flatnonzero((period[:-1] <= 0) & (period[1:] > 0))
    spacing = np.diff(crossings)
    assert RATE / spacing[0] == pytest.approx(LOW_HZ, rel=0.12)
    assert frequency_at(0.0) == LOW_HZ
    assert frequency_at(1.0) == pytest.approx(HIGH_HZ)
    middle = len(period) // 2
    near = int(np.argmin(np.abs(crossings - middle)))
    assert RATE / np.mean(np.diff(crossings[near - 5 : near + 6])) == pytest.approx(
        frequency_at(0.5), rel=0.03
    )


def test_sweeps_are_played_between_fades() -> None:
    """At the level asked for, all the time; and never while somebody presses."""
    x = render_watch(WATCH, RATE)
    assert np.max(np.abs(x)) == pytest.approx(0.1, rel=0.01)
    assert len(x) == round(WATCH.seconds * RATE)
    assert watch_problem(Watch(steady=True, presses=4, sweep_s=0.1)) is not None
    assert watch_problem(Watch(steady=False, presses=0, sweep_s=0.1)) is not None
    with pytest.raises(ArgumentError, match="short sweep"):
        render_watch(Watch(steady=True, presses=0, sweep_s=3.0), RATE)


@pytest.mark.parametrize("sweeps", [True, False])
def test_a_long_drop_out_is_one_event(sweeps: bool) -> None:
    """A line that is broken for 1.5 s is one drop-out of 1.5 s, not its two edges."""
    watch = WATCH if sweeps else Watch(steady=True, presses=0, rest_s=8.0)
    x = render_watch(watch, RATE) + 1e-6 * np.random.default_rng(1).standard_normal(
        round(watch.seconds * RATE)
    )
    x[5 * RATE : round(6.5 * RATE)] *= 1e-3
    (event,) = read_taps(x, RATE, watch).events
    assert event.drops_out
    assert event.at_s == pytest.approx(4.0, abs=0.01)
    assert event.lasts_s == pytest.approx(1.5, abs=0.02)
    assert event.level_db.value == pytest.approx(-60.0, abs=2.0)
