"""A chain matrix as a Touchstone file, version 1: one two-port in S-parameters.

The rules kept here (IBIS Open Forum, Touchstone 1.x): plain ASCII, comments after ``!``, one option
line that states everything, frequencies strictly increasing, and the columns of a two-port in the
order S11 S21 S12 S22.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.twoport import s_from_a
from loopback.errors import ArgumentError
from loopback.report.symbols import plain_signs
from loopback.texts import one_line

PORT_OHM = 600.0
"""Reference of both ports: an old audio habit, and no claim about anything connected."""


def touchstone_text(
    f_hz: F64, m: C128, comments: Sequence[str] = (), port_ohm: float = PORT_OHM
) -> str:
    """Write a chain matrix as the text of a ``.s2p`` file.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Hertz, strictly increasing.
    m : ndarray of complex128, shape (k, 2, 2)
        Chain matrix.
    comments : sequence of str
        Lines for the head of the file; signs outside ASCII are written out or become ``?``.
    port_ohm : float
        Reference resistance of both ports.

    Returns
    -------
    str
        Real and imaginary parts to 12 digits, a line for each frequency.

    Raises
    ------
    ArgumentError
        If frequencies do not rise, or a value is not finite.
    """
    if not (np.all(np.diff(f_hz) > 0) and np.isfinite(m).all()):
        raise ArgumentError(
            "Frequencies that do not rise, or values without bound, were given.",
            "A Touchstone file cannot hold them.",
        )
    parts = (part for text in comments for part in text.splitlines())
    lines = [f"! {plain_signs(one_line(part))}" for part in parts]
    lines = [line.encode("ascii", "replace").decode() for line in lines]
    lines += ["! f  Re S11  Im S11  Re S21  Im S21  Re S12  Im S12  Re S22  Im S22"]
    lines += [f"# Hz S RI R {port_ohm:g}"]
    s = s_from_a(m, port_ohm, port_ohm)
    for f, one in zip(f_hz, s, strict=True):
        in_order = (one[0, 0], one[1, 0], one[0, 1], one[1, 1])
        values = " ".join(f"{v.real:.12e} {v.imag:.12e}" for v in in_order)
        lines.append(f"{f:.9g} {values}")
    return "\n".join(lines) + "\n"
