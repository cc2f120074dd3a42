"""The circuit made of interface, leads and pedal, against two-ports written out by hand."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from loopback.circuit.netlist import Element, parse_elements
from loopback.circuit.nodal import impedance, thermal_density, transfer
from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Chance, Leads, hook_up, load_ohm, lossy_capacitor

F_HZ = np.geomspace(5, 90_000, 60)
S = 2j * np.pi * F_HZ
IDEAL = InterfaceModel.ideal()
LEADS = Leads.ideal()
AS_NOMINAL = Chance()

WIRE = parse_elements([(1, "Rsw IN OUT 0.05"), (2, "Cx IN 0 1p")], "wire")
FILTER = parse_elements([(1, "Rf IN OUT 10k"), (2, "Cf OUT 0 1n"), (3, "Rp IN 0 1M")], "filter")


def _h(
    label: RunLabel,
    pedal: tuple[Element, ...] = WIRE,
    interface: InterfaceModel = IDEAL,
    leads: Leads = LEADS,
    chance: Chance = AS_NOMINAL,
) -> np.ndarray:
    circuit = hook_up(label, pedal, interface, leads, chance)
    return transfer(circuit.elements, F_HZ, circuit.source, circuit.out)


def _close(found: np.ndarray, closed: np.ndarray) -> bool:
    return bool(np.max(np.abs(found / closed - 1)) < 1e-9)


def _series(z: complex | np.ndarray) -> np.ndarray:
    return _matrix(1, z, 0, 1)


def _shunt(y: complex | np.ndarray) -> np.ndarray:
    return _matrix(1, 0, y, 1)


def _matrix(*abcd: complex | np.ndarray) -> np.ndarray:
    flat = [np.broadcast_to(np.asarray(v, dtype=complex), F_HZ.shape) for v in abcd]
    return np.stack(flat, axis=-1).reshape(-1, 2, 2)


def _over_emf(*parts: np.ndarray) -> np.ndarray:
    """Voltage at the open end of a chain that starts with the EMF: 1 / A."""
    total = parts[0]
    for part in parts[1:]:
        total = total @ part
    return 1 / total[:, 0, 0]


YL = 1 / 1e6 + S * (300e-12 + 100e-12)
LEAD_A = _shunt(S * 300e-12)


def test_coupler_plain() -> None:
    """Plain reference: 1/H = 1 + Zs YL with both leads and the input across the output."""
    assert _close(_h(RunLabel("coupler", "plain")), 1 / (1 + 150 * (YL + S * 300e-12)))


def test_coupler_through_resistor_at_the_pedal() -> None:
    """The feeding lead stays on the output's side of the resistor."""
    closed = _over_emf(_series(150), LEAD_A, _series(100e3), _shunt(YL))
    assert _close(_h(RunLabel("coupler", "resistor", resistor_ohm=100e3)), closed)


def test_coupler_through_resistor_at_the_interface() -> None:
    """The feeding lead adds to the capacitance of the node."""
    label = RunLabel("coupler", "resistor", resistor_ohm=100e3, resistor_end="interface")
    closed = _over_emf(_series(150 + 100e3), _shunt(YL + S * 300e-12))
    assert _close(_h(label), closed)


def test_pedal_forward_and_reversed() -> None:
    """A filter in line: series part and shunts in their order, and in the other order."""
    label = RunLabel("pedal", "resistor", resistor_ohm=100e3)
    source = (_series(150), LEAD_A, _series(100e3))
    parts = (_shunt(1e-6), _series(10e3), _shunt(S * 1e-9))
    assert _close(_h(label, FILTER), _over_emf(*source, *parts, _shunt(YL)))
    turned = msgspec.structs.replace(label, direction="reversed")
    assert _close(_h(turned, FILTER), _over_emf(*source, *parts[::-1], _shunt(YL)))


def test_inner_nodes_of_a_pedal_cannot_meet_those_of_the_setup() -> None:
    """A pedal may name its nodes and parts like those outside, and nothing is joined."""
    pedal = parse_elements(
        [(1, "Rout IN jack 1k"), (2, "Rload jack OUT 1k"), (3, "Cemf jack 0 1n")], "odd"
    )
    label = RunLabel("pedal", "resistor", resistor_ohm=100e3)
    closed = _over_emf(
        _series(150), LEAD_A, _series(101e3), _shunt(S * 1e-9), _series(1e3), _shunt(YL)
    )
    assert _close(_h(label, pedal), closed)


@pytest.mark.parametrize(
    ("load", "load_r", "expected"),
    [
        ("instrument", None, 1e6),
        ("line", None, 10e3),
        ("plug", None, 1 / (1 / 1e3 + 1e-6)),
        ("plug", 150.0, 1 / (1 / 150 + 1e-6)),
    ],
)
def test_loads(load: str, load_r: float | None, expected: float) -> None:
    """Line input in place of the instrument input; a load plug beside it."""
    label = msgspec.convert(
        {"path": "coupler", "feed": "plain", "load": load, "load_ohm": load_r}, RunLabel
    )
    assert load_ohm(label, IDEAL, LEADS) == pytest.approx(expected, rel=1e-12)
    node = 1 / expected + S * 700e-12
    assert _close(_h(label), 1 / (1 + 150 * node))


def test_true_values_differ_from_nominal_ones() -> None:
    """Errors of resistor and load plug, capacitance across the resistor, and a leaky lead."""
    leads = Leads.ideal(
        resistor_error=0.01, resistor_stray_f=0.3e-12, plug_error=-0.02, return_s=1e-7
    )
    label = RunLabel("coupler", "resistor", resistor_ohm=50e3, load="plug", load_ohm=1e4)
    series = 1 / (1 / (50e3 * 1.01) + S * 0.3e-12)
    end = 1 / 1e6 + 1 / 9800 + 1e-7 + S * 400e-12
    closed = _over_emf(_series(150), LEAD_A, _series(series), _shunt(end))
    assert _close(_h(label, leads=leads), closed)
    without = RunLabel("coupler", "resistor")
    named = RunLabel("coupler", "resistor", resistor_ohm=100e3)
    assert _close(_h(without), _h(named))


def test_chance_is_capacitance_where_it_belongs() -> None:
    """Plugging adds at either end of the pedal, both at the coupler; walks add to the leads."""
    chance = Chance(lead_a_f=7e-12, return_f=-5e-12, in_f=2e-12, out_f=-1e-12)
    source = (_series(150), _shunt(S * 307e-12), _series(100e3))
    label = RunLabel("coupler", "resistor", resistor_ohm=100e3)
    leads = Leads.ideal(coupler_f=2e-12)
    closed = _over_emf(*source, _shunt(YL + S * (2 + 2 - 1 - 5) * 1e-12))
    assert _close(_h(label, leads=leads, chance=chance), closed)
    pedal = msgspec.structs.replace(label, path="pedal")
    parts = (_shunt(1e-6 + S * 2e-12), _series(10e3), _shunt(S * (1000 - 1 - 5) * 1e-12))
    assert _close(
        _h(pedal, FILTER, leads=leads, chance=chance), _over_emf(*source, *parts, _shunt(YL))
    )


@pytest.mark.parametrize("tan_delta", [0.003, 0.03, 0.1])
def test_lossy_capacitor_keeps_its_loss_over_the_audio_band(tan_delta: float) -> None:
    """tan δ = Re Y / Im Y is the same from 5 Hz to 90 kHz, and C at 1 kHz is the nominal one.

    Where tan δ is constant C must go with ω to the power −(2/π) arctan(tan δ) (Kramers-Kronig).
    """
    y = 1 / impedance(lossy_capacitor("Cc", "x", 300e-12, tan_delta), F_HZ, "x")
    assert np.allclose(y.real / y.imag, tan_delta, rtol=0.03)
    falling = (F_HZ / 1000) ** (-2 / np.pi * math.atan(tan_delta))
    assert np.allclose(y.imag / (2 * np.pi * F_HZ), 300e-12 * falling, rtol=0.003)


def test_lossless_capacitor_is_one_part() -> None:
    """Without loss nothing is added."""
    assert lossy_capacitor("Cc", "x", 1e-12, 0.0) == (Element("C", "Cc", ("x", "0"), 1e-12),)


def test_rest_circuit_makes_the_noise_of_its_real_part() -> None:
    """With the EMF shorted the noise at the input is 4kT Re Z of the node (Nyquist 1928)."""
    label = RunLabel("coupler", "resistor", resistor_ohm=100e3)
    circuit = hook_up(label, WIRE, IDEAL, LEADS, AS_NOMINAL)
    found = thermal_density(circuit.at_rest(), F_HZ, circuit.out, 290.0)
    feeding = 1 / (1 / 150 + S * 300e-12) + 100e3
    node = 1 / (1 / feeding + YL)
    assert np.allclose(found, 4 * 1.380649e-23 * 290 * node.real, rtol=1e-9)


def test_impossible_hook_ups_are_refused() -> None:
    """Unplugged has no circuit, and a resistor of nothing is no resistor."""
    with pytest.raises(ArgumentError, match="unplugged run has no circuit"):
        _h(RunLabel("unplugged", "plain"))
    with pytest.raises(ArgumentError, match="must be above zero"):
        _h(RunLabel("coupler", "resistor", resistor_ohm=0.0))
