"""Modified nodal analysis of small linear circuits, all frequencies at once.

Ho, Ruehli and Brennan 1975, "The modified nodal approach to network analysis": node voltages are
the unknowns, and the currents of voltage sources, transformers and inductors are added to them.
Resistors below 10 Ω get their own current as well, so that the 20 S of a switch contact does not
swallow a picofarad beside it.

**Nodes with nothing to hold them.** A node that no element ties to ground (an unconnected lug, a
control input that goes nowhere) is a mistake in the circuit and is reported by name. A node held by
capacitors only, such as the open input of an effect, has no voltage at zero frequency; there, and
only there, every node leaks 1e-15 S to ground, so that it rests at zero volts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.netlist import GROUND, Element
from loopback.errors import ArgumentError, NetlistError

LEAKAGE_S = 1e-15
"""Conductance from every node to ground at zero frequency, siemens; none at any other."""

BOLTZMANN_J_PER_K = 1.380649e-23
"""Exact by definition of the kelvin (SI, 2019)."""

_OWN_CURRENT_BELOW_OHM = 10.0
_UNKNOWNS_PER_BATCH = 400_000
"""Frequencies are solved in batches of about this many matrix entries, to bound the memory."""


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
    system = _System(elements, extra_ties=(source,))
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
    system = _System(elements)
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
    system = _System(elements)
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
    system = _System(elements, extra_ties=((in_node, GROUND), (out_node, GROUND)))
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


@dataclass(slots=True)
class _System:
    """The matrix G + jωB of one circuit and the numbering of its unknowns."""

    elements: Sequence[Element]
    extra_ties: tuple[tuple[str, str], ...] = ()
    rows: dict[str, int] = field(default_factory=dict)
    size: int = 0
    entries: list[tuple[int, int, float, bool]] = field(default_factory=list)

    def __post_init__(self) -> None:
        for element in self.elements:
            for name in element.nodes:
                if name != GROUND and name not in self.rows:
                    self.rows[name] = len(self.rows)
        self.size = len(self.rows)
        _refuse_floating(self.elements, self.extra_ties, self.rows)
        for element in self.elements:
            self._stamp(element)

    def node(self, name: str) -> int:
        """Row of a node, −1 for ground."""
        if name == GROUND:
            return -1
        if name not in self.rows:
            raise NetlistError(
                f"There is no node {name} in this circuit.",
                "",
                f"Its nodes are: {', '.join(sorted(self.rows)) or 'none'}.",
            )
        return self.rows[name]

    def add_branch(self, nodes: tuple[str, str]) -> int:
        """Add an unknown current that flows from the first node to the second; return its row."""
        row = self.size
        self.size += 1
        self._put(self.node(nodes[0]), row, 1.0)
        self._put(self.node(nodes[1]), row, -1.0)
        return row

    def stamp_voltage_row(self, row: int, nodes: tuple[str, str], factor: float) -> None:
        """Add ``factor`` times the voltage between two nodes to one equation."""
        self._put(row, self.node(nodes[0]), factor)
        self._put(row, self.node(nodes[1]), -factor)

    def solve(self, f_hz: F64, rhs: F64, *, transposed: bool = False) -> C128:
        """Solve at all frequencies: shape (k, size, columns of `rhs`)."""
        f_hz = np.asarray(f_hz, dtype=np.float64)
        if f_hz.ndim != 1 or not np.all(np.isfinite(f_hz)) or np.any(f_hz < 0):
            raise ArgumentError(
                "Frequencies for a circuit are one row of finite numbers, zero or above."
            )
        constant = np.zeros((self.size, self.size))
        rising = np.zeros((self.size, self.size))
        for row, column, value, per_omega in self.entries:
            (rising if per_omega else constant)[row, column] += value
        leak = np.zeros(self.size)
        leak[: len(self.rows)] = LEAKAGE_S
        at_zero = constant + np.diag(leak)
        solution = np.empty((len(f_hz), *rhs.shape), dtype=np.complex128)
        batch = max(1, _UNKNOWNS_PER_BATCH // max(1, self.size**2))
        for start in range(0, len(f_hz), batch):
            part = f_hz[start : start + batch]
            matrix = constant + 2j * np.pi * part[:, None, None] * rising
            matrix[part == 0] = at_zero
            if transposed:
                matrix = matrix.swapaxes(1, 2)
            try:
                solution[start : start + batch] = np.linalg.solve(matrix, rhs[None])
            except np.linalg.LinAlgError as error:
                raise _no_solution() from error
        if not np.all(np.isfinite(solution)):
            raise _no_solution()
        return solution

    def _put(self, row: int, column: int, value: float, per_omega: bool = False) -> None:
        if row >= 0 and column >= 0:
            self.entries.append((row, column, value, per_omega))

    def _stamp(self, element: Element) -> None:
        value, nodes = element.value, element.nodes
        match element.kind:
            case "C":
                self._stamp_admittance(nodes, value, per_omega=True)
            case "R" if value >= _OWN_CURRENT_BELOW_OHM:
                self._stamp_admittance(nodes, 1.0 / value, per_omega=False)
            case "R" | "L":
                row = self.add_branch((nodes[0], nodes[1]))
                self.stamp_voltage_row(row, (nodes[0], nodes[1]), 1.0)
                self._put(row, row, -value, per_omega=element.kind == "L")
            case "E":
                row = self.add_branch((nodes[0], nodes[1]))
                self.stamp_voltage_row(row, (nodes[0], nodes[1]), 1.0)
                self.stamp_voltage_row(row, (nodes[2], nodes[3]), -value)
            case "G":
                for name, sign in ((nodes[0], 1.0), (nodes[1], -1.0)):
                    self.stamp_voltage_row(self.node(name), (nodes[2], nodes[3]), sign * value)
            case "T":
                row = self.add_branch((nodes[0], nodes[1]))
                self._put(self.node(nodes[2]), row, -value)
                self._put(self.node(nodes[3]), row, value)
                self.stamp_voltage_row(row, (nodes[0], nodes[1]), 1.0)
                self.stamp_voltage_row(row, (nodes[2], nodes[3]), -value)

    def _stamp_admittance(self, nodes: tuple[str, ...], value: float, *, per_omega: bool) -> None:
        a, b = self.node(nodes[0]), self.node(nodes[1])
        for row, column, sign in ((a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)):
            self._put(row, column, sign * value, per_omega)


def _pick(solution: C128, row: int) -> C128:
    return np.zeros(len(solution), dtype=np.complex128) if row < 0 else solution[:, row]


def _no_solution() -> NetlistError:
    return NetlistError(
        "The circuit has no unique solution.",
        "A source is shorted or fights another, an amplifier drives its own input without loss, "
        "or nothing gets from input to output.",
        "Put the resistance that a real part has in series with the source.",
    )


def _refuse_floating(
    elements: Sequence[Element], extra_ties: tuple[tuple[str, str], ...], rows: dict[str, int]
) -> None:
    """Raise if a node has no tie to ground; a current source ties nothing."""
    ties = list(extra_ties)
    for element in elements:
        if element.kind != "G":
            ties.append((element.nodes[0], element.nodes[1]))
        if element.kind == "T":
            ties.append((element.nodes[2], element.nodes[3]))
    held = {GROUND}
    grown = True
    while grown:
        grown = False
        for a, b in ties:
            if (a in held) != (b in held):
                held |= {a, b}
                grown = True
    floating = [name for name in rows if name not in held]
    if floating:
        raise NetlistError(
            f"Nothing ties {', '.join(floating)} to ground.",
            "Such a node has no defined voltage.",
            "Join it, or give it the stray capacitance that a real lug has (1p to 0).",
        )
