"""Pedals that are a wire and one more line of a pedal file, with what is known of them."""

from __future__ import annotations

from typing import Any

from loopback.examination.records import Run
from loopback.plan.runs import RunLabel
from loopback.quality.place import place_takes
from loopback.response.reading import TakeReading
from loopback.response.take import read_take
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import Signal, plan_signal
from loopback.simulate.pedal import PedalFile, parse_pedal
from loopback.simulate.scenario import Scenario

RATE = 48_000
SIGNAL = plan_signal(RATE, 1.0)
COUPLER = RunLabel("coupler", "plain")
PLAIN = RunLabel("pedal", "plain", power="on", position="a")


def wire_with(powered: str, unpowered: str = "") -> PedalFile:
    """A wire between the jacks, with further lines for power on and off."""
    lines = [
        ".title Wire",
        ".about A wire.",
        ".family wire",
        ".footswitch none",
        ".bypass with",
        ".common",
        "Rsw IN OUT 0.05",
        "Cj IN 0 6p",
        ".state with",
        "Cw IN 0 1p",
        powered,
        ".state without",
        "Cw IN 0 1p",
        unpowered,
        ".table",
        "on none with",
        "off none without",
    ]
    return parse_pedal("\n".join(lines), "wire")


def rig_with(powered: str, unpowered: str = "", seed: int = 1, **scenario: Any) -> SimulatedRig:
    """The ordinary simulated rig with such a pedal."""
    return SimulatedRig(Scenario(wire_with(powered, unpowered), seed=seed, **scenario))


def takes_of(
    rig: SimulatedRig,
    label: RunLabel,
    takes: int = 2,
    signal: Signal = SIGNAL,
    run_id: str = "02",
    check_channel: int | None = None,
) -> tuple[TakeReading, ...]:
    """Play a run and read its takes."""
    out = []
    for number, recorded in enumerate(rig.play(RunRequest(label, signal, takes)), start=1):
        samples = recorded.samples
        assert samples is not None
        (located,) = place_takes(samples[:, 0], signal, label, recorded.expected_start)
        out.append(
            read_take(
                samples, signal, located,
                run_id=run_id, recording="", number=number, path_channel=0,
                check_channel=check_channel,
            )
        )  # fmt: skip
    return tuple(out)


def recorded_run(run_id: str, label: RunLabel) -> Run:
    """A run without recordings."""
    return Run(run_id, label, ())
