"""Laws that every linear two-port obeys, on random ladders of R, L and C."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from loopback.arrays import C128, F64
from loopback.circuit.netlist import Element, Kind
from loopback.circuit.nodal import chain_matrix, impedance, thermal_density, transfer
from loopback.circuit.twoport import (
    a_from_s,
    cascade,
    determinant,
    input_impedance,
    output_impedance,
    s_from_a,
    series_impedance,
    shunt_admittance,
    voltage_ratio,
)

F_HZ = np.array([10.0, 1e3, 3e4])
JW: C128 = np.asarray(2j * np.pi * F_HZ, dtype=np.complex128)

Rung = tuple[Kind, bool, float]
"""Kind, whether it stands in the line (or across it), value."""


def _part(kind: Kind, low: float, high: float) -> st.SearchStrategy[Rung]:
    value = st.floats(np.log(low), np.log(high)).map(lambda x: float(np.exp(x)))
    return st.tuples(st.just(kind), st.booleans(), value)


rungs = st.one_of(_part("R", 0.05, 10e6), _part("C", 1e-12, 1e-6), _part("L", 1e-3, 10.0))
# A resistor in line at the start keeps input and output apart whatever follows.
ladders = st.lists(rungs, min_size=0, max_size=6).map(lambda x: [("R", True, 100.0), *x])


def _elements(ladder: list[Rung]) -> tuple[Element, ...]:
    found, here = [], "IN"
    last = max(i for i, rung in enumerate(ladder) if rung[1])
    for i, (kind, in_line, value) in enumerate(ladder):
        there = "OUT" if i == last else f"n{i}"
        nodes = (here, there) if in_line else (here, "0")
        found.append(Element(kind, f"{kind}{i}", nodes, value))
        here = there if in_line else here
    return tuple(found)


def _two_ports(ladder: list[Rung]) -> list[C128]:
    found = []
    for kind, in_line, value in ladder:
        z = {"R": value + 0 * JW, "C": 1 / (JW * value), "L": JW * value}[kind]
        found.append(series_impedance(z) if in_line else shunt_admittance(1 / z))
    return found


def _close(a: C128, b: C128, tolerance: float) -> bool:
    return bool(np.all(np.abs(a - b) <= tolerance * np.maximum(np.abs(a), np.abs(b))))


def _size(m: C128) -> F64:
    """What A D and B C are each as large as: digits of their difference are lost to it."""
    return 1 + np.abs(m[:, 0, 0] * m[:, 1, 1]) + np.abs(m[:, 0, 1] * m[:, 1, 0])


def _allowed(two_ports: list[C128]) -> F64:
    """What 1e-16 S stray at any node would change, and 1e-10 of the rest: the solver's rounding."""
    stray = np.array([[0.0, 0.0], [1e-16, 0.0]])
    sizes = [np.broadcast_to(np.eye(2), (len(F_HZ), 2, 2)), *(np.abs(m) for m in two_ports)]
    total = 1e-10 * cascade(*sizes)
    for cut in range(1, len(sizes) + 1):
        total = total + cascade(*sizes[:cut]) @ stray @ cascade(sizes[0], *sizes[cut:])
    return total


@given(ladders)
def test_nodal_ladder_is_the_cascade_of_its_rungs(ladder: list[Rung]) -> None:
    """The nodal solver and the product of chain matrices agree on every ladder."""
    rungs_alone = _two_ports(ladder)
    off = np.abs(chain_matrix(_elements(ladder), F_HZ) - cascade(*rungs_alone))
    assert np.all(off <= _allowed(rungs_alone))


@given(ladders)
def test_passive_ladders_are_reciprocal(ladder: list[Rung]) -> None:
    """AD − BC is one, to the digits that the products leave."""
    m = chain_matrix(_elements(ladder), F_HZ)
    assert np.all(np.abs(determinant(m) - 1) <= 1e-11 * _size(m))


def _renamed(element: Element, mark: str, **jacks: str) -> Element:
    nodes = tuple(jacks.get(n, n if n in ("0", "IN", "OUT") else n + mark) for n in element.nodes)
    return Element(element.kind, element.name + mark, nodes, element.value)


@given(ladders, ladders)
def test_joined_ladders_multiply(first: list[Rung], second: list[Rung]) -> None:
    """Two circuits joined at a node have the product of their chain matrices."""
    one, two = _elements(first), _elements(second)
    joined = (
        *(_renamed(e, "x", OUT="mid") for e in one),
        *(_renamed(e, "y", IN="mid") for e in two),
    )
    product = cascade(chain_matrix(one, F_HZ), chain_matrix(two, F_HZ))
    off = np.abs(chain_matrix(joined, F_HZ) - product)
    assert np.all(off <= 2 * _allowed([*_two_ports(first), *_two_ports(second)]))


@given(ladders, st.floats(1, 1e6), st.floats(1e-7, 1e-2))
def test_chain_matrix_predicts_what_is_driven(
    ladder: list[Rung], source_ohm: float, load_siemens: float
) -> None:
    """Response and impedances from the matrix are those of the whole circuit solved at once."""
    elements = _elements(ladder)
    source = Element("R", "RSOURCE", ("EMF", "IN"), source_ohm)
    load = Element("R", "RLOAD", ("OUT", "0"), 1 / load_siemens)
    m = chain_matrix(elements, F_HZ)
    whole = transfer((*elements, source, load), F_HZ, ("EMF", "0"), "OUT")
    assert _close(voltage_ratio(m, source_ohm, load_siemens), whole, 1e-7)
    assert _close(input_impedance(m, load_siemens), impedance((*elements, load), F_HZ, "IN"), 1e-7)
    grounded = Element("R", "RSOURCE", ("IN", "0"), source_ohm)
    seen = impedance((*elements, grounded), F_HZ, "OUT")
    assert _close(output_impedance(m, source_ohm), seen, 1e-7)


@given(ladders, st.floats(1, 1e5), st.floats(1, 1e5), st.floats(-1e4, 1e4))
def test_scattering_round_trip(ladder: list[Rung], r1: float, r2: float, x2: float) -> None:
    """Chain to scattering matrix and back returns, beside what the port impedances add up to."""
    z2 = r2 + 1j * x2
    m = cascade(*_two_ports(ladder))
    back = a_from_s(s_from_a(m, r1, z2), r1, z2)
    # All four entries meet in each S parameter, so each is known to 1e-16 of their sum in volts.
    volts = np.abs(m) * np.array([[abs(z2), 1.0], [r1 * abs(z2), r1]])
    total = np.sum(volts, axis=(1, 2)) * abs(z2) / r2
    share = total[:, None, None] / np.array([[abs(z2), 1.0], [r1 * abs(z2), r1]])
    assert np.all(np.abs(back - m) <= 1e-12 * share)


@given(ladders, st.floats(1, 1e5), st.floats(1, 1e5))
def test_passive_ladders_give_no_power(ladder: list[Rung], r1: float, r2: float) -> None:
    """No more power comes out of a passive two-port than went in, from either side."""
    s = s_from_a(cascade(*_two_ports(ladder)), r1, r2)
    out = np.abs(s[:, 0, :]) ** 2 + np.abs(s[:, 1, :]) ** 2
    assert np.all(out <= 1 + 1e-9)


@given(ladders)
def test_thermal_noise_follows_resistance(ladder: list[Rung]) -> None:
    """The noise at any node of a passive circuit is 4kT times its resistance (Nyquist 1928)."""
    elements = (*_elements(ladder), Element("R", "RLOAD", ("OUT", "0"), 1e6))
    density = thermal_density(elements, F_HZ, "OUT", 300.0)
    z = impedance(elements, F_HZ, "OUT")
    assert np.all(np.abs(density / (4 * 1.380649e-23 * 300.0) - z.real) <= 1e-9 * np.abs(z))
