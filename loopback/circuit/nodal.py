"""Questions to a small linear circuit, answered at all frequencies at once.

Voltage ratio, impedance, thermal noise and chain matrix, by the modified nodal analysis of
:mod:`loopback.circuit.system`; what happens to nodes that nothing holds is stated there.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.netlist import GROUND, Element
from loopback.circuit.system import System
from loopback.errors import ArgumentError, NetlistError

BOLTZMANN_J_PER_K = 1.380649e-23
"""Exact by definition of the kelvin (SI, 2019)."""


def transfer(elements: Sequence[Element], f_hz: F64, source: tuple[str, str], out: str) -> C128:
    """Voltage at a node over an ideal EMF between two nodes.

    Parameters
    ----------
    elements : sequence of Element
        The whole circuit, with source resistance and load.
    f_hz : ndarray of float64, shape (k,)
        Frequencies, zero or above.
    source : tuple of str
        Positive and negative node of the EMF.
    out : str
        Node whose voltage to ground is wanted.

    Returns
    -------
    ndarray of complex128, shape (k,)
        V/V.

    Raises
    ------
    NetlistError
        If a node has no tie to ground, a node named here does not occur, or the circuit has no
        unique solution.
    ArgumentError
        If a frequency is negative or not finite.
    """
    system = System(elements, ties=(source,))
    current = system.add_branch(source)
    system.stamp_voltage_row(current, source, 1.0)
    rhs = np.zeros((system.size, 1))
    rhs[current, 0] = 1.0
    row = system.node(out)
    return _pick(system.solve(f_hz, rhs)[:, :, 0], row)


def impedance(elements: Sequence[Element], f_hz: F64, node: str) -> C128:
    """Impedance between a node and ground, the circuit at rest.

    Parameters
    ----------
    elements : sequence of Element
        The circuit; what is to be seen from the node and nothing else.
    f_hz : ndarray of float64, shape (k,)
        Frequencies, zero or above.
    node : str
        Where one looks into it.

    Returns
    -------
    ndarray of complex128, shape (k,)
        Ohm. At zero frequency a node without any path to ground for direct current reads the
        leakage of the solver, about 1e15 Ω or a fraction of it.

    Raises
    ------
    NetlistError
        As :func:`transfer`.
    ArgumentError
        If a frequency is negative or not finite.
    """
    system = System(elements)
    row = system.node(node)
    rhs = np.zeros((system.size, 1))
    if row >= 0:
        rhs[row, 0] = 1.0
    return _pick(system.solve(f_hz, rhs)[:, :, 0], row)


def thermal_density(
    elements: Sequence[Element], f_hz: F64, out: str, kelvin: float = 293.15
) -> F64:
    """Thermal noise of all resistors at a node (Nyquist 1928), by the adjoint network.

    Parameters
    ----------
    elements : sequence of Element
        The whole circuit; an EMF is shorted, so its source resistor goes to ground.
    f_hz : ndarray of float64, shape (k,)
        Frequencies, zero or above.
    out : str
        Node at which the noise is wanted.
    kelvin : float
        Temperature of every resistor.

    Returns
    -------
    ndarray of float64, shape (k,)
        One-sided power density, V²/Hz. Only resistors make noise here: transistors and amplifiers
        modelled by E and G are silent.

    Raises
    ------
    NetlistError
        As :func:`transfer`.
    ArgumentError
        If a frequency is negative or not finite, or the temperature is negative.
    """
    if not kelvin >= 0:
        raise ArgumentError(f"A temperature of {kelvin!r} K was given; it cannot be negative.")
    system = System(elements)
    rhs = np.zeros((system.size, 1))
    row = system.node(out)
    if row >= 0:
        rhs[row, 0] = 1.0
    volts_per_amp = system.solve(f_hz, rhs, transposed=True)[:, :, 0]
    density = np.zeros(len(f_hz))
    for element in elements:
        if element.kind == "R":
            a, b = (_pick(volts_per_amp, system.node(name)) for name in element.nodes)
            density += 4 * BOLTZMANN_J_PER_K * kelvin / element.value * np.abs(a - b) ** 2
    return density


def chain_matrix(
    elements: Sequence[Element], f_hz: F64, in_node: str = "IN", out_node: str = "OUT"
) -> C128:
    """Chain matrix between two nodes, ground common to both ports.

    The output is held at 1 V without current, then at 0 V with 1 A, and the input that this needs
    is solved for; so series parts without any shunt, and shunts without any series part, are no
    special cases.

    Parameters
    ----------
    elements : sequence of Element
        The two-port without source and load.
    f_hz : ndarray of float64, shape (k,)
        Frequencies, zero or above.
    in_node, out_node : str
        The two ports.

    Returns
    -------
    ndarray of complex128, shape (k, 2, 2)
        ``[[A, B], [C, D]]`` in 1, ohm, siemens, 1.

    Raises
    ------
    NetlistError
        As :func:`transfer`; also if nothing at all gets from input to output, for then A is
        infinite.
    ArgumentError
        If a frequency is negative or not finite.
    """
    if in_node == out_node:
        raise NetlistError(
            f"Input and output are the same node, {in_node}.", "", "Name two different nodes."
        )
    system = System(elements, ties=((in_node, GROUND), (out_node, GROUND)))
    entry = system.add_branch((GROUND, in_node))
    held = system.node(out_node)
    first = system.node(in_node)
    system.stamp_voltage_row(entry, (out_node, GROUND), 1.0)
    rhs = np.zeros((system.size, 2))
    rhs[entry, 0] = 1.0
    rhs[held, 1] = -1.0
    solution = system.solve(f_hz, rhs)
    matrix = np.empty((len(f_hz), 2, 2), dtype=np.complex128)
    matrix[:, 0, :] = solution[:, first, :]
    matrix[:, 1, :] = solution[:, entry, :]
    return matrix


def _pick(solution: C128, row: int) -> C128:
    return np.zeros(len(solution), dtype=np.complex128) if row < 0 else solution[:, row]
