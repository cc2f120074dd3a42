"""Equations of a linear circuit: numbering of the unknowns, stamps, solving.

Modified nodal analysis (Ho, Ruehli and Brennan 1975, "The modified nodal approach to network
analysis", IEEE Trans. Circuits Syst. 22(6), 504–509): node voltages are the unknowns, and the
currents of voltage sources, transformers and inductors are added to them. Resistors below 10 Ω get
their own current as well, so that the 20 S of a switch contact does not swallow the picofarad
beside it.

**Nodes with nothing to hold them.** A node that no element ties to ground (an unconnected lug, a
control input that goes nowhere) is a mistake in the circuit and is reported by name. A node held by
capacitors only, such as the open input of an effect, has no voltage at zero frequency; there, and
only there, every node leaks 1e-15 S to ground, so that it rests at zero volts.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.netlist import GROUND, Element
from loopback.errors import ArgumentError, NetlistError

LEAKAGE_S = 1e-15
"""Conductance from every node to ground at zero frequency, siemens; none at any other."""

_OWN_CURRENT_BELOW_OHM = 10.0
_ENTRIES_PER_BATCH = 400_000
"""Frequencies are solved in batches of about this many matrix entries, to bound the memory."""


class System:
    """The matrix G + jωB of one circuit and the numbering of its unknowns.

    Rows are the nodes but ground, in the order of the elements, then one row per current.

    Parameters
    ----------
    elements : sequence of Element
        The circuit.
    ties : sequence of (str, str)
        Pairs of nodes that the caller will join by sources of his own.

    Raises
    ------
    NetlistError
        If a node has no tie to ground.
    """

    def __init__(self, elements: Sequence[Element], ties: Sequence[tuple[str, str]] = ()) -> None:
        self._rows: dict[str, int] = {}
        self._entries: list[tuple[int, int, float, bool]] = []
        for element in elements:
            for name in element.nodes:
                if name != GROUND:
                    self._rows.setdefault(name, len(self._rows))
        self.size = len(self._rows)
        _refuse_floating(elements, ties, self._rows)
        for element in elements:
            self._stamp(element)

    def node(self, name: str) -> int:
        """Find the row of a node.

        Parameters
        ----------
        name : str
            Node.

        Returns
        -------
        int
            Row; −1 for ground.

        Raises
        ------
        NetlistError
            If there is no such node.
        """
        if name == GROUND:
            return -1
        if name not in self._rows:
            raise NetlistError(
                f"There is no node {name} in this circuit.",
                "",
                f"Its nodes are: {', '.join(sorted(self._rows)) or 'none'}.",
            )
        return self._rows[name]

    def add_branch(self, nodes: tuple[str, str]) -> int:
        """Add an unknown current.

        Parameters
        ----------
        nodes : tuple of str
            It leaves the first node and enters the second.

        Returns
        -------
        int
            Its row, whose equation is still empty.
        """
        row = self.size
        self.size += 1
        self._put(self.node(nodes[0]), row, 1.0)
        self._put(self.node(nodes[1]), row, -1.0)
        return row

    def stamp_voltage_row(self, row: int, nodes: tuple[str, str], factor: float) -> None:
        """Add a multiple of the voltage between two nodes to one equation.

        Parameters
        ----------
        row : int
            The equation; −1 is ground's, which is not kept.
        nodes : tuple of str
            Positive and negative node.
        factor : float
            Multiple.
        """
        self._put(row, self.node(nodes[0]), factor)
        self._put(row, self.node(nodes[1]), -factor)

    def solve(self, f_hz: F64, rhs: F64, *, transposed: bool = False) -> C128:
        """Solve at all frequencies.

        Parameters
        ----------
        f_hz : ndarray of float64, shape (k,)
            Frequencies, zero or above.
        rhs : ndarray of float64, shape (size, m)
            Right-hand sides, the same at every frequency.
        transposed : bool
            Solve with the transposed matrix: the adjoint network.

        Returns
        -------
        ndarray of complex128, shape (k, size, m)
            Volts and amperes.

        Raises
        ------
        ArgumentError
            If the frequencies are not one row of finite numbers, zero or above.
        NetlistError
            If the circuit has no unique solution.
        """
        f_hz = np.asarray(f_hz, dtype=np.float64)
        if f_hz.ndim != 1 or not np.all(np.isfinite(f_hz)) or np.any(f_hz < 0):
            raise ArgumentError(
                "Frequencies for a circuit are one row of finite numbers, zero or above."
            )
        constant = np.zeros((self.size, self.size))
        rising = np.zeros((self.size, self.size))
        for row, column, value, per_omega in self._entries:
            (rising if per_omega else constant)[row, column] += value
        with np.errstate(over="ignore"):
            highest = 2 * np.pi * np.max(f_hz, initial=0.0) * rising
        if not (np.all(np.isfinite(constant)) and np.all(np.isfinite(highest))):
            raise _no_solution()
        leak = np.zeros(self.size)
        leak[: len(self._rows)] = LEAKAGE_S
        at_zero = constant + np.diag(leak)
        solution = np.empty((len(f_hz), *rhs.shape), dtype=np.complex128)
        batch = max(1, _ENTRIES_PER_BATCH // max(1, self.size**2))
        for start in range(0, len(f_hz), batch):
            part = f_hz[start : start + batch]
            # Absurd values may overflow on the way to something not finite, refused below.
            with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
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
            self._entries.append((row, column, value, per_omega))

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


def _no_solution() -> NetlistError:
    return NetlistError(
        "The circuit has no unique solution.",
        "A source is shorted or fights another, an amplifier drives its own input without loss, "
        "a value is absurd, or nothing gets from input to output.",
        "Put the resistance that a real part has in series with the source.",
    )


def _refuse_floating(
    elements: Sequence[Element], ties: Sequence[tuple[str, str]], rows: dict[str, int]
) -> None:
    """Raise if a node has no tie to ground; a current source ties nothing."""
    pairs = [*ties]
    for element in elements:
        if element.kind != "G":
            pairs.append((element.nodes[0], element.nodes[1]))
        if element.kind == "T":
            pairs.append((element.nodes[2], element.nodes[3]))
    held = {GROUND}
    grown = True
    while grown:
        grown = False
        for a, b in pairs:
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
