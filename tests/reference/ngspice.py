"""Circuits translated for ngspice, an independent circuit simulator, run in batch mode.

Many circuits go into one deck, each with its nodes and names under a number of its own, because
starting the program costs more than solving. What ngspice needs beyond the circuits: an operating
point before the analysis, so nodes held by capacitors only get 1e18 Ω to ground there.
"""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.netlist import Element

RSHUNT_OHM = 1e18


def _lines(element: Element, number: int) -> list[str]:
    """One element in ngspice's terms; plain exponents, for ``M`` means milli there."""
    name = f"{element.name}_{number}"
    nodes = [n if n == "0" else f"n{number}_{n}" for n in element.nodes]
    if element.kind != "T":
        return [f"{name} {' '.join(nodes)} {element.value!r}"]
    a, b, c, d = nodes
    # no ideal transformer there: voltage from the second winding, current of the first sensed
    return [
        f"E_{name} {a} x{number}_{element.name} {c} {d} {element.value!r}",
        f"V_{name} x{number}_{element.name} {b} 0",
        f"F_{name} {d} {c} V_{name} {element.value!r}",
    ]


def _run(deck: Sequence[str], folder: Path) -> None:
    (folder / "deck.cir").write_text("\n".join(deck) + "\n", encoding="ascii")
    done = subprocess.run(
        ["ngspice", "-b", "deck.cir"], cwd=folder, capture_output=True, text=True, check=False
    )
    # its exit status is 0 even for a bad deck, so what it says must be read
    said = done.stdout + done.stderr
    problems = [x for x in said.splitlines() if "rror" in x or "ingular" in x]
    if problems:
        raise AssertionError("\n".join(problems))


def responses(
    circuits: Sequence[Sequence[Element]], f_hz: F64, source: str, out: str, folder: Path
) -> C128:
    """Voltage at `out` for 1 V at `source`, for all circuits: shape (circuits, k)."""
    deck = ["* all circuits side by side"]
    for number, elements in enumerate(circuits):
        deck.append(f"VS_{number} n{number}_{source} 0 DC 0 AC 1")
        deck += [line for element in elements for line in _lines(element, number)]
    deck += [f".options rshunt={RSHUNT_OHM:g}", ".control", "set wr_singlescale", "set numdgt=16"]
    for step, f in enumerate(f_hz):
        deck += [f"ac lin 1 {float(f)!r} {float(f)!r}"]
        for number in range(len(circuits)):
            deck.append(f"wrdata f{step}_{number}.txt v(n{number}_{out})")
        deck.append("destroy all")
    _run([*deck, "quit 0", ".endc", ".end"], folder)
    found = np.empty((len(circuits), len(f_hz)), dtype=np.complex128)
    for step in range(len(f_hz)):
        for number in range(len(circuits)):
            _, real, imaginary = np.loadtxt(folder / f"f{step}_{number}.txt")
            found[number, step] = complex(real, imaginary)
    return found


def noise_density(
    elements: Sequence[Element], source: str, out: str, celsius: float, folder: Path
) -> tuple[F64, F64]:
    """Frequencies and thermal noise at `out`, V/√Hz, `source` shorted, ten points a decade."""
    deck = ["* noise of one circuit", f"VS n0_{source} 0 DC 0 AC 1"]
    deck += [line for element in elements for line in _lines(element, 0)]
    deck += [
        f".options rshunt={RSHUNT_OHM:g} temp={celsius!r}",
        ".control",
        "set wr_singlescale",
        "set numdgt=16",
        f"noise v(n0_{out}) VS dec 10 20 20k",
        "setplot noise1",
        "wrdata noise.txt onoise_spectrum",
        "quit 0",
        ".endc",
        ".end",
    ]
    _run(deck, folder)
    table = np.loadtxt(folder / "noise.txt")
    return table[:, 0], table[:, 1]
