"""Slow, obvious twin of the nodal solver: every voltage and every current is an unknown.

Sparse tableau analysis (Hachtel, Brayton and Gustavson 1971), one frequency at a time, with no
elimination by hand: Kirchhoff's current law at each node, one equation per branch. Nothing is added
at any frequency, so a circuit must be solvable as it stands.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.circuit.netlist import Element

Branch = tuple[str, str]


def _branches(element: Element) -> list[Branch]:
    """Pairs of nodes through which an element carries current."""
    a, b = element.nodes[:2]
    return [(a, b), (element.nodes[2], element.nodes[3])] if element.kind == "T" else [(a, b)]


def node_voltages(
    elements: Sequence[Element],
    f_hz: float,
    emf: tuple[str, str] | None = None,
    injected: str | None = None,
) -> dict[str, complex]:
    """Voltages of all nodes for an EMF of 1 V between two nodes, or 1 A into one node."""
    nodes = sorted({n for e in elements for n in e.nodes} - {"0"})
    branches = [branch for e in elements for branch in _branches(e)]
    if emf is not None:
        branches.append(emf)
    size = len(nodes) + len(branches)
    matrix = np.zeros((size, size), dtype=np.complex128)
    rhs = np.zeros(size, dtype=np.complex128)

    def voltage(row: int, pair: Sequence[str], factor: complex) -> None:
        for name, sign in ((pair[0], 1), (pair[1], -1)):
            if name != "0":
                matrix[row, nodes.index(name)] += sign * factor

    def current(row: int, index: int, factor: complex) -> None:
        matrix[row, len(nodes) + index] += factor

    for index, (a, b) in enumerate(branches):
        for name, sign in ((a, 1), (b, -1)):
            if name != "0":
                current(nodes.index(name), index, sign)
    if injected is not None:
        rhs[nodes.index(injected)] = 1

    s = 2j * np.pi * f_hz
    index = 0
    for e in elements:
        row = len(nodes) + index
        if e.kind == "R":
            voltage(row, e.nodes, 1)
            current(row, index, -e.value)
        elif e.kind == "L":
            voltage(row, e.nodes, 1)
            current(row, index, -s * e.value)
        elif e.kind == "C":
            voltage(row, e.nodes, s * e.value)
            current(row, index, -1)
        elif e.kind == "E":
            voltage(row, e.nodes[:2], 1)
            voltage(row, e.nodes[2:], -e.value)
        elif e.kind == "G":
            voltage(row, e.nodes[2:], -e.value)
            current(row, index, 1)
        else:
            voltage(row, e.nodes[:2], 1)
            voltage(row, e.nodes[2:], -e.value)
            current(row + 1, index, e.value)
            current(row + 1, index + 1, 1)
        index += len(_branches(e))
    if emf is not None:
        voltage(size - 1, emf, 1)
        rhs[size - 1] = 1
    solution = np.linalg.solve(matrix, rhs)
    return {"0": 0j, **{name: complex(solution[i]) for i, name in enumerate(nodes)}}
