"""Truth against what is found of tones, harmonics, movement, latency and bleed, seed by seed.

``python -m tests.reference.behaviour_recovery`` prints the table.
"""

from __future__ import annotations

import math
import sys

import numpy as np

from loopback.arrays import F64
from loopback.noise.density import welch_density
from loopback.noise.figures import added_noise, noise_figures
from loopback.noise.survey import survey_tones
from loopback.plan.runs import RunLabel
from loopback.quantity import Estimate
from loopback.response.distortion import distortion_of, middle_harmonics
from loopback.response.join import join_takes
from loopback.response.latency import Openings, find_latency
from loopback.response.linearity import find_linearity
from loopback.response.movement import find_movement
from loopback.response.ratio import ratio_to_reference
from loopback.response.reading import TakeReading
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.scenario import Scenario
from tests.reference.recovery_table import Recovered, recovered, table_of
from tests.reference.sounding_pedals import COUPLER, PLAIN, RATE, SIGNAL, takes_of, wire_with

FULL_SCALE_V = InterfaceModel().full_scale_v
STRAIGHT = InterfaceModel(h2_db=None, h3_db=None, ripple_db=0.0)
PEAK_V = (
    SIGNAL.amplitude
    * FULL_SCALE_V
    * 10 ** (STRAIGHT.gain_error_db / 20)
    * STRAIGHT.input_ohm
    / (STRAIGHT.input_ohm + STRAIGHT.output_ohm)
)
"""At the input, in mid band."""
WHINE_HZ, WHINE_V = 9612.3, 12e-6
HUM_V = (30e-6, 3e-6, 12e-6)
SECOND_DB, THIRD_DB = 80.0, 84.0
RATE_HZ, DEPTH_DB = 4.7, 0.8
NOISE_V = 150e-9
DELAY_S, EDGE_HZ = 1.3e-3, 17_000.0


def dbfs(volts_rms: float) -> float:
    """Level of a sine."""
    return 20 * math.log10(volts_rms * math.sqrt(2) / FULL_SCALE_V)


def silence_of(rig: SimulatedRig, label: RunLabel, seconds: float) -> F64:
    """Play nothing."""
    samples = next(iter(rig.play(RunRequest(label, SIGNAL, 0, seconds)))).samples
    assert samples is not None
    return samples[:, 0]


def tones_recovered(seeds: range, seconds: float = 5.0) -> tuple[Recovered, ...]:
    """A whine and hum at the output of a wire, through the ordinary simulated interface."""
    hum = " ".join(f"{v:g}" for v in HUM_V)
    pedal = wire_with(f".tone {WHINE_HZ} level {WHINE_V:g}\n.hum {hum}")
    quiet = InterfaceModel(hum_dbfs=())
    rows: dict[str, list[Estimate]] = {}
    for seed in seeds:
        rig = SimulatedRig(Scenario(pedal, interface=quiet, seed=seed))
        survey = survey_tones(silence_of(rig, PLAIN, seconds), RATE)
        (tone,) = survey.tones
        mains = survey.mains
        assert mains is not None
        first, third = mains.lines[0].level_dbfs, mains.lines[2].level_dbfs
        assert first is not None
        assert third is not None
        for name, estimate in (
            ("whine, frequency", tone.f_hz),
            ("whine, level", tone.level_dbfs),
            ("mains, frequency", mains.f_hz),
            ("mains, line 1", first),
            ("mains, line 3", third),
            ("mains, sum", mains.sum_dbfs),
        ):
            rows.setdefault(name, []).append(estimate)
    total = math.sqrt(sum(v**2 for v in HUM_V))
    # The input's own high-pass takes a little of the lowest line, and its filter of the whine.
    passed = [
        float(np.abs(quiet.input_response(np.array([f]), RATE))[0])
        for f in (quiet.mains_hz, 3 * quiet.mains_hz, WHINE_HZ)
    ]
    truths = {
        "whine, frequency": WHINE_HZ,
        "whine, level": dbfs(WHINE_V * passed[2]),
        "mains, frequency": quiet.mains_hz,
        "mains, line 1": dbfs(HUM_V[0] * passed[0]),
        "mains, line 3": dbfs(HUM_V[2] * passed[1]),
        "mains, sum": dbfs(total * passed[0]),
    }
    return tuple(
        recovered(name, [truths[name]] * len(found), found) for name, found in rows.items()
    )


def noise_recovered(seeds: range, seconds: float = 5.0) -> tuple[Recovered, ...]:
    """White noise added at the output, against the cable."""
    pedal = wire_with(f".noise {NOISE_V:g}")
    quiet = InterfaceModel(hum_dbfs=())
    found = []
    for seed in seeds:
        rig = SimulatedRig(Scenario(pedal, interface=quiet, seed=seed))
        cable, with_pedal = (
            noise_figures(*welch_density(silence_of(rig, label, seconds), RATE), seconds)
            for label in (COUPLER, PLAIN)
        )
        added = added_noise(with_pedal, cable, "none", u_repeat_db=0.0)
        assert added.level_dbfs is not None
        found.append(added.level_dbfs)
    f_hz = np.linspace(20.0, 20_000.0, 20_001)
    power = float(np.mean(np.abs(quiet.input_response(f_hz, RATE)) ** 2)) * 19_980
    truth = dbfs(NOISE_V * math.sqrt(power))
    return (recovered("added noise, 20 Hz-20 kHz", [truth] * len(found), found),)


def harmonics_recovered(seeds: range) -> tuple[Recovered, ...]:
    """Paths bent one way or the other, on an interface that is straight itself."""
    out = []
    for order, name, below_db in ((2, "second", SECOND_DB), (3, "third", THIRD_DB)):
        pedal = wire_with(f".bend {name} {below_db}")
        found = []
        for seed in seeds:
            rig = SimulatedRig(Scenario(pedal, interface=STRAIGHT, seed=seed))
            distortion = distortion_of(takes_of(rig, PLAIN), SIGNAL)
            assert distortion is not None
            level = next(h.level_db for h in middle_harmonics(distortion) if h.order == order)
            assert level is not None
            found.append(level)
        truth = -below_db + 20 * (order - 1) * math.log10(PEAK_V)
        out.append(recovered(f"harmonic {order} over the tone", [truth] * len(found), found))
    return tuple(out)


def movement_recovered(seeds: range) -> tuple[Recovered, ...]:
    """A shallow tremolo with any phase."""
    pedal = wire_with(f".tremolo rate {RATE_HZ} depth {DEPTH_DB}")
    rates, depths = [], []
    for seed in seeds:
        rig = SimulatedRig(Scenario(pedal, seed=seed))
        movement = find_movement(takes_of(rig, PLAIN), SIGNAL)
        assert movement is not None
        assert movement.kind == "modulated"
        assert movement.rate_hz is not None
        assert movement.depth_db is not None
        rates.append(movement.rate_hz)
        depths.append(movement.depth_db)
    return (
        recovered("tremolo, rate", [RATE_HZ] * len(rates), rates),
        recovered("tremolo, depth", [DEPTH_DB] * len(depths), depths),
    )


def steps_recovered(seeds: range) -> tuple[Recovered, ...]:
    """A cubic path: loud and soft are 1.5 h3 (1 - 0.01) of amplitude apart."""
    third_db = 54.0
    pedal = wire_with(f".bend third {third_db}")
    rows = []
    for seed in seeds:
        rig = SimulatedRig(Scenario(pedal, interface=STRAIGHT, seed=seed))
        cable, with_pedal = takes_of(rig, COUPLER, run_id="01"), takes_of(rig, PLAIN)
        found = find_linearity("02", with_pedal, cable, SIGNAL, u_step_db=0.0)
        assert found is not None
        assert found.level_step_db is not None
        rows.append(found.level_step_db)
    # x + c x³ has gain 1 + 3/4 c A²; its third harmonic is c A² / 4 of the tone.
    third = 10 ** (-third_db / 20) * PEAK_V**2
    truth = 20 * math.log10((1 + 3 * third) / (1 + 0.03 * third))
    return (recovered("level step of 20 dB", [truth] * len(rows), rows),)


def latency_recovered(seeds: range) -> tuple[Recovered, ...]:
    """A converting path, with a check cable and without."""
    pedal = wire_with(f".delay {DELAY_S}\n.band {EDGE_HZ}")
    held: list[Estimate] = []
    free: list[Estimate] = []
    edges: list[Estimate] = []
    for seed in seeds:
        for check in (True, False):
            rig = SimulatedRig(Scenario(pedal, seed=seed, check_cable=check))
            read = [_checked(rig, label, check) for label in (COUPLER, PLAIN, COUPLER, COUPLER)]
            runs = [join_takes(takes) for takes in read]
            starts = [t[0].start / RATE + r.delay_s for t, r in zip(read, runs, strict=True)]
            references = [runs[k] for k in (0, 2, 3)]
            ratio = ratio_to_reference(runs[1], references, delay_held=check)
            mean = (starts[0] + starts[2] + starts[3]) / 3
            openings = Openings(mean, tuple(starts[k] - mean for k in (0, 2, 3)), 1, 3)
            start_s = read[1][0].start / RATE + runs[0].delay_s
            found = find_latency(ratio, start_s, openings, RATE)
            (held if check else free).append(found.delay_s)
            if check and found.edge_hz is not None:
                edges.append(found.edge_hz)
    return (
        recovered("delay, check cable", [DELAY_S] * len(held), held),
        recovered("delay, none", [DELAY_S] * len(free), free),
        recovered("band edge", [EDGE_HZ] * len(edges), edges),
    )


def _checked(rig: SimulatedRig, label: RunLabel, check: bool) -> tuple[TakeReading, ...]:
    return takes_of(rig, label, 1, check_channel=1 if check else None)


def everything(seeds: range) -> tuple[Recovered, ...]:
    """All of it."""
    return (
        *tones_recovered(seeds),
        *noise_recovered(seeds),
        *harmonics_recovered(seeds),
        *steps_recovered(seeds),
        *movement_recovered(seeds),
        *latency_recovered(seeds),
    )


if __name__ == "__main__":
    print(table_of(everything(range(1, 1 + int((sys.argv[1:] or ["40"])[0])))))
