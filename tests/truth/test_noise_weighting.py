"""The A weighting against the table of the standard, and what it does to white noise."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.noise.figures import noise_figures
from loopback.noise.weighting import a_weighting_db, a_weighting_power

# IEC 61672-1:2013, table 3: nominal frequency and A weighting, rounded to 0.1 dB; the table holds
# at the exact base-ten frequencies 1000 · 10^(n/10), n from -20 to +13.
TABLE_3 = {
    10: -70.4, 12.5: -63.4, 16: -56.7, 20: -50.5, 25: -44.7, 31.5: -39.4, 40: -34.6, 50: -30.2,
    63: -26.2, 80: -22.5, 100: -19.1, 125: -16.1, 160: -13.4, 200: -10.9, 250: -8.6, 315: -6.6,
    400: -4.8, 500: -3.2, 630: -1.9, 800: -0.8, 1000: 0.0, 1250: 0.6, 1600: 1.0, 2000: 1.2,
    2500: 1.3, 3150: 1.2, 4000: 1.0, 5000: 0.5, 6300: -0.1, 8000: -1.1, 10000: -2.5,
    12500: -4.3, 16000: -6.6, 20000: -9.3,
}  # fmt: skip
# Computed independently from the poles of annex E, at the exact frequencies.
EXACT = {-20: -70.4300, -10: -19.1424, -8: -13.3500, 0: 0.0003, 4: 1.2710, 10: -2.4914, 13: -9.3166}


def test_table_of_the_standard_is_met_at_exact_frequencies() -> None:
    """Every row of IEC 61672-1:2013, table 3, within its rounding."""
    exact_hz = 1000.0 * 10 ** (np.arange(-20, 14) / 10)
    assert np.allclose(exact_hz, list(TABLE_3), rtol=0.02)
    assert np.max(np.abs(a_weighting_db(exact_hz) - list(TABLE_3.values()))) <= 0.05 + 0.001


def test_curve_between_the_rounded_digits() -> None:
    """Four decimals, computed independently from the annex E poles."""
    n = np.array(list(EXACT))
    assert a_weighting_db(1000.0 * 10 ** (n / 10)) == pytest.approx(list(EXACT.values()), abs=1e-4)


def test_power_form_is_the_same_curve() -> None:
    """The factor and the decibels agree, and 0 Hz is silent."""
    f_hz = np.geomspace(5.0, 30e3, 50)
    assert 10 * np.log10(a_weighting_power(f_hz)) == pytest.approx(a_weighting_db(f_hz), abs=1e-12)
    assert a_weighting_db(np.zeros(1))[0] == -np.inf
    assert a_weighting_power(np.zeros(1))[0] == 0.0


def test_white_noise_loses_two_decibels() -> None:
    """A-weighted minus unweighted, 20 Hz to 20 kHz: -2.0483 dB, computed independently."""
    f_hz = np.arange(0.0, 24_001.0)
    figures = noise_figures(f_hz, np.ones(len(f_hz)), duration_s=10.0)
    difference = figures.a_weighted_dbfs.value - figures.unweighted_dbfs.value
    assert difference == pytest.approx(-2.0483, abs=0.001)


def test_noise_bandwidth_of_the_curve() -> None:
    """12 467.18 Hz from 20 Hz to 20 kHz and 13 462.15 Hz in all, computed independently."""
    f_hz = np.arange(20.0, 20_000.1, 0.25)
    assert np.trapezoid(a_weighting_power(f_hz), f_hz) == pytest.approx(12_467.18, rel=1e-4)
    f_hz = np.geomspace(0.1, 1e8, 400_001)
    assert np.trapezoid(a_weighting_power(f_hz), f_hz) == pytest.approx(13_462.15, rel=1e-4)
