"""What differs from run to run has the stated size, and arrives in the recordings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import layout_of, plan_signal, render_take
from loopback.simulate.imperfections_drift import drift_of_run, mating_of_run, take_generator
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from tests.reference.simple_readings import at, lock_in, middle_of, tone_of, transfer_of

Real = NDArray[np.float64]

RATE = 48_000
SIGNAL = plan_signal(RATE, 1.0)
LEADS = Leads.ideal()
SEEDS = range(400)
PLAIN = RunLabel("coupler", "plain")


def _drawn(interface: InterfaceModel, run: int, leads: Leads = LEADS) -> dict[str, Real]:
    drifts = [drift_of_run(interface, leads, seed, run) for seed in SEEDS]
    names = ("gain_db", "check_gain_db", "treble_db", "delay_s", "lead_a_f", "return_f")
    return {name: np.array([getattr(d, name) for d in drifts]) for name in names}


def test_independent_gain_drift() -> None:
    """Standard deviation as stated in every run, no memory from one to the next."""
    interface = InterfaceModel.ideal(gain_drift_db=0.01)
    one, two = _drawn(interface, 4)["gain_db"], _drawn(interface, 5)["gain_db"]
    for drawn in (one, two):
        # 400 draws: the standard deviation is itself uncertain by 3.5 %.
        assert np.std(drawn) == pytest.approx(0.01, rel=0.11)
        assert abs(np.mean(drawn)) < 0.0015
    assert abs(np.corrcoef(one, two)[0, 1]) < 0.15


def test_random_walk_of_the_gain() -> None:
    """The variance grows with the number of runs, by equal steps that have no memory."""
    interface = InterfaceModel.ideal(gain_walk_db=0.01)
    walks = np.array([_drawn(interface, run)["gain_db"] for run in range(1, 10)])
    assert np.std(walks[0]) == pytest.approx(0.01, rel=0.11)
    assert np.std(walks[8]) == pytest.approx(0.03, rel=0.11)
    steps = np.diff(walks, axis=0)
    assert np.std(steps) == pytest.approx(0.01, rel=0.04)
    assert abs(np.corrcoef(steps[0], steps[1])[0, 1]) < 0.15


@pytest.mark.parametrize("shared", [0.0, 0.5, 1.0])
def test_check_channel_shares_part_of_the_gain_drift(shared: float) -> None:
    """The correlation between the channels is the stated share; each has the full size."""
    interface = InterfaceModel.ideal(gain_drift_db=0.01, gain_walk_db=0.01, gain_shared=shared)
    drawn = _drawn(interface, 1)
    assert np.std(drawn["check_gain_db"]) == pytest.approx(0.01 * math.sqrt(2), rel=0.11)
    found = np.corrcoef(drawn["gain_db"], drawn["check_gain_db"])[0, 1]
    assert found == pytest.approx(shared, abs=0.12)


def test_treble_delay_and_leads() -> None:
    """Treble and delay are drawn anew each time, the leads walk."""
    interface = InterfaceModel.ideal(treble_drift_db=0.005, delay_drift_s=1e-9)
    drawn = _drawn(interface, 9, Leads.ideal(walk_f=0.1e-12))
    assert np.std(drawn["treble_db"]) == pytest.approx(0.005, rel=0.11)
    assert np.std(drawn["delay_s"]) == pytest.approx(1e-9, rel=0.11)
    for name in ("lead_a_f", "return_f"):
        assert np.std(drawn[name]) == pytest.approx(0.3e-12, rel=0.11)
    assert abs(np.corrcoef(drawn["lead_a_f"], drawn["return_f"])[0, 1]) < 0.15


def test_jumps_cover_their_range_evenly() -> None:
    """Every whole number within the range is as likely as any other."""
    interface = InterfaceModel.ideal(latency_jump_samples=2)
    jumps = [drift_of_run(interface, LEADS, seed, 1).jump_samples for seed in SEEDS]
    counts = np.bincount(np.array(jumps) + 2)
    assert len(counts) == 5
    # Chi-square with 4 degrees of freedom: 18.5 is passed once in a thousand.
    assert np.sum((counts - 80) ** 2 / 80) < 18.5


def test_mating_scatter() -> None:
    """Each end has the stated scatter, of its own."""
    drawn = np.array([mating_of_run(Leads(mating_f=0.2e-12), seed, 3) for seed in SEEDS])
    assert np.std(drawn[:, 0]) == pytest.approx(0.2e-12, rel=0.11)
    assert np.std(drawn[:, 1]) == pytest.approx(0.2e-12, rel=0.11)
    assert abs(np.corrcoef(drawn.T)[0, 1]) < 0.15


def test_takes_have_their_own_chance() -> None:
    """No two recordings draw the same numbers, and the same recording always does."""
    first = [take_generator(1, run, take).random() for run in range(1, 6) for take in range(4)]
    again = [take_generator(1, run, take).random() for run in range(1, 6) for take in range(4)]
    assert first == again
    assert len(set(first)) == len(first)


def _runs(interface: InterfaceModel, count: int, takes: int = 1, check: bool = False) -> list[Real]:
    rig = SimulatedRig(Scenario("harbour-bell", interface, LEADS, 11, check))
    found = []
    for _ in range(count):
        for recorded in rig.play(RunRequest(PLAIN, SIGNAL, takes)):
            assert recorded.samples is not None
            found.append(recorded.samples)
    return found


def test_gain_drift_arrives_in_the_recordings() -> None:
    """Each run's tone stands where its drift puts it, on either channel, to 1e-6 dB."""
    interface = InterfaceModel.ideal(gain_drift_db=0.01, gain_walk_db=0.02)
    tone = tone_of(layout_of(SIGNAL), 1000.0, -12.0)
    for run, x in enumerate(_runs(interface, 4, check=True), start=1):
        drift = drift_of_run(interface, LEADS, 11, run)
        levels = [
            20 * math.log10(abs(lock_in(middle_of(x[:, c], tone, 480), 1000, RATE))) for c in (0, 1)
        ]
        at_pedal = 20 * math.log10(abs(1 + 150 * (1e-6 + 2j * math.pi * 1000 * 700e-12)))
        assert levels[0] == pytest.approx(-12 - at_pedal + drift.gain_db, abs=1e-6)
        assert levels[1] == pytest.approx(-12 + drift.check_gain_db, abs=1e-6)


def test_gain_differs_from_take_to_take() -> None:
    """Within a run the takes scatter by the stated amount, and only they do."""
    interface = InterfaceModel.ideal(gain_take_db=0.01)
    takes = [20 * math.log10(np.std(x)) for x in _runs(interface, 8, takes=5)]
    # 40 takes: the standard deviation is itself uncertain by 11 %.
    assert np.std(takes) == pytest.approx(0.01, rel=0.35)


def test_treble_and_delay_arrive_in_the_recordings() -> None:
    """At 20 kHz the level differs by the run's treble drift, at 20 Hz not; the phase by ωd."""
    still = _runs(InterfaceModel.ideal(), 1)[0][:, 0]
    interface = InterfaceModel.ideal(treble_drift_db=0.05, delay_drift_s=100e-9)
    drift = drift_of_run(interface, LEADS, 11, 1)
    moved = _runs(interface, 1)[0][:, 0]
    take = render_take(SIGNAL)
    f_hz, h0 = transfer_of(take, still, RATE)
    _, h = transfer_of(take, moved, RATE)
    ratio = h / h0
    assert 20 * math.log10(abs(at(f_hz, ratio, 20_000))) == pytest.approx(
        drift.treble_db, abs=0.01 * abs(drift.treble_db)
    )
    assert abs(20 * math.log10(abs(at(f_hz, ratio, 20)))) < 1e-5
    turn = -np.angle(at(f_hz, ratio, 20_000)) / (2 * np.pi * 20_000)
    assert turn == pytest.approx(drift.delay_s, rel=1e-3)
