"""An ideal setup of the simulator, played and read: shared by the tests of the simulated rig."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import plan_signal, render_take
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from tests.reference.simple_readings import transfer_of

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

RATE = 48_000
SIGNAL = plan_signal(RATE, 1.0)
TAKE = render_take(SIGNAL)
PLAIN = RunLabel("coupler", "plain")
RESISTOR = RunLabel("coupler", "resistor", resistor_ohm=100e3)
PEDAL = RunLabel("pedal", "resistor", power="on", position="a", resistor_ohm=100e3)
FULL_SCALE_V = InterfaceModel.ideal().full_scale_v


def ideal_rig(pedal: str | Path = "harbour-bell", **changes: Any) -> SimulatedRig:
    """Return a rig on which nothing is imperfect but what is asked for."""
    fields: dict[str, Any] = {
        "interface": InterfaceModel.ideal(),
        "leads": Leads.ideal(),
        "seed": 5,
    }
    return SimulatedRig(Scenario(pedal, **(fields | changes)))


def take_of(rig: SimulatedRig, label: RunLabel) -> Real:
    """Play one take of a run."""
    samples = next(rig.play(RunRequest(label, SIGNAL, 1))).samples
    assert samples is not None
    return samples


def silence_of(rig: SimulatedRig, label: RunLabel, seconds: float = 10.0) -> Real:
    """Play nothing."""
    samples = next(rig.play(RunRequest(label, SIGNAL, 0, seconds))).samples
    assert samples is not None
    return samples


def response_of(rig: SimulatedRig, label: RunLabel, channel: int = 0) -> tuple[Real, Complex]:
    """Response of one run, with the whole latency taken off."""
    f_hz, h = transfer_of(TAKE, take_of(rig, label)[:, channel], RATE)
    return f_hz, h * np.exp(2j * np.pi * f_hz * 480 / RATE)


def same(one: tuple[Real, Complex], two: tuple[Real, Complex], off: float = 1e-6) -> bool:
    """Tell whether two responses agree at every bin."""
    return bool(np.max(np.abs(one[1] - two[1])) < off)


def changed(label: RunLabel, **changes: Any) -> RunLabel:
    """Return a label with other fields."""
    return msgspec.structs.replace(label, **changes)
