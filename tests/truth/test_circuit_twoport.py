"""Two-port algebra against closed forms, textbook examples and scikit-rf."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from loopback.arrays import C128
from loopback.circuit.twoport import (
    a_from_s,
    cascade,
    determinant,
    input_impedance,
    line,
    output_impedance,
    s_from_a,
    series_impedance,
    shunt_admittance,
    voltage_ratio,
)
from loopback.errors import ArgumentError

F_HZ = np.array([20.0, 1e3, 20e3])
# 1 kΩ in series, then 1 MΩ and 1 nF to ground. Computed independently of this package; circuit
# simulator, scikit-rf and two symbolic programs agree to 1e-12.
SERIES_SHUNT_A = np.array([1.001 + 1.25663706e-4j, 1.001 + 6.28318531e-3j, 1.001 + 0.125663706j])
SERIES_SHUNT_C = np.array([1e-6 + 1.25663706e-7j, 1e-6 + 6.28318531e-6j, 1e-6 + 1.25663706e-4j])
SERIES_SHUNT_S11 = np.array([
    0.4544562366640 - 1.1206482310e-5j,
    0.4544547016892 - 5.6031990883e-4j,
    0.4538438368585 - 1.1172915970e-2j,
])  # fmt: skip
SERIES_SHUNT_S21 = np.array([
    0.5452166311041 - 2.9883952827e-5j,
    0.5452125378380 - 1.4941864235e-3j,
    0.5435835649558 - 2.9794442587e-2j,
])  # fmt: skip
SERIES_SHUNT_S22 = np.array([
    0.4539110162776 - 7.9690540873e-5j,
    0.4539001009012 - 3.9844971294e-3j,
    0.4495561732155 - 7.9451846899e-2j,
])  # fmt: skip


def _flat(value: complex, count: int = 1) -> C128:
    return np.full(count, value, dtype=np.complex128)


def _jw(f_hz: np.ndarray) -> C128:
    return np.asarray(2j * np.pi * f_hz, dtype=np.complex128)


def _series_shunt(series_ohm: float, g_siemens: float, c_farad: float, f_hz: np.ndarray) -> C128:
    return cascade(
        series_impedance(_flat(series_ohm, len(f_hz))),
        shunt_admittance(g_siemens + _jw(f_hz) * c_farad),
    )


def test_series_shunt_chain_matrix() -> None:
    """Series resistor and shunt RC give the tabled A and C, with B the resistor and D one."""
    m = _series_shunt(1e3, 1e-6, 1e-9, F_HZ)
    np.testing.assert_allclose(m[:, 0, 0], SERIES_SHUNT_A, rtol=1e-9)
    np.testing.assert_allclose(m[:, 1, 0], SERIES_SHUNT_C, rtol=1e-8)
    np.testing.assert_allclose(m[:, 0, 1], 1e3, rtol=1e-15)
    np.testing.assert_allclose(m[:, 1, 1], 1.0, rtol=1e-15)


def test_series_shunt_scattering_matrix() -> None:
    """Its scattering matrix in 600 Ω is the tabled one, and the way back returns."""
    m = _series_shunt(1e3, 1e-6, 1e-9, F_HZ)
    s = s_from_a(m, 600.0, 600.0)
    np.testing.assert_allclose(s[:, 0, 0], SERIES_SHUNT_S11, rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(s[:, 1, 0], SERIES_SHUNT_S21, rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(s[:, 0, 1], SERIES_SHUNT_S21, rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(s[:, 1, 1], SERIES_SHUNT_S22, rtol=1e-12, atol=1e-13)
    np.testing.assert_allclose(a_from_s(s, 600.0, 600.0), m, rtol=1e-11)


def test_series_shunt_driven() -> None:
    """Response, input and output impedance from 100 Ω into 1 MΩ are the tabled ones."""
    m = _series_shunt(1e3, 1e-6, 1e-9, F_HZ)
    ratio = voltage_ratio(m, 100.0, 1e-6)
    np.testing.assert_allclose(
        ratio,
        [
            0.997804810393377 - 1.376238630e-4j,
            0.997757376639400 - 6.880866033e-3j,
            0.979177199765302 - 0.135054619321j,
        ],
        rtol=1e-11,
    )
    np.testing.assert_allclose(
        20 * np.log10(np.abs(ratio)), [-0.019088051, -0.019294511, -0.100931061], atol=5.01e-10
    )
    np.testing.assert_allclose(
        input_impedance(m, 1e-6),
        [499033.841 - 31292.389j, 46999.834 - 144512.741j, 1126.61941 - 7955.73194j],
        rtol=1e-8,
    )
    np.testing.assert_allclose(
        output_impedance(m, 100.0),
        [1098.79131 - 0.15172j, 1098.73896 - 7.58559j, 1078.23416 - 148.88062j],
        rtol=1e-8,
    )


@pytest.mark.parametrize(
    ("source_ohm", "series_ohm", "shunt_ohm", "shunt_farad", "printed_db"),
    [
        (100, 1e3, np.inf, 0.0, [-0.008681, -0.008681, -0.008681, -0.008681]),
        (10e3, 0.0, 1e6, 0.0, [-0.085576, -0.085576, -0.085576, -0.085576]),
        (10e3, 0.0, np.inf, 1e-9, [-0.000007, -0.016775, -1.420781, -4.062031]),
        (10e3, 2.2e3, 500e3, 470e-12, [-0.225799, -0.231040, -0.721063, -1.937747]),
        (100, 2.2e3, 500e3, 470e-12, [-0.058858, -0.059056, -0.078575, -0.137194]),
    ],
)
def test_level_against_a_cable(
    source_ohm: float,
    series_ohm: float,
    shunt_ohm: float,
    shunt_farad: float,
    printed_db: list[float],
) -> None:
    """Level against a bare cable into 1 MΩ, as computed independently to the microbel."""
    f_hz = np.array([20.0, 1e3, 10e3, 20e3])
    pedal = _series_shunt(series_ohm, 1 / shunt_ohm, shunt_farad, f_hz)
    cable = series_impedance(_flat(0, len(f_hz)))
    ratio = voltage_ratio(pedal, source_ohm, 1e-6) / voltage_ratio(cable, source_ohm, 1e-6)
    np.testing.assert_allclose(20 * np.log10(np.abs(ratio)), printed_db, atol=5.01e-7)


@pytest.mark.parametrize(
    ("m", "s11", "s21"),
    [
        (series_impedance(_flat(50)), 1 / 3, 2 / 3),
        (shunt_admittance(_flat(1 / 50)), -1 / 3, 2 / 3),
        (shunt_admittance(_flat(1 / 25)), -1 / 2, 1 / 2),
    ],
    ids=["series 50", "shunt 50", "shunt 25"],
)
def test_textbook_scattering(m: C128, s11: float, s21: float) -> None:
    """Single resistors in 50 Ω reflect and pass what every textbook says (Pozar, ch. 4)."""
    s = s_from_a(m, 50.0, 50.0)
    assert s[0, 0, 0] == pytest.approx(s11, rel=1e-14)
    assert s[0, 1, 0] == pytest.approx(s21, rel=1e-14)


def test_three_decibel_pad() -> None:
    """The T pad 8.56, 141.8, 8.56 Ω is matched to 50 Ω and 3 dB (Pozar, ch. 4)."""
    arm, leg = series_impedance(_flat(8.56)), shunt_admittance(_flat(1 / 141.8))
    m = cascade(arm, leg, arm)
    s = s_from_a(m, 50.0, 50.0)
    assert m[0, 0, 0] == pytest.approx(1.06036671, rel=1e-8)
    assert m[0, 1, 1] == pytest.approx(m[0, 0, 0], rel=1e-14)
    assert m[0, 0, 1] == pytest.approx(17.6367391, rel=1e-8)
    assert m[0, 1, 0] == pytest.approx(7.05218618e-3, rel=1e-8)
    assert s[0, 1, 0] == pytest.approx(0.70769467, rel=1e-8)
    assert s[0, 0, 0] == pytest.approx(4.4398e-5, rel=1e-4)


@pytest.mark.parametrize(("z0_ohm", "s11", "s21"), [(50.0, 0.0, -1j), (100.0, 0.6, -0.8j)])
def test_quarter_wave_line(z0_ohm: float, s11: complex, s21: complex) -> None:
    """A quarter wave of lossless line turns by 90° and transforms (Pozar, ch. 4)."""
    speed = 2e8
    m = line(
        np.array([1e6]),
        speed / 1e6 / 4,
        c_farad_per_m=1 / (z0_ohm * speed),
        l_henry_per_m=z0_ohm / speed,
    )
    s = s_from_a(m, 50.0, 50.0)
    assert s[0, 0, 0] == pytest.approx(s11, abs=1e-12)
    assert s[0, 1, 0] == pytest.approx(s21, abs=1e-12)


def test_cable_of_five_metres() -> None:
    """A lossy cable at 20 kHz has the independently computed A and C, and may be lumped."""
    f_hz = np.array([20e3])
    per_metre = {
        "r_ohm_per_m": 0.1,
        "l_henry_per_m": 0.5e-6,
        "g_siemens_per_m": 0.1e-9,
        "c_farad_per_m": 100e-12,
    }
    m = line(f_hz, 5.0, **per_metre)
    gamma = 5.89297e-4 + 1.066222e-3j
    z0 = 84.8476 - 46.8941j
    assert m[0, 0, 0] == pytest.approx(0.9999901305 + 1.5708e-5j, abs=5e-11)
    assert m[0, 1, 0] == pytest.approx(1.7101e-10 + 6.28316e-5j, rel=1e-6)
    assert m[0, 0, 0] == pytest.approx(np.cosh(gamma * 5), rel=1e-8)
    assert m[0, 0, 1] == pytest.approx(z0 * np.sinh(gamma * 5), rel=3e-6)
    assert determinant(m)[0] == pytest.approx(1, abs=1e-14)
    lumped = voltage_ratio(shunt_admittance(_jw(f_hz) * 500e-12), 150.0, 1e-6)
    assert abs(m[0, 1, 0] / (2j * np.pi * 20e3 * 500e-12) - 1) < 5e-6
    assert abs(abs(voltage_ratio(m, 150.0, 1e-6) / lumped)[0] - 1) < 1e-5


def test_line_without_constants_is_a_wire() -> None:
    """Zero frequency or missing constants leave the identity, not a division by zero."""
    for m in (
        line(np.array([0.0]), 3.0, c_farad_per_m=100e-12),
        line(np.array([1e3]), 3.0, c_farad_per_m=0.0),
        line(np.array([0.0, 1e3]), 0.0, c_farad_per_m=100e-12, r_ohm_per_m=0.1),
    ):
        np.testing.assert_array_equal(m, np.broadcast_to(np.eye(2), m.shape))


def test_line_series_and_quotient_meet() -> None:
    """The series used for short lines continues the closed form without a step."""
    f_hz = np.array([1e3])
    constants = {"r_ohm_per_m": 0.1, "l_henry_per_m": 0.5e-6, "c_farad_per_m": 100e-12}
    short = line(f_hz, 0.25, **constants)
    np.testing.assert_allclose(
        cascade(*[short] * 400), line(f_hz, 100.0, **constants), rtol=1e-12, atol=1e-22
    )


def test_against_scikit_rf() -> None:
    """Circuit, conversion with unequal complex ports, and the way back agree with scikit-rf."""
    media = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(F_HZ, unit="Hz"), z0=600)
    network = (
        media.resistor(1e3)
        ** media.shunt(media.resistor(1e6) ** media.short())
        ** media.shunt_capacitor(1e-9)
    )
    m = _series_shunt(1e3, 1e-6, 1e-9, F_HZ)
    np.testing.assert_allclose(s_from_a(m, 600.0, 600.0), network.s, rtol=1e-11, atol=1e-12)

    rng = np.random.default_rng(4)
    other = rng.normal(size=(7, 2, 2)) + 1j * rng.normal(size=(7, 2, 2))
    z1 = rng.uniform(10, 1e3, 7) + 1j * rng.normal(0, 300, 7)
    z2 = rng.uniform(10, 1e3, 7) + 1j * rng.normal(0, 300, 7)
    z0 = np.stack([z1, z2], axis=1)
    s = s_from_a(other, z1, z2)
    np.testing.assert_allclose(s, skrf.network.a2s(other, z0), rtol=1e-12)
    np.testing.assert_allclose(a_from_s(s, z1, z2), other, rtol=1e-11)
    np.testing.assert_allclose(a_from_s(s, z1, z2), skrf.network.s2a(s, z0), rtol=1e-11)


def test_open_input_is_infinite() -> None:
    """Where nothing is across the line and nothing behind it, the input impedance is infinite."""
    assert np.isinf(input_impedance(series_impedance(_flat(50)), 0.0)[0])


def test_cascade_of_nothing_is_refused() -> None:
    """A cascade needs at least one two-port, for its length is not known."""
    with pytest.raises(ArgumentError, match="at least one two-port"):
        cascade()
