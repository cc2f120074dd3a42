"""The solver against a table of bypass circuits computed by another solver, digit by digit."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from loopback.arrays import C128, F64
from loopback.circuit.netlist import Element
from loopback.circuit.nodal import chain_matrix
from loopback.circuit.twoport import shunt_admittance, voltage_ratio
from loopback.simulate.pedal import load_pedal
from tests.reference.bypass_circuits import KNOWN, Known

SPOT_HZ = np.array([50.0, 1e3, 5e3, 20e3])
FIT_HZ = np.geomspace(30.0, 40e3, 300)
COUPLER_F = 2e-12

every_circuit = pytest.mark.parametrize("known", KNOWN.values(), ids=KNOWN.keys())


def _jw(f_hz: F64) -> C128:
    return np.asarray(2j * np.pi * f_hz, dtype=np.complex128)


def _feed_ohm(feed: str, f_hz: F64) -> C128:
    if feed == "plain":
        return np.full(len(f_hz), 150.0 + 0j)
    return 1 / (1 / 100e3 + _jw(f_hz) * 0.3e-12)


def _load_siemens(f_hz: F64) -> C128:
    return 1e-6 + _jw(f_hz) * (400e-12 - COUPLER_F)


def _reference(feed: str, f_hz: F64) -> C128:
    coupler = shunt_admittance(_jw(f_hz) * COUPLER_F)
    return voltage_ratio(coupler, _feed_ohm(feed, f_hz), _load_siemens(f_hz))


def _against_coupler(elements: tuple[Element, ...], feed: str, f_hz: F64) -> C128:
    pedal = chain_matrix(elements, f_hz)
    ratio = voltage_ratio(pedal, _feed_ohm(feed, f_hz), _load_siemens(f_hz))
    return ratio / _reference(feed, f_hz)


def _db(ratio: C128) -> F64:
    return 20 * np.log10(np.abs(ratio))


def _agrees(value: float, printed: str) -> bool:
    """Whether a value rounds to what was printed; a tie may round either way."""
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return abs(value - float(printed)) <= 0.5000001 * 10.0**exponent


@every_circuit
@pytest.mark.parametrize("feed", ["plain", "resistor"])
def test_levels_have_the_printed_digits(known: Known, feed: str) -> None:
    """Levels at four frequencies round to the digits the other solver printed."""
    db = _db(_against_coupler(known.elements, feed, SPOT_HZ))
    printed = known.plain_db if feed == "plain" else known.resistor_db
    assert all(_agrees(*pair) for pair in zip(db, printed, strict=True)), (db, printed)


@every_circuit
def test_determinant_from_two_feeds_and_two_loads(known: Known) -> None:
    """AD − BC, from four responses as one would measure them, is 1 or 0 as printed."""
    f_hz = np.array([1e3])
    pedal = chain_matrix(known.elements, f_hz)
    feeds = [_feed_ohm("plain", f_hz), _feed_ohm("resistor", f_hz)]
    loads = [_load_siemens(f_hz), _load_siemens(f_hz) + 1e-3]
    h = [[1 / voltage_ratio(pedal, zs, yl) for yl in loads] for zs in feeds]
    dz, dy = feeds[1] - feeds[0], loads[1] - loads[0]
    # 1/H = A + B YL + C Zs + D Zs YL, solved by differences
    d = (h[1][1] - h[1][0] - h[0][1] + h[0][0]) / (dz * dy)
    c = (h[1][0] - h[0][0]) / dz - d * loads[0]
    b = (h[0][1] - h[0][0]) / dy - d * feeds[0]
    a = h[0][0] - b * loads[0] - c * feeds[0] - d * feeds[0] * loads[0]
    assert _agrees(abs(a * d - b * c)[0], known.determinant)


def _fitted_shunt(ratio: C128, weight: F64, zth: C128, f_hz: F64) -> tuple[float, float, float]:
    """Farad, siemens, and the rms of the level that is left, dB."""
    scale = np.array([1e-6, 1e-12])
    design = np.stack([zth, zth * _jw(f_hz)], axis=1) * scale
    left, right = design * weight[:, None], (1 / ratio - 1) * weight
    solution = np.linalg.lstsq(
        np.concatenate([left.real, left.imag]), np.concatenate([right.real, right.imag])
    )[0]
    fitted = 1 / (1 + design @ solution)
    residual = float(np.sqrt(np.mean(_db(fitted / ratio) ** 2)))
    return solution[1] * 1e-12, solution[0] * 1e-6, residual


@every_circuit
def test_fitted_shunt_has_the_printed_digits(known: Known) -> None:
    """The best R and C across the line, and what they cannot explain, are those printed."""
    reference = _reference("resistor", FIT_HZ)
    zth = 1 / (1 / _feed_ohm("resistor", FIT_HZ) + _load_siemens(FIT_HZ) + _jw(FIT_HZ) * COUPLER_F)
    ratio = _against_coupler(known.elements, "resistor", FIT_HZ)
    farad, siemens, residual = _fitted_shunt(ratio, np.abs(reference), zth, FIT_HZ)
    assert _agrees(residual, known.residual_db)
    if known.shunt_pf != "-":
        assert _agrees(farad * 1e12, known.shunt_pf)
    if known.shunt_ohm == "inf":
        assert abs(siemens) < 1e-11
    elif known.shunt_ohm != "-":
        step = {"k": 1e3, "M": 1e6}[known.shunt_ohm[-1]]
        assert _agrees(1 / siemens / step, known.shunt_ohm[:-1])


@every_circuit
def test_pedal_file_holds_the_known_circuit(known: Known) -> None:
    """The state of the simulated pedal is the tabled circuit, element by element."""
    state = load_pedal(known.pedal).states[known.state]
    assert set(state.elements) == set(known.elements)
    assert len(state.elements) == len(known.elements)
