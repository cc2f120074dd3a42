"""Hands for the device rig: before each run they put into the path what its label asks for.

The circuit from the interface's output to its input is solved here as one netlist and played by
the pedal's process as an impulse response; nothing of the simulated rig takes part.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from loopback.circuit.netlist import Element, parse_elements
from loopback.circuit.nodal import transfer
from loopback.plan.runs import RunLabel
from loopback.rig.device import DeviceRig
from loopback.rig.device_settings import DeviceSettings
from loopback.rig.protocol import Recorded, RigFacts, RunRequest
from loopback.simulate.pedal import load_pedal
from tests.contract.audio_server import AudioServer, faster
from tests.contract.device_runs import NOISE

TAPS = 8192
LEAD_SAMPLES = 64
"""Delay of the whole response: the ends of the band ring on both sides."""
GAIN = 0.25
"""Output to input of the interface at full scale."""

LEAK = 1e-5
"""What crosses from output to input with nothing plugged in."""

COUPLER_STAYS = ""
"""In place of a pedal's name: the coupler is never taken out."""

BENCH = """
Rs emf jack 150
Ra jack lead 0.1
Ca lead 0 300p
Rf lead IN {feed_ohm}
Cb OUT 0 300p
Ri OUT 0 1.02M
Ci OUT 0 110p
"""


def impulse_response(label: RunLabel, pedal: str, last: str, rate_hz: int) -> NDArray[np.float64]:
    """Response from output to input with what the label says plugged in."""
    if label.path == "unplugged":
        return np.eye(1, TAPS)[0] * LEAK
    feed = label.resistor_ohm or 100e3 if label.feed == "resistor" else 0.01
    lines = BENCH.format(feed_ohm=feed).splitlines()
    elements: tuple[Element, ...] = parse_elements(enumerate(lines), "bench")
    if label.path == "coupler" or pedal == COUPLER_STAYS:
        elements += (
            Element("R", "Rc", ("IN", "OUT"), 0.02),
            Element("C", "Cc", ("OUT", "0"), 2e-12),
        )
    else:
        state = load_pedal(pedal).state(label.power or "on", label.position or "a", last)
        elements += state.elements
    f_hz = np.fft.rfftfreq(TAPS, 1 / rate_hz)
    f_hz[0] = 1e-3
    h = GAIN * transfer(elements, f_hz, ("emf", "0"), "OUT")
    edge = np.clip((f_hz / rate_hz - 0.475) / 0.025, 0.0, 1.0)  # as converters end
    h *= 0.5 + 0.5 * np.cos(np.pi * edge)
    h *= 1 / (1 + 5.0 / (1j * f_hz))  # coupled by a capacitor, 5 Hz
    return np.fft.irfft(h * np.exp(-2j * np.pi * f_hz / rate_hz * LEAD_SAMPLES), TAPS)


class HandsRig:
    """The device rig with somebody who plugs what is asked for."""

    def __init__(self, server: AudioServer, pedal: str, folder: Path) -> None:
        self._server, self._pedal, self._folder = server, pedal, folder
        self._rig = DeviceRig(
            DeviceSettings("pedal", check_input=2, check_output=2), faster(server)
        )
        self._last = ""
        server.tell("noise", NOISE)

    def facts(self) -> RigFacts:
        """Return those of the device."""
        return self._rig.facts()

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Plug, then play."""
        label = request.label
        taps = impulse_response(label, self._pedal, self._last, request.signal.rate_hz)
        self._server.use_filter(taps, self._folder)
        if label.power == "on" and self._pedal != COUPLER_STAYS:
            self._last = load_pedal(self._pedal).state("on", label.position or "a", self._last).name
        yield from self._rig.play(request)
