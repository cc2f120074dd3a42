"""A simulated sitting, gated in memory: everything the gates say, without a folder."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.examination.records import Run
from loopback.noise.figures import noise_figures
from loopback.plan.runs import RunLabel
from loopback.quality.finding import Finding
from loopback.quality.gates import judge_recording, judge_runs, judge_take, judge_takes
from loopback.quality.place import judge_places, place_takes
from loopback.quality.seen import RunSeen
from loopback.response.join import join_takes
from loopback.response.silence import silence_s
from loopback.response.take import read_take
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import Signal
from loopback.simulate.scenario import Scenario


def judged(
    scenario: Scenario, labels: Sequence[RunLabel], signal: Signal, takes: int = 2
) -> list[Finding]:
    """Play all runs of a scenario and return every finding, good ones too."""
    rig = SimulatedRig(scenario)
    check = rig.facts().check_channel
    found: list[Finding] = []
    runs: list[Run] = []
    seen: list[RunSeen] = []
    for number, label in enumerate(labels, start=1):
        run_id = f"{number:02d}"
        readings = []
        for take, recorded in enumerate(rig.play(RunRequest(label, signal, takes)), start=1):
            samples = recorded.samples
            assert samples is not None
            where = f"{run_id}/{take}"
            found += judge_recording(samples, recorded.rate_hz, signal, label, where)
            places = place_takes(samples[:, 0], signal, label, recorded.expected_start)
            found += judge_places(places, signal, run_id, take)
            reading = read_take(
                samples,
                signal,
                places[0],
                run_id=run_id,
                recording="",
                number=take,
                path_channel=0,
                check_channel=check,
            )
            found += judge_take(reading, signal, samples, label)
            readings.append(reading)
        found += judge_takes(readings)
        runs.append(Run(run_id, label))
        density = np.mean([reading.noise_psd for reading in readings], axis=0)
        noise = noise_figures(readings[0].noise_f_hz, density, silence_s(signal), takes)
        seen.append(RunSeen(runs[-1], tuple(readings), join_takes(readings), noise))
    return [*found, *judge_runs(runs, seen)]
