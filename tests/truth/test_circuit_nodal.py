"""The nodal solver against closed forms and a slow twin; noise; what it refuses."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.constants

from loopback.circuit.netlist import Element, parse_elements
from loopback.circuit.nodal import (
    BOLTZMANN_J_PER_K,
    chain_matrix,
    impedance,
    thermal_density,
    transfer,
)
from loopback.circuit.system import LEAKAGE_S
from loopback.errors import ArgumentError, NetlistError
from loopback.simulate.pedal import load_pedal, pedal_names
from tests.reference.tableau import node_voltages

F_HZ = np.array([20.0, 1e3, 20e3])
DRIVEN = "Rg s IN 150\nRl OUT 0 1M\nCl OUT 0 400p"


def circuit(text: str) -> tuple[Element, ...]:
    """Read element lines."""
    return parse_elements(enumerate(text.split("\n"), start=1), "test")


def test_low_pass_and_its_impedances() -> None:
    """R and C as a divider: response, input and output impedance in closed form."""
    r, c = 1e3, 1e-9
    elements = circuit("R1 IN OUT 1k\nC1 OUT 0 1n")
    jw = 2j * np.pi * F_HZ
    np.testing.assert_allclose(
        transfer(elements, F_HZ, ("IN", "0"), "OUT"), 1 / (1 + jw * r * c), rtol=1e-14
    )
    np.testing.assert_allclose(impedance(elements, F_HZ, "IN"), r + 1 / (jw * c), rtol=1e-13)
    np.testing.assert_allclose(impedance(elements, F_HZ, "OUT"), 1 / (jw * c), rtol=1e-13)


def test_resonance_of_series_l_and_c() -> None:
    """At resonance L and C in series leave only the resistor; far off they do not."""
    elements = circuit("R1 IN a 100\nL1 a b 1\nC1 b 0 1n")
    f0 = 1 / (2 * np.pi * np.sqrt(1e-9))
    z = impedance(elements, np.array([f0, 2 * f0]), "IN")
    assert z[0] == pytest.approx(100, abs=1e-6)
    assert z[1] == pytest.approx(100 + 1j * 2 * np.pi * f0 * (2 - 0.5), rel=1e-12)


def test_transformer_turns_and_polarity() -> None:
    """A transformer n:1 divides voltage by n, reflects a load as n², and turns with its sign."""
    elements = circuit("T1 IN 0 OUT 0 -3\nR1 OUT 0 50")
    m = chain_matrix(circuit("T1 IN 0 OUT 0 -3"), F_HZ)
    np.testing.assert_allclose(transfer(elements, F_HZ, ("IN", "0"), "OUT"), -1 / 3, rtol=1e-15)
    np.testing.assert_allclose(impedance(elements, F_HZ, "IN"), 450, rtol=1e-13)
    np.testing.assert_allclose(m, np.broadcast_to(np.diag([-3, -1 / 3]), m.shape), atol=1e-15)


def test_controlled_sources() -> None:
    """A transconductance into a resistor inverts; a controlled voltage keeps its sign."""
    stage = circuit("Ra IN 0 1M\nG1 OUT 0 IN 0 20m\nRc OUT 0 470")
    np.testing.assert_allclose(transfer(stage, F_HZ, ("IN", "0"), "OUT"), -9.4, rtol=1e-14)
    np.testing.assert_allclose(impedance(stage, F_HZ, "OUT"), 470, rtol=1e-14)
    buffer = circuit("Ra IN 0 1M\nE1 e 0 IN 0 0.98\nRo e OUT 60")
    m = chain_matrix(buffer, F_HZ)[0]
    np.testing.assert_allclose(m, [[1 / 0.98, 60 / 0.98], [1e-6 / 0.98, 60e-6 / 0.98]], rtol=1e-12)


def test_transfer_of_a_floating_emf() -> None:
    """The EMF may stand between any two nodes, either way round."""
    elements = circuit("R1 a 0 1k\nR2 b 0 3k")
    np.testing.assert_allclose(transfer(elements, F_HZ, ("a", "b"), "a"), 0.25, rtol=1e-14)
    np.testing.assert_allclose(transfer(elements, F_HZ, ("b", "a"), "a"), -0.25, rtol=1e-14)
    np.testing.assert_array_equal(transfer(elements, F_HZ, ("a", "b"), "0"), 0)


@pytest.mark.parametrize("name", pedal_names())
def test_every_pedal_against_the_slow_twin(name: str) -> None:
    """Response and input impedance of every state agree with the full tableau to 1e-9."""
    for state in load_pedal(name).states.values():
        elements = (*state.elements, *circuit(DRIVEN))
        fast = transfer(elements, F_HZ, ("s", "0"), "OUT")
        seen = impedance(state.elements, F_HZ, "IN")
        for k, f in enumerate(F_HZ):
            slow = node_voltages(elements, f, emf=("s", "0"))["OUT"]
            assert fast[k] == pytest.approx(slow, rel=1e-9, abs=0), state.name
            slow = node_voltages(state.elements, f, injected="IN")["IN"]
            assert seen[k] == pytest.approx(slow, rel=1e-9, abs=0), state.name


def test_contact_does_not_swallow_a_picofarad() -> None:
    """Beside a contact of 50 mΩ, 1e-16 S per hertz are still counted to nine digits."""
    elements = circuit("Rsw IN OUT 0.05\nCa IN 0 1p\nCb OUT 0 1p")
    c = 1 / (2j * np.pi * 1e-3 * impedance(elements, np.array([1e-3]), "IN")[0])
    assert c.real == pytest.approx(2e-12, rel=1e-9)


def test_batches_join_without_a_seam() -> None:
    """Thousands of frequencies, solved in several batches, equal those solved one by one."""
    elements = load_pedal("paper-kite").states["bypass"].elements
    f_hz = np.geomspace(1, 40e3, 9001)
    whole = chain_matrix(elements, f_hz)
    picked = np.arange(0, 9001, 450)
    one_by_one = np.concatenate([chain_matrix(elements, f_hz[i : i + 1]) for i in picked])
    np.testing.assert_allclose(whole[picked], one_by_one, rtol=1e-12)


def test_zero_frequency() -> None:
    """At zero frequency capacitors are open, inductors short, and the leakage holds the rest."""
    zero = np.array([0.0])
    ladder = circuit("L1 IN a 1\nR1 a OUT 1k\nR2 OUT 0 3k\nC1 OUT 0 1n\nC2 IN x 10p\nC3 x 0 10p")
    assert transfer(ladder, zero, ("IN", "0"), "OUT")[0] == pytest.approx(0.75, rel=1e-11)
    assert transfer(ladder, zero, ("IN", "0"), "x")[0] == 0
    wire = circuit("Rsw IN OUT 0.05\nC1 OUT 0 1p")
    assert impedance(wire, zero, "IN")[0] == pytest.approx(0.5 / LEAKAGE_S, rel=1e-6)
    assert np.isfinite(chain_matrix(wire, zero)).all()


def test_leakage_acts_at_zero_frequency_only() -> None:
    """A node held by 1 pF alone is 1 pF at a microhertz too, with no leakage beside it."""
    y = 1 / impedance(circuit("C1 x 0 1p"), np.array([1e-6]), "x")[0]
    assert y.real == pytest.approx(0, abs=1e-30)
    assert y.imag == pytest.approx(2 * np.pi * 1e-18, rel=1e-12)


@pytest.mark.parametrize("kelvin", [290.0, 293.15, 300.0])
def test_thermal_noise_of_resistors(kelvin: float) -> None:
    """A resistor makes 4kTR (Nyquist 1928), with k as in scipy's constants."""
    assert scipy.constants.k == BOLTZMANN_J_PER_K
    density = thermal_density(circuit("R1 x 0 100k"), F_HZ, "x", kelvin)
    np.testing.assert_allclose(density, 4 * scipy.constants.k * kelvin * 100e3, rtol=1e-13)


@pytest.mark.parametrize(
    ("ohm", "nv_rthz", "microvolt", "dbv"),
    [
        (100, 1.26552, 0.178972, -134.944),
        (600, 3.09989, 0.438391, -127.163),
        (1e3, 4.00194, 0.565960, -124.944),
        (10e3, 12.65525, 1.789722, -114.944),
        (100e3, 40.01941, 5.659599, -104.944),
        (250e3, 63.27624, 8.948611, -100.965),
        (500e3, 89.48611, 12.655247, -97.955),
        (1e6, 126.55247, 17.897222, -94.944),
    ],
)
def test_thermal_noise_table(ohm: float, nv_rthz: float, microvolt: float, dbv: float) -> None:
    """Density and level over 20 kHz at 290 K are those of √(4kTRB), to the tabled digits."""
    density = thermal_density((Element("R", "R1", ("x", "0"), ohm),), F_HZ, "x", 290.0)[0]
    rms = np.sqrt(density * 20e3)
    assert np.sqrt(density) * 1e9 == pytest.approx(nv_rthz, abs=5.01e-6)
    assert rms * 1e6 == pytest.approx(microvolt, abs=5.01e-7)
    assert 20 * np.log10(rms) == pytest.approx(dbv, abs=5.01e-4)


def test_thermal_noise_of_a_network_is_its_resistance() -> None:
    """At any node of a passive network the density is 4kT times the real part of its impedance."""
    elements = (
        *load_pedal("tidal-clock").states["bypass"].elements,
        *circuit("Rg IN 0 100k\nCg IN 0 0.3p\nRl OUT 0 1M\nCl OUT 0 400p"),
    )
    density = thermal_density(elements, F_HZ, "OUT")
    resistance = impedance(elements, F_HZ, "OUT").real
    np.testing.assert_allclose(density, 4 * scipy.constants.k * 293.15 * resistance, rtol=1e-12)


@pytest.mark.parametrize(
    ("farad", "microvolt"), [(100e-12, 6.327624), (500e-12, 2.829799), (1e-9, 2.000970)]
)
def test_thermal_noise_of_r_and_c(farad: float, microvolt: float) -> None:
    """Over all frequencies R beside C holds √(kT/C), whatever R is."""
    r = 10e3
    corner = 1 / (2 * np.pi * r * farad)
    # f = corner · tan(θ) turns the integral over all frequencies into one over an even grid
    theta = (np.arange(4000) + 0.5) / 4000 * np.pi / 2
    f_hz = corner * np.tan(theta)
    elements = (Element("R", "R1", ("x", "0"), r), Element("C", "C1", ("x", "0"), farad))
    density = thermal_density(elements, f_hz, "x", 290.0)
    power = np.sum(density * corner / np.cos(theta) ** 2) * np.pi / 2 / 4000
    assert np.sqrt(power) * 1e6 == pytest.approx(microvolt, abs=1e-6)


def test_noise_of_a_contact_and_at_ground() -> None:
    """A resistor below ten ohm makes its noise too, and ground has none."""
    elements = circuit("R1 x 0 2")
    np.testing.assert_allclose(
        thermal_density(elements, F_HZ, "x"), 8 * scipy.constants.k * 293.15, rtol=1e-12
    )
    np.testing.assert_array_equal(thermal_density(elements, F_HZ, "0"), 0)


def test_active_elements_make_no_noise() -> None:
    """Through a buffer of gain two comes four times the noise power, and nothing of its own."""
    elements = circuit("R1 a 0 10k\nE1 x 0 a 0 2")
    np.testing.assert_allclose(
        thermal_density(elements, F_HZ, "x"), 16 * scipy.constants.k * 293.15 * 10e3, rtol=1e-12
    )


@pytest.mark.parametrize(
    ("text", "floating"),
    [
        ("R1 a b 1k\nC1 OUT 0 1p", "a, b"),
        ("E1 OUT 0 b 0 1\nR1 OUT 0 1k", "b"),
        ("G1 OUT 0 IN 0 1\nR1 IN 0 1k", "OUT"),
        ("T1 IN 0 s t 1\nR1 OUT 0 1k", "s, t"),
    ],
)
def test_node_without_ground_is_named(text: str, floating: str) -> None:
    """A node that nothing ties to ground is an error that names it."""
    with pytest.raises(NetlistError, match=f"Nothing ties {floating} to ground"):
        impedance(circuit(text), F_HZ, "OUT")


@pytest.mark.parametrize(
    "text",
    [
        "E1 OUT 0 OUT 0 1\nR1 OUT 0 1k",
        "E1 OUT 0 IN 0 1\nE2 OUT 0 IN 0 2\nR1 IN 0 1k",
        "C1 OUT 0 1e305",
    ],
    ids=["own input", "two sources", "overflow"],
)
def test_circuit_without_solution_is_refused(text: str) -> None:
    """Sources that contradict each other, or absurd values, are an error, not numbers."""
    with pytest.raises(NetlistError, match="no unique solution"):
        impedance(circuit(text), F_HZ, "OUT")


def test_dead_path_has_no_chain_matrix() -> None:
    """Where nothing at all gets across, A would be infinite: refused, with that reason."""
    with pytest.raises(NetlistError, match="nothing gets from input to output"):
        chain_matrix(circuit("R1 IN 0 1M\nR2 OUT 0 1M"), F_HZ)


def test_unknown_and_equal_nodes_are_refused() -> None:
    """A node that does not occur is named with those that do; two ports need two nodes."""
    elements = circuit("R1 IN OUT 1k\nR2 OUT 0 1k")
    with pytest.raises(NetlistError, match=r"no node jack .*Its nodes are: IN, OUT"):
        impedance(elements, F_HZ, "jack")
    with pytest.raises(NetlistError, match="same node, IN"):
        chain_matrix(elements, F_HZ, "IN", "IN")


@pytest.mark.parametrize("f_hz", [np.array([-1.0]), np.array([np.nan]), np.ones((2, 2))])
def test_impossible_frequencies_are_refused(f_hz: np.ndarray) -> None:
    """Negative, not finite, or not one row: an argument error."""
    with pytest.raises(ArgumentError, match="zero or above"):
        impedance(circuit("R1 x 0 1k"), f_hz, "x")


def test_negative_temperature_is_refused() -> None:
    """No temperature lies below absolute zero."""
    with pytest.raises(ArgumentError, match=r"-1\.0 K"):
        thermal_density(circuit("R1 x 0 1k"), F_HZ, "x", -1.0)
