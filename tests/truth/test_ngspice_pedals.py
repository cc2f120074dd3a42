"""Every state of every pedal file, and thermal noise, against ngspice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from loopback.circuit.netlist import Element
from loopback.circuit.nodal import thermal_density, transfer
from loopback.simulate.pedal import load_pedal, pedal_names
from tests.reference.ngspice import noise_density, responses

pytestmark = pytest.mark.needs("ngspice")

F_HZ = np.array([1.0, 10.0, 50.0, 200.0, 1e3, 3e3, 5e3, 10e3, 20e3, 40e3])
LOAD = (
    Element("R", "RLOAD", ("OUT", "0"), 1e6),
    Element("C", "CLOAD", ("OUT", "0"), 400e-12),
)
FEEDS = {
    "plain": (Element("R", "RFEED", ("SRC", "IN"), 150.0),),
    "resistor": (
        Element("R", "RFEED", ("SRC", "IN"), 100e3),
        Element("C", "CFEED", ("SRC", "IN"), 0.3e-12),
    ),
}


def test_every_state_of_every_pedal(tmp_path: Path) -> None:
    """From both feeds, 1 Hz to 40 kHz, the complex response agrees with ngspice to 1e-6."""
    circuits = {
        (name, state.name, feed): (*state.elements, *feeding, *LOAD)
        for name in pedal_names()
        for state in load_pedal(name).states.values()
        for feed, feeding in FEEDS.items()
    }
    theirs = responses(list(circuits.values()), F_HZ, "SRC", "OUT", tmp_path)
    ours = np.array([transfer(c, F_HZ, ("SRC", "0"), "OUT") for c in circuits.values()])
    off = np.max(np.abs(ours / theirs - 1), axis=1)
    assert {key: x for key, x in zip(circuits, off, strict=True) if not x < 1e-6} == {}
    assert len(circuits) > 200


@pytest.mark.parametrize("kind", ["G", "T"])
def test_elements_that_pedals_may_use(tmp_path: Path, kind: str) -> None:
    """A transconductance, and a transformer of unequal turns, mean the same in ngspice."""
    middle = {
        "G": Element("G", "G1", ("OUT", "0", "IN", "0"), 3e-3),
        "T": Element("T", "T1", ("IN", "0", "OUT", "0"), -2.5),
    }[kind]
    circuit = (middle, *FEEDS["plain"], *LOAD)
    theirs = responses([circuit], F_HZ, "SRC", "OUT", tmp_path)[0]
    ours = transfer(circuit, F_HZ, ("SRC", "0"), "OUT")
    np.testing.assert_allclose(ours, theirs, rtol=1e-9)


@pytest.mark.parametrize("feed", sorted(FEEDS))
@pytest.mark.parametrize("pedal", ["harbour-bell", "tidal-clock", "paper-kite", "iron-bridge"])
def test_thermal_noise(tmp_path: Path, pedal: str, feed: str) -> None:
    """Noise of all resistors at the output agrees to 1e-6, ngspice's own k set right.

    ngspice 39 has k = 1.38064852e-23 J/K, which was the value before the kelvin was redefined.
    """
    file = load_pedal(pedal)
    elements = (*file.states[file.bypass].elements, *FEEDS[feed], *LOAD)
    f_hz, theirs = noise_density(elements, "SRC", "OUT", 20.0, tmp_path)
    shorted = tuple(
        Element(e.kind, e.name, tuple("0" if n == "SRC" else n for n in e.nodes), e.value)
        for e in elements
    )
    ours = np.sqrt(thermal_density(shorted, f_hz, "OUT", 293.15))
    np.testing.assert_allclose(ours * np.sqrt(1.38064852e-23 / 1.380649e-23), theirs, rtol=1e-6)
