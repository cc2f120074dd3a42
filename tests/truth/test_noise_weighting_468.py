"""The 468 network against its table, what it does to white noise, and the AES17 use of it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.noise.density import welch_density
from loopback.noise.figures import NoiseFigures, noise_figures
from loopback.noise.weighting_468 import AES17_SHIFT_DB, weighting_468_db, weighting_468_power

# ITU-R BS.468-4 (1986), table 1: hertz, decibel, tolerance. The printed tolerance of 0 at 6.3 kHz
# has a budget of its own here.
TABLE_1 = (
    (31.5, -29.9, 2.0), (63, -23.9, 1.4), (100, -19.8, 1.0), (200, -13.8, 0.85), (400, -7.8, 0.7),
    (800, -1.9, 0.55), (1000, 0.0, 0.5), (2000, 5.6, 0.5), (3150, 9.0, 0.5), (4000, 10.5, 0.5),
    (5000, 11.7, 0.5), (6300, 12.2, 0.05), (7100, 12.0, 0.2), (8000, 11.4, 0.4), (9000, 10.1, 0.6),
    (10000, 8.1, 0.8), (12500, 0.0, 1.2), (14000, -5.3, 1.4), (16000, -11.7, 1.6),
    (20000, -22.2, 2.0), (31500, -42.7, 2.8),
)  # fmt: skip
RATE = 48_000


@pytest.mark.parametrize(("f_hz", "level_db", "tolerance"), TABLE_1)
def test_every_row_of_the_table(f_hz: float, level_db: float, tolerance: float) -> None:
    """Within the rounding of the table, which is far inside its tolerance."""
    found = float(weighting_468_db(np.array([f_hz]))[0])
    assert found == pytest.approx(level_db, abs=min(tolerance, 0.05 + 1e-3))


def test_zero_hertz_is_silent() -> None:
    """Factor 0, minus infinity in decibels, and the two forms are the same curve."""
    assert weighting_468_power(np.zeros(1))[0] == 0
    assert weighting_468_db(np.zeros(1))[0] == -math.inf
    f_hz = np.geomspace(20, 20e3, 40)
    assert 10 * np.log10(weighting_468_power(f_hz)) == pytest.approx(weighting_468_db(f_hz))


def test_aes17_use_is_unity_at_2_khz() -> None:
    """AES17-2015, 5.2.7: the curve lowered by 5.63 dB, so that it passes 2 kHz unchanged."""
    at_2k = float(weighting_468_db(np.array([2000.0]))[0])
    assert at_2k + AES17_SHIFT_DB == pytest.approx(0.0, abs=0.01)


def test_white_noise_through_the_network() -> None:
    """+7.309 dB over unweighted, 20 Hz to 20 kHz, 0 dB at 1 kHz: computed independently."""
    f_hz = np.arange(0.0, 24_001.0)
    figures = noise_figures(f_hz, np.ones(len(f_hz)), duration_s=10.0)
    assert figures.weighted_468_dbfs is not None
    over = figures.weighted_468_dbfs.value - figures.unweighted_dbfs.value
    assert over == pytest.approx(7.309 - 5.63, abs=0.001)


def tone_figures(level_dbfs: float, f_hz: float) -> NoiseFigures:
    """Figures of a pure tone."""
    x: F64 = 10 ** (level_dbfs / 20) * np.sin(2 * np.pi * f_hz / RATE * np.arange(10 * RATE))
    return noise_figures(*welch_density(x, RATE), 10.0)


def test_idle_channel_weighting_reads_a_tone_as_aes17_says() -> None:
    """AES17-2015, 6.4.2: 1 kHz at -20 dBFS must read -25.63 dBFS."""
    figures = tone_figures(-20.0, 1000.0)
    assert figures.weighted_468_dbfs is not None
    assert figures.weighted_468_dbfs.value == pytest.approx(-25.63, abs=0.01)


def test_full_scale_sine_is_0_dbfs() -> None:
    """AES17-2015, clause 5: the level of a full-scale sine is 0 dBFS, unweighted and A-weighted."""
    figures = tone_figures(0.0, 1000.0)
    assert figures.unweighted_dbfs.value == pytest.approx(0.0, abs=1e-3)
    assert figures.a_weighted_dbfs.value == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize(("ohm", "dbv"), [(600.0, -127.163), (10e3, -114.944), (100e3, -104.944)])
def test_thermal_noise_reads_as_its_formula(ohm: float, dbv: float) -> None:
    """sqrt(4 k T R B) at 290 K in 20 kHz, less 0.00434 dB for the band from 20 Hz."""
    f_hz = np.arange(0.0, 24_001.0)
    full_scale_v = math.sqrt(2)  # a full-scale sine of 1 V rms: dBFS are dBV
    density = 4 * 1.380649e-23 * 290 * ohm / full_scale_v**2
    figures = noise_figures(f_hz, np.full(len(f_hz), density), duration_s=10.0)
    assert figures.unweighted_dbfs.value == pytest.approx(dbv - 0.00434, abs=1e-3)
    assert figures.a_weighted_dbfs.value == pytest.approx(dbv - 0.00434 - 2.0483, abs=2e-3)
