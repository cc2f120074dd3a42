"""Curves as CSV: what stands in each column, against the numbers that went in."""

from __future__ import annotations

import csv
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest

from loopback.plan.runs import RunLabel
from loopback.report.curve_columns import insertion_columns, noise_columns
from loopback.report.tables import curve_table
from tests.reference.invented_analysis import F_HZ, pedal_run, ratio_of

RUN = pedal_run(2, RunLabel("pedal", "plain", "on", "a"), np.zeros(F_HZ.shape))


def read(text: str) -> dict[str, np.ndarray]:
    """Columns by their headings."""
    head, *rows = csv.reader(StringIO(text))
    values = np.array(rows, dtype=np.float64)
    return {name: values[:, i] for i, name in enumerate(head)}


def test_insertion_gives_level_phase_and_two_half_widths() -> None:
    """A lag of 90 degrees is negative; 0.002 dB of common gain is 0.00392 dB at 95 %."""
    ratio = ratio_of("02", np.full(F_HZ.shape, -6.0), u_gain_db=0.002)
    table = read(curve_table(insertion_columns(replace(ratio, t=ratio.t * -1j))))
    assert table["frequency (Hz)"] == pytest.approx(F_HZ)
    assert table["level (dB)"] == pytest.approx(-6.0)
    assert table["phase (degree)"] == pytest.approx(-90.0)
    assert table["half-width 95 % of common gain (dB)"] == pytest.approx(1.960 * 0.002, rel=1e-3)
    # Relative standard deviation of the level: sqrt(var / 2) / |t|, in dB times 8.686.
    point = 1.960 * 8.686 * np.sqrt(0.5e-8) / 10 ** (-6 / 20)
    assert table["half-width 95 % of this point (dB)"] == pytest.approx(point, rel=1e-3)
    assert table["floor of the setup (dB)"] == pytest.approx(ratio.floor_db)


def test_noise_is_referred_to_a_full_scale_sine() -> None:
    """Mean square 0.5 per hertz would be 0 dBFS in 1 Hz; digital zeros stay finite."""
    f_hz = np.linspace(0, 24_000, 2401)
    table = read(curve_table(noise_columns(f_hz, np.full(2401, 0.5))))
    assert table["noise density (dBFS/Hz)"] == pytest.approx(0.0, abs=1e-9)
    silent = read(curve_table(noise_columns(f_hz, np.zeros(2401))))
    assert np.isfinite(silent["noise density (dBFS/Hz)"]).all()
