"""Kernels of the chain matrix against closed forms and ngspice."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from loopback.circuit.netlist import Element
from loopback.circuit.nodal import chain_matrix
from loopback.circuit.twoport import voltage_ratio
from loopback.identify.matrix import solve_four
from loopback.identify.reversed import reversed_determinant
from loopback.simulate.pedal import load_pedal
from tests.reference.ngspice import responses

F_HZ = np.array([20.0, 100.0, 1e3, 5e3, 20e3])
S = 2j * np.pi * F_HZ
FEEDS_OHM = (150.0, 100e3)
LOADS = ((1e6, 400e-12), (1e3, 420e-12))


def _ports() -> tuple[np.ndarray, np.ndarray]:
    z = np.array([np.full(len(F_HZ), r + 0j) for r in FEEDS_OHM])
    return z, np.array([1 / r + S * c for r, c in LOADS])


def test_any_matrix_comes_back() -> None:
    """Four responses computed from a random complex matrix give the same matrix."""
    rng = np.random.default_rng(4)
    m = rng.normal(size=(len(F_HZ), 2, 2)) + 1j * rng.normal(size=(len(F_HZ), 2, 2))
    m[:, 0, 1] *= 1e3
    m[:, 1, 0] *= 1e-5
    z, y = _ports()
    h = np.array([1 / voltage_ratio(m, zi, yj) for zi in z for yj in y])
    np.testing.assert_allclose(solve_four(h, z, y), m, rtol=1e-9)


@pytest.mark.needs("ngspice")
@pytest.mark.parametrize("name", ["tidal-clock", "salt-lantern", "paper-kite"])
def test_four_runs_of_ngspice(tmp_path: Path, name: str) -> None:
    """Four AC runs of another simulator give the matrix that the netlist has, also of a buffer."""
    file = load_pedal(name)
    elements = file.states[file.bypass].elements
    circuits = [
        (
            *elements,
            Element("R", "RFEED", ("SRC", "IN"), feed),
            Element("R", "RLOAD", ("OUT", "0"), r),
            Element("C", "CLOAD", ("OUT", "0"), c),
        )
        for feed in FEEDS_OHM
        for r, c in LOADS
    ]
    h = 1 / responses(circuits, F_HZ, "SRC", "OUT", tmp_path)
    found, true = solve_four(h, *_ports()), chain_matrix(elements, F_HZ)
    assert np.max(np.abs(found - true)[:, 0, 0] / np.abs(true[:, 0, 0])) < 1e-6
    assert np.max(np.abs(found - true)[:, 0, 1]) < 1e-3
    assert np.max(np.abs(found - true)[:, 1, 0]) < 1e-11
    assert np.max(np.abs(found - true)[:, 1, 1]) < 1e-6


@pytest.mark.parametrize("determinant", [1.0, 0.3, 0.0])
def test_reversed_determinant(determinant: float) -> None:
    """Two forward responses and a reversed one give AD - BC exactly, B being known.

    Passive, with some feed-through, and cut off behind an ideal buffer (1e-9 for its zero).
    """
    det = max(determinant, 1e-9)
    a, b, c = 1.1 + 0.02j, 300.0 + 5j, 2e-6 + S * 30e-12
    d = (det + b * c) / a
    (z1, z2), (y, _) = _ports()

    def inverse(p: complex, q: np.ndarray, z: np.ndarray) -> np.ndarray:
        return p + b * y + c * z + q * z * y

    turned = (d + b * y + c * z2 + a * z2 * y) / det
    forward = [inverse(a, d, z) for z in (z1, z2)]
    found = reversed_determinant(forward[0], forward[1], turned, z1, z2, y, b)
    np.testing.assert_allclose(found, det, atol=1e-8)
