"""Intervals of tones, hum, added noise, harmonics and level steps: 95 % of them hold the truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.noise.survey import survey_tones
from loopback.plan.runs import RunLabel
from loopback.quantity import Estimate
from loopback.response.distortion import distortion_of, middle_harmonics, over_reference
from loopback.response.linearity import find_linearity
from loopback.response.locate import Located
from loopback.response.reading import TakeReading
from loopback.response.take import read_take
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from tests.reference.behaviour_recovery import noise_recovered
from tests.reference.recovery_table import Recovered, recovered
from tests.reference.sounding_pedals import COUPLER, PLAIN, RATE, SIGNAL, wire_with

SEEDS = range(200)
SIGMA = 6e-6


def covers(rows: Recovered) -> None:
    """90 to 99 % of the intervals hold the truth, and the stated u is the scatter to 20 %."""
    assert 0.90 <= rows.coverage <= 0.99, rows.measure
    assert rows.honesty == pytest.approx(1.0, abs=0.2), rows.measure
    assert abs(rows.bias_in_u) < 0.3, rows.measure


@pytest.mark.slow
@pytest.mark.parametrize("over_floor_db", [20.0, 45.0])
def test_tones_in_noise(over_floor_db: float) -> None:
    """Frequency and level of a tone between two bins, 20 and 45 dB above the noise of one."""
    seconds, f_hz = 2.0, 9612.34
    bin_power = 2 * 2.0044 * 2 * SIGMA**2 / RATE / seconds
    peak = math.sqrt(bin_power) * 10 ** (over_floor_db / 20)
    t = np.arange(round(seconds * RATE)) / RATE
    levels: list[Estimate] = []
    frequencies: list[Estimate] = []
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        x = peak * np.cos(2 * np.pi * f_hz * t + rng.uniform(0, 6.3))
        (tone,) = survey_tones(x + SIGMA * rng.standard_normal(len(t)), RATE).tones
        levels.append(tone.level_dbfs)
        frequencies.append(tone.f_hz)
    covers(recovered("level", [20 * math.log10(peak)] * len(SEEDS), levels))
    covers(recovered("frequency", [f_hz] * len(SEEDS), frequencies))


@pytest.mark.slow
def test_mains_frequency_and_sum() -> None:
    """Frequency from all lines together, and their sum by power."""
    seconds, mains_hz = 2.0, 49.94
    volts = {1: 3e-5, 2: 4e-6, 3: 1.5e-5, 5: 8e-6, 9: 6e-6}
    t = np.arange(round(seconds * RATE)) / RATE
    sums: list[Estimate] = []
    frequencies: list[Estimate] = []
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        x = SIGMA * rng.standard_normal(len(t))
        for order, peak in volts.items():
            x += peak * np.cos(2 * np.pi * order * mains_hz * t + rng.uniform(0, 6.3))
        survey = survey_tones(x, RATE)
        assert survey.mains is not None
        sums.append(survey.mains.sum_dbfs)
        frequencies.append(survey.mains.f_hz)
    total = 10 * math.log10(sum(v * v for v in volts.values()))
    covers(recovered("frequency", [mains_hz] * len(SEEDS), frequencies))
    covers(recovered("sum", [total] * len(SEEDS), sums))


@pytest.mark.slow
def test_added_noise_through_the_simulator() -> None:
    """White noise of a pedal, less that of the setup, in 200 sittings."""
    (row,) = noise_recovered(range(200), seconds=1.0)
    covers(row)


def clean_take(lines: str, label: RunLabel) -> F64:
    """One take without noise, from an interface and leads that are ideal."""
    rig = SimulatedRig(
        Scenario(wire_with(lines), interface=InterfaceModel.ideal(), leads=Leads.ideal())
    )
    samples = next(iter(rig.play(RunRequest(label, SIGNAL, 1)))).samples
    assert samples is not None
    return samples[:, 0]


def read_with_noise(x: F64, rng: np.random.Generator, run_id: str) -> TakeReading:
    """The take as recorded with white noise."""
    located = Located(480, 100.0, 0.0, 1, True)
    return read_take(
        (x + SIGMA * rng.standard_normal(len(x)))[:, None], SIGNAL, located,
        run_id=run_id, recording="", number=1, path_channel=0, check_channel=None,
    )  # fmt: skip


@pytest.mark.slow
def test_harmonics_and_level_step() -> None:
    """Second and third harmonic from the sweep, and loud against soft tone, of a bent path."""
    second_db, third_db = 82.0, 76.0
    square, cubic = (clean_take(f".bend {w}", PLAIN) for w in ("second 82", "third 76"))
    cable = clean_take("", COUPLER)
    found: dict[int, list[Estimate]] = {2: [], 3: []}
    steps: list[Estimate] = []
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        bent = {2: read_with_noise(square, rng, "02"), 3: read_with_noise(cubic, rng, "03")}
        for order, take in bent.items():
            distortion = distortion_of([take], SIGNAL)
            assert distortion is not None
            level = middle_harmonics(distortion)[order - 2].level_db
            assert level is not None
            found[order].append(level)
        straight = read_with_noise(cable, rng, "01")
        linearity = find_linearity("03", [bent[3]], [straight], SIGNAL, u_step_db=0.0)
        assert linearity is not None
        assert linearity.level_step_db is not None
        steps.append(linearity.level_step_db)
    model = InterfaceModel.ideal()
    peak_v = SIGNAL.amplitude * model.full_scale_v * model.input_ohm / (
        model.input_ohm + model.output_ohm
    )  # fmt: skip
    drive = 20 * math.log10(peak_v)
    third = 10 ** ((-third_db + 2 * drive) / 20)
    covers(recovered("second", [-second_db + drive] * len(SEEDS), found[2]))
    # x + c x³: gain 1 + 3/4 c A² for the tone, c A² / 4 for its third harmonic.
    level = 20 * math.log10(third / (1 + 3 * third))
    covers(recovered("third", [level] * len(SEEDS), found[3]))
    step = 20 * math.log10((1 + 3 * third) / (1 + 0.03 * third))
    covers(recovered("step", [step] * len(SEEDS), steps))


def test_over_reference_takes_the_order_that_stands_out() -> None:
    """Third 20 dB above the reference's own against a second that is the same."""
    model = InterfaceModel.ideal(h2_db=-70.0, h3_db=-90.0)
    readings = []
    for lines, label in ((".bend third 60", PLAIN), ("", COUPLER)):
        rig = SimulatedRig(Scenario(wire_with(lines), interface=model, leads=Leads.ideal()))
        samples = next(iter(rig.play(RunRequest(label, SIGNAL, 1)))).samples
        assert samples is not None
        readings.append(read_with_noise(samples[:, 0], np.random.default_rng(1), label.path))
    tables = [distortion_of([reading], SIGNAL) for reading in readings]
    own, setup = (middle_harmonics(d) for d in tables if d is not None)
    best = over_reference(own, setup)
    assert best is not None
    assert best.order == 3
    assert best.over_db.value == pytest.approx(90.0 - 62.4, abs=1.0)
    assert not best.at_least
