"""Runs through the audio server, kept as an examination and read back."""

from __future__ import annotations

from pathlib import Path

from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.plan.runs import RunLabel
from loopback.quality.read_run import RunRead, read_run
from loopback.rig.device import DeviceRig
from loopback.rig.protocol import RunRequest
from loopback.signal.take import plan_signal

COUPLER = RunLabel(path="coupler", feed="plain")
NOISE = 1e-5
"""Standard deviation of what the pedal adds: -97 dBFS, an ordinary interface."""


def asked(rate_hz: int = 48_000, takes: int = 1) -> RunRequest:
    """Short takes on the coupler."""
    return RunRequest(COUPLER, plan_signal(rate_hz, 1.0), takes=takes)


def kept(folder: Path, rig: DeviceRig, request: RunRequest) -> RunRead:
    """Play a run into a new examination and read it from there."""
    setup = Setup("device", rig.facts().name)
    examination = ExaminationFolder.create(folder, Pedal("wire"), setup, request.signal)
    run = examination.append_run(request.label)
    facts = rig.facts()
    for recorded in rig.play(request):
        examination.append_recording(run, recorded, "", facts.path_channel, facts.check_channel)
    return read_run(examination, examination.document.run(run))
