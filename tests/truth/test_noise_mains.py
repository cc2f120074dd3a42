"""Mains: which frequency, how far over the noise, and no false alarm."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.noise.density import welch_density
from loopback.noise.figures import noise_figures

RATE = 48_000


def silence(hum: dict[float, float], seconds: float = 1.0, seed: int = 0, sigma: float = 1e-5):
    """White noise with sines, by frequency and amplitude."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * RATE)) / RATE
    x = sigma * rng.standard_normal(len(t))
    for f_hz, amplitude in hum.items():
        x += amplitude * np.sin(2 * np.pi * f_hz * t + rng.uniform(0, 6))
    return x


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("off", [-0.15, 0.0, 0.15])
def test_mains_is_found_from_the_data(mains_hz: float, off: float) -> None:
    """A grid a little off its nominal frequency is found, at its true level over the noise."""
    f0 = mains_hz + off
    hum = {f0: 2e-5, 2 * f0: 1e-5, 3 * f0: 2e-5, 5 * f0: 1e-5}
    figures = noise_figures(*welch_density(silence(hum), RATE), 1.0)
    assert figures.mains_hz == mains_hz
    noise = 1e-10 * 19_980 / 24_000
    expected = 10 * np.log10(sum(a**2 / 2 for a in hum.values()) / noise)
    assert figures.mains_over_noise_db == pytest.approx(expected, abs=0.5)


def test_intervals_of_hum_over_noise_cover_the_truth() -> None:
    """Of sixty silences with hum, about 95 % of the intervals hold hum over noise.

    With a coverage of 0.95, 50 or fewer of 60 happen once in 1400 times (binomial distribution).
    """
    hum = {50.02: 4e-6, 150.06: 3e-6}
    true = 10 * np.log10(sum(a**2 / 2 for a in hum.values()) / (1e-10 * 19_980 / 24_000))
    hits, widths = 0, []
    for seed in range(60):
        figures = noise_figures(*welch_density(silence(hum, 2.0, seed=seed), RATE), 2.0)
        assert figures.mains_hz == 50.0
        hits += abs(figures.mains_over_noise_db - true) <= 1.96 * figures.mains_u_db
        widths.append(figures.mains_u_db)
    assert hits >= 51
    assert float(np.mean(widths)) < 0.7


def test_third_harmonic_of_50_is_not_taken_for_60() -> None:
    """A series of which only 150 and 300 Hz are left is told from 60 Hz by 150."""
    figures = noise_figures(*welch_density(silence({150.0: 3e-5, 300.0: 3e-5}), RATE), 1.0)
    assert figures.mains_hz == 50.0


def test_strong_mains_is_not_limited_by_leakage() -> None:
    """45 dB over the noise reads 45 dB, within 1.5 dB."""
    figures = noise_figures(*welch_density(silence({50.0: 2.3e-3}), RATE), 1.0)
    assert figures.mains_over_noise_db == pytest.approx(45.0, abs=1.5)


def test_plain_noise_has_no_mains() -> None:
    """In 200 silences of white or pink noise a series is found at most twice."""
    found = 0
    for seed in range(100):
        x = silence({}, seed=seed)
        spectrum = np.fft.rfft(x)
        f = np.fft.rfftfreq(len(x), 1 / RATE)
        pink = np.fft.irfft(spectrum * np.sqrt(1 + 200.0 / np.maximum(f, 5.0)), len(x))
        for noise in (x, pink):
            found += noise_figures(*welch_density(noise, RATE), 1.0).mains_hz is not None
    assert found <= 2
