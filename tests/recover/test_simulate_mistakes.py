"""What users do otherwise than asked, and damages, arrive in the recordings."""

from __future__ import annotations

import math
from functools import partial
from typing import Any, cast

import numpy as np
import pytest

from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig, simulated_rig
from loopback.simulate.damage import zero_block
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.line import MONITOR_DELAY_S
from loopback.simulate.scenario import Damage, Mistake, MistakeKind, Scenario
from tests.reference.simple_readings import at, band_rms, transfer_of
from tests.reference.simulated_runs import (
    PEDAL,
    PLAIN,
    RATE,
    RESISTOR,
    SIGNAL,
    TAKE,
    changed,
    ideal_rig,
    response_of,
    same,
    silence_of,
    take_of,
)


def _mistaken(kind: MistakeKind, value: float = 0.0, **changes: Any) -> SimulatedRig:
    return ideal_rig(mistakes=(Mistake(kind, value=value),), **changes)


@pytest.mark.parametrize(
    ("kind", "asked", "really"),
    [
        ("coupler-left-in", PEDAL, RESISTOR),
        ("exchanged", PEDAL, RESISTOR),
        ("exchanged", RESISTOR, PEDAL),
        ("effect-engaged", PEDAL, changed(PEDAL, position="b")),
        ("effect-engaged", changed(PEDAL, position="b"), PEDAL),
        ("line-input", RESISTOR, changed(RESISTOR, load="line")),
        ("resistor-at-interface", RESISTOR, changed(RESISTOR, resistor_end="interface")),
        ("resistor-forgotten", RESISTOR, PLAIN),
        ("resistor-left-in", PLAIN, changed(PLAIN, feed="resistor")),
    ],
)
def test_another_hook_up_than_asked(kind: MistakeKind, asked: RunLabel, really: RunLabel) -> None:
    """The recording is that of the hook-up that was really made, and not of the one asked for."""
    mistaken = response_of(_mistaken(kind, pedal="tidal-clock"), asked)
    assert same(mistaken, response_of(ideal_rig("tidal-clock"), really))
    assert not same(mistaken, response_of(ideal_rig("tidal-clock"), asked), 1e-3)


def test_mistakes_concern_the_runs_named() -> None:
    """From run 2 to run 3, and neither before nor after."""
    rig = ideal_rig(mistakes=(Mistake("gain-moved", 2, 3, 1.3),))
    levels = [20 * math.log10(float(np.std(take_of(rig, PLAIN)))) for _ in range(4)]
    assert np.diff(levels) == pytest.approx([1.3, 0.0, -1.3], abs=1e-6)
    assert take_of(_mistaken("coupler-left-in"), PLAIN).shape == (len(TAKE) + 480 + 4800, 1)


def test_digital_return_is_bit_exact() -> None:
    """What is played comes back in whole 24-bit steps, without noise, late by whole samples."""
    rig = _mistaken("digital-return", interface=InterfaceModel(latency_jump_samples=0))
    x = take_of(rig, RESISTOR)[:, 0]
    assert np.array_equal(x[480 : 480 + len(TAKE)], np.rint(TAKE * 2**23) / 2**23)
    assert not np.any(silence_of(rig, PEDAL, 0.5))


def test_wrong_channel() -> None:
    """The path is in channel 1; channel 0 has the check cable, or nothing but leakage and noise."""
    usual = response_of(ideal_rig(), RESISTOR)
    alone = _mistaken("wrong-channel", interface=InterfaceModel.ideal(crosstalk_db=-80.0))
    x = take_of(alone, RESISTOR)
    assert x.shape[1] == 2
    f_hz, leak = transfer_of(TAKE, x[:, 0], RATE)
    assert abs(at(f_hz, leak, 1000)) == pytest.approx(1e-4, rel=0.01)
    assert same(response_of(_mistaken("wrong-channel"), RESISTOR, channel=1), usual)
    both = _mistaken("wrong-channel", check_cable=True)
    assert same(response_of(both, RESISTOR, channel=1), usual)
    assert abs(at(*response_of(both, RESISTOR, channel=0), 1000)) == pytest.approx(1.0, abs=1e-6)


def test_direct_monitoring_makes_a_comb() -> None:
    """H becomes H / (1 − g H exp(−jωτ)); the ripple repeats every 1/τ."""
    f_hz, h0 = response_of(ideal_rig(), PLAIN)
    _, h = response_of(_mistaken("direct-monitoring", -20.0), PLAIN)
    closed = h0 / (1 - 0.1 * h0 * np.exp(-2j * np.pi * f_hz * MONITOR_DELAY_S))
    assert np.max(np.abs(h - closed)) < 1e-6
    assert 20 * np.log10(np.max(np.abs(h)) / np.min(np.abs(h))) == pytest.approx(1.743, abs=0.01)


def test_direct_monitoring_raises_the_noise() -> None:
    """The noise goes round the loop too: by 1/(1 − g²) in power."""
    quiet, loud = InterfaceModel.ideal(noise_dbfs_a=-80.0), -6.0

    def noise(rig: SimulatedRig) -> float:
        return band_rms(silence_of(rig, PLAIN)[:, 0], RATE, 100, 20_000)

    ratio = noise(_mistaken("direct-monitoring", loud, interface=quiet)) / noise(
        ideal_rig(interface=quiet)
    )
    assert ratio**2 == pytest.approx(1 / (1 - 10 ** (loud / 10)), rel=0.02)


def test_rate_label() -> None:
    """The recording says another rate, its samples are the same."""
    said = next(_mistaken("rate-label", 44_100).play(RunRequest(PLAIN, SIGNAL, 1)))
    assert said.rate_hz == 44_100
    assert said.samples is not None
    assert np.array_equal(said.samples, take_of(ideal_rig(), PLAIN))


def test_damages_reach_the_recording_named() -> None:
    """Take 2 of run 1 is damaged, the others are not."""
    damage = Damage(1, 2, partial(zero_block, start=30_000, count=64))
    rig = ideal_rig(damages=(damage,))
    one, two = (r.samples for r in rig.play(RunRequest(PLAIN, SIGNAL, 2)))
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
        ideal_rig().play(RunRequest(PLAIN, SIGNAL, -1))
