"""Examinations on disk with something wrong in them, from one played sitting of the simulator."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from loopback.arrays import F64
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.facts import Analysis
from loopback.plan.runs import Feed, Position, Power, RunLabel
from loopback.response.locate import locate_takes
from loopback.rig.protocol import Recorded, RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.layout import Layout
from loopback.signal.take import layout_of, plan_signal
from loopback.simulate.scenario import Mistake, Scenario

SIGNAL = plan_signal(48_000, 1.0)
LAYOUT: Layout = layout_of(SIGNAL)
REFERENCE = RunLabel("coupler", "resistor", resistor_ohm=100e3, resistor_tolerance=0.01)
PLAIN = RunLabel("coupler", "plain")


def pedal_run(feed: Feed, power: Power, position: Position = "a") -> RunLabel:
    """Label of one pedal run."""
    known = (100e3, 0.01) if feed == "resistor" else (None, None)
    return RunLabel("pedal", feed, power, position, None, *known)


SHORT = (REFERENCE, pedal_run("resistor", "on"), pedal_run("resistor", "off"))
"""Runs 01 to 03: what most cases need."""
LONG = (
    REFERENCE,
    pedal_run("resistor", "on"),
    pedal_run("resistor", "on", "b"),
    pedal_run("resistor", "off"),
    REFERENCE,
    PLAIN,
    pedal_run("plain", "off"),
    pedal_run("plain", "on"),
    PLAIN,
)
"""Runs 01 to 09: both leads, and the effect in run 03."""

Change = Callable[[F64], F64]
"""From the samples of a take, shape (n, channels), to what is stored in 24 bits."""
AsFile = Callable[[F64, Path], Path]
"""From the samples of a take and a folder to the file that is added byte for byte."""


@dataclass(frozen=True)
class Sitting:
    """Everything that was recorded, run by run, take by take."""

    labels: tuple[RunLabel, ...]
    takes: tuple[tuple[F64, ...], ...]


@lru_cache(maxsize=8)
def sitting(
    labels: tuple[RunLabel, ...] = SHORT,
    pedal: str = "quarry-lamp",
    mistakes: tuple[Mistake, ...] = (),
    takes_each: int = 2,
) -> Sitting:
    """Play all runs once; the arrays are shared and not to be written to."""
    rig = SimulatedRig(Scenario(pedal, seed=3, mistakes=mistakes))
    takes = []
    for label in labels:
        recorded = [item.samples for item in rig.play(RunRequest(label, SIGNAL, takes_each))]
        assert all(samples is not None for samples in recorded)
        takes.append(tuple(samples for samples in recorded if samples is not None))
    return Sitting(labels, tuple(takes))


def store(
    path: Path,
    played: Sitting,
    changes: Mapping[tuple[int, int], Change] | None = None,
    files: Mapping[tuple[int, int], AsFile] | None = None,
    path_channel: int | None = None,
    check_channel: int | None = None,
) -> ExaminationFolder:
    """Write an examination; `changes` and `files` are by number of run and take, both from 1."""
    folder = ExaminationFolder.create(path / "pedal", Pedal("Quarry Lamp"), Setup("files"), SIGNAL)
    for run, (label, takes) in enumerate(zip(played.labels, played.takes, strict=True), start=1):
        run_id = folder.append_run(label)
        for take, samples in enumerate(takes, start=1):
            as_file = (files or {}).get((run, take))
            if as_file is not None:
                outside = path / f"outside-{run}-{take}"
                outside.mkdir()
                recorded = Recorded("sweep", SIGNAL.rate_hz, None, as_file(samples.copy(), outside))
            else:
                change = (changes or {}).get((run, take), np.array)
                recorded = Recorded("sweep", SIGNAL.rate_hz, change(samples.copy()))
            folder.append_recording(
                run_id, recorded, path_channel=path_channel, check_channel=check_channel
            )
    return folder


def start_of(samples: F64) -> int:
    """First sample of the take in a whole recording."""
    return locate_takes(samples[:, 0], SIGNAL)[0].start


def sweep_at(samples: F64, f_hz: float) -> int:
    """Sample of the recording at which the upward sweep passes a frequency."""
    since = SIGNAL.constant_s * np.log(f_hz / SIGNAL.f1_hz) * SIGNAL.rate_hz
    return start_of(samples) + LAYOUT.segment("up").start + int(since)


def noticed(analysis: Analysis) -> set[tuple[str, str, str]]:
    """Code, grade and place of every finding that is not good."""
    return {(f.code, f.grade, f.where) for f in analysis.findings if f.grade != "good"}


def nothing_lost(folder: ExaminationFolder, recordings: int) -> bool:
    """Whether every recording is listed, there, and has the bytes it was stored with."""
    listed = folder.document.recordings()
    return (
        len(listed) == recordings
        and not folder.missing
        and not folder.strays
        and all(folder.check_hash(recording) for recording in listed)
    )
