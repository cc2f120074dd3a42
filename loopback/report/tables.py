"""Curves as CSV tables, each column headed by what it is and its unit."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from io import StringIO

import numpy as np

from loopback.arrays import F64
from loopback.facts import RunFacts
from loopback.identify.chain_found import ChainMatrix
from loopback.quantity import coverage_factor
from loopback.response.band import level_db
from loopback.response.reading import Ratio

_ENTRIES = (("A", ""), ("B", "ohm"), ("C", "S"), ("D", ""))


def insertion_table(ratio: Ratio) -> str:
    """Write one run against its reference.

    Parameters
    ----------
    ratio : Ratio
        Of a pedal run.

    Returns
    -------
    str
        Level with two half-widths, each for 95 %: of noise, repeats and treble drift at that
        frequency, and of the gain, which moves the whole curve; phase; the setup's own floor.
    """
    level, u_db = level_db(ratio)
    k = coverage_factor()
    columns = {
        "frequency (Hz)": ratio.f_hz,
        "level (dB)": level,
        "half-width 95 % of this point (dB)": k * u_db,
        "half-width 95 % of common gain (dB)": np.full(len(level), k * ratio.u_gain_db),
        "phase (degree)": np.degrees(np.unwrap(np.angle(ratio.t))),
        "floor of the setup (dB)": ratio.floor_db,
    }
    return _table(columns)


def noise_table(facts: RunFacts) -> str:
    """Write the noise density of one run.

    Parameters
    ----------
    facts : RunFacts
        With a noise density.

    Returns
    -------
    str
        Density in dBFS per hertz; empty without one. A full-scale sine is 0 dBFS.
    """
    if facts.noise_f_hz is None or facts.noise_psd is None:
        return ""
    density = 10 * np.log10(np.maximum(2 * facts.noise_psd, 1e-300))
    return _table({"frequency (Hz)": facts.noise_f_hz, "noise density (dBFS/Hz)": density})


def matrix_table(matrix: ChainMatrix) -> str:
    """Write a chain matrix with the standard uncertainty of each part, and its determinant.

    Parameters
    ----------
    matrix : ChainMatrix
        As measured.

    Returns
    -------
    str
        Real part, imaginary part, and their standard uncertainties, for A, B, C, D and AD - BC.
    """
    values = matrix.m.reshape(-1, 4)
    doubts = matrix.u().reshape(-1, 4, 2)
    columns: dict[str, F64] = {"frequency (Hz)": matrix.f_hz}
    for i, (name, unit) in enumerate(_ENTRIES):
        columns |= _complex_columns(name, unit, values[:, i], doubts[:, i])
    determinant, doubt = matrix.determinant
    columns |= _complex_columns("AD-BC", "", determinant, doubt)
    return _table(columns)


def _complex_columns(
    name: str, unit: str, values: np.ndarray[tuple[int, ...], np.dtype[np.complex128]], u: F64
) -> dict[str, F64]:
    of = f" ({unit})" if unit else " (1)"
    return {
        f"Re {name}{of}": values.real,
        f"Im {name}{of}": values.imag,
        f"u Re {name}{of}": u[:, 0],
        f"u Im {name}{of}": u[:, 1],
    }


def _table(columns: dict[str, F64]) -> str:
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    rows: Sequence[Sequence[float]] = np.stack(list(columns.values()), axis=1).tolist()
    writer.writerows([f"{value:.9g}" for value in row] for row in rows)
    return out.getvalue()
