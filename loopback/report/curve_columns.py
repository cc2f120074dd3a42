"""Every curve of an examination as named columns: what is exported, and what is published."""

from __future__ import annotations

import numpy as np

from loopback.arrays import C128, F64
from loopback.facts import Analysis
from loopback.identify.chain_found import ChainMatrix
from loopback.noise.bands import BandDensity, band_density
from loopback.noise.figures import BAND_HZ
from loopback.quality.behaviour import Behaviour
from loopback.quantity import coverage_factor
from loopback.report.derived_columns import (
    course_columns,
    pickup_word,
    player_columns,
    press_columns,
)
from loopback.response.band import level_db
from loopback.response.distortion import Distortion
from loopback.response.reading import Ratio

Columns = dict[str, F64]
"""Equally long columns by heading; each heading ends in its unit."""
BANDS_PER_OCTAVE = 6
"""Of the noise as it is drawn."""
F_HZ = "frequency (Hz)"
_ENTRIES = (("A", "1"), ("B", "ohm"), ("C", "S"), ("D", "1"))


def curves_of(analysis: Analysis) -> dict[str, Columns]:
    """Collect all curves.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    dict of str to dict
        By name: ``insertion-RUN``, ``noise-RUN``, ``noise-bands-RUN``, ``tones-RUN``,
        ``harmonics-RUN``, ``player-PICKUP``, ``presses``, ``press-on``, ``press-off``, and where
        there were two feeds and two loads ``matrix``.
    """
    curves: dict[str, Columns] = {}
    top_hz = analysis.examination.signal.full_to_hz
    for facts in analysis.pedal_runs:
        if facts.ratio is not None:
            curves[f"insertion-{facts.run.id}"] = insertion_columns(facts.ratio)
    for facts in (*analysis.references, *analysis.pedal_runs):
        if facts.noise_f_hz is not None and facts.noise_psd is not None:
            columns = noise_columns(facts.noise_f_hz, facts.noise_psd)
            curves[f"noise-{facts.run.id}"] = columns
            bands = band_density(
                facts.noise_f_hz, facts.noise_psd, BANDS_PER_OCTAVE, BAND_HZ[0], top_hz
            )
            if bands is not None:
                curves[f"noise-bands-{facts.run.id}"] = band_columns(bands)
        if facts.behaviour is not None and facts.behaviour.survey is not None:
            columns = tone_columns(facts.behaviour)
            if len(columns[F_HZ]):
                curves[f"tones-{facts.run.id}"] = columns
    for facts in (*analysis.references, *analysis.pedal_runs):
        if facts.behaviour is not None and facts.behaviour.distortion is not None:
            curves[f"harmonics-{facts.run.id}"] = harmonics_columns(facts.behaviour.distortion)
    for change in analysis.player.changes if analysis.player is not None else ():
        curves[f"player-{pickup_word(change)}"] = player_columns(change)
    if analysis.footswitch is not None and analysis.footswitch.presses:
        curves["presses"] = press_columns(analysis.footswitch)
        for way, columns in course_columns(analysis.footswitch):
            curves[f"press-{way}"] = columns
    if analysis.matrix is not None:
        curves["matrix"] = matrix_columns(analysis.matrix)
    return curves


def insertion_columns(ratio: Ratio) -> Columns:
    """Take one run against its reference apart.

    Parameters
    ----------
    ratio : Ratio
        Of a pedal run.

    Returns
    -------
    dict
        Level with two half-widths, each for 95 %: of noise, repeats and treble drift at that
        frequency, and of the gain, which moves the whole curve; phase; the setup's own floor.
    """
    level, u_db = level_db(ratio)
    k = coverage_factor()
    return {
        F_HZ: ratio.f_hz,
        "level (dB)": level,
        "half-width 95 % of this point (dB)": k * u_db,
        "half-width 95 % of common gain (dB)": np.full(len(level), k * ratio.u_gain_db),
        "phase (degree)": np.degrees(np.unwrap(np.angle(ratio.t))),
        "floor of the setup (dB)": ratio.floor_db,
    }


def noise_columns(f_hz: F64, psd: F64) -> Columns:
    """Take the noise density of one run apart.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Hertz.
    psd : ndarray of float64, shape (k,)
        Full scale squared per hertz.

    Returns
    -------
    dict
        Density in dBFS per hertz; a full-scale sine is 0 dBFS.
    """
    return {F_HZ: f_hz, "noise density (dBFS/Hz)": 10 * np.log10(np.maximum(2 * psd, 1e-300))}


def band_columns(bands: BandDensity) -> Columns:
    """Take the mean noise density in fractions of an octave apart, as it is drawn.

    Parameters
    ----------
    bands : BandDensity
        Of one run.

    Returns
    -------
    dict
        Centres, level and half-width; a full-scale sine is 0 dBFS.
    """
    return {
        F_HZ: bands.f_hz,
        "mean noise density (dBFS/Hz)": bands.level_dbfs,
        "half-width 95 % (dB)": coverage_factor() * bands.u_db,
    }


def tone_columns(found: Behaviour) -> Columns:
    """Take the single tones in the silence of one run apart: mains lines, then all others.

    Parameters
    ----------
    found : Behaviour
        Of one run.

    Returns
    -------
    dict
        Frequency, level, half-width, and which multiple of the mains it is; nan where it is none.
    """
    mains = found.survey.mains if found.survey is not None else None
    rows = [
        (line.order * mains.f_hz.value, line.level_dbfs, float(line.order))
        for line in (mains.lines if mains is not None else ())
        if mains is not None and line.level_dbfs is not None
    ]
    rows += [(t.tone.f_hz.value, t.tone.level_dbfs, np.nan) for t in found.tones]
    return {
        F_HZ: np.array([f_hz for f_hz, _, _ in rows]),
        "level (dBFS)": np.array([level.value for _, level, _ in rows]),
        "half-width 95 % (dB)": np.array([level.half_width() for _, level, _ in rows]),
        "multiple of the mains (1)": np.array([order for _, _, order in rows]),
    }


def harmonics_columns(found: Distortion) -> Columns:
    """Take the harmonics of one run apart.

    Parameters
    ----------
    found : Distortion
        Of any run.

    Returns
    -------
    dict
        Level of each order over the signal that makes it, at that signal's frequency, with its
        half-width for 95 %, and the level that noise alone reaches; nan where not measured.
    """
    k = coverage_factor()
    columns = {F_HZ: found.f_hz}
    for row, (level, u_db, u_power) in enumerate(
        zip(found.level_db, found.u_db, found.u_power, strict=True)
    ):
        order = row + 2
        noise = 10 * np.log10(np.maximum(k * u_power, 1e-30))
        columns |= {
            f"harmonic {order} (dB)": level,
            f"half-width 95 % of harmonic {order} (dB)": k * u_db,
            f"noise at harmonic {order} (dB)": noise,
        }
    return columns


def matrix_columns(matrix: ChainMatrix) -> Columns:
    """Take a chain matrix apart.

    Parameters
    ----------
    matrix : ChainMatrix
        As measured.

    Returns
    -------
    dict
        Real part, imaginary part, and their standard uncertainties, for A, B, C, D and AD - BC.
    """
    values = matrix.m.reshape(-1, 4)
    doubts = matrix.u().reshape(-1, 4, 2)
    columns = {F_HZ: matrix.f_hz}
    for i, (name, unit) in enumerate(_ENTRIES):
        columns |= _complex_columns(name, unit, values[:, i], doubts[:, i])
    determinant, doubt = matrix.determinant
    return columns | _complex_columns("AD-BC", "1", determinant, doubt)


def _complex_columns(name: str, unit: str, values: C128, u: F64) -> Columns:
    return {
        f"Re {name} ({unit})": np.asarray(values.real, dtype=np.float64),
        f"Im {name} ({unit})": np.asarray(values.imag, dtype=np.float64),
        f"u Re {name} ({unit})": u[:, 0],
        f"u Im {name} ({unit})": u[:, 1],
    }
