"""The intervals of noise levels hold the truth as often as they say, and scatter as they say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.noise.density import welch_density
from loopback.noise.figures import NoiseFigures, added_noise, noise_difference, noise_figures
from loopback.noise.weighting import a_weighting_power
from loopback.quantity import Estimate

RATE = 48_000
SEEDS = range(200)


def coloured(seed: int, sigma: float, corner_hz: float, seconds: float = 0.5) -> np.ndarray:
    """Noise with density (1 + corner/f)."""
    n = round(seconds * RATE)
    white = np.random.default_rng(seed).standard_normal(4 * n)
    f = np.fft.rfftfreq(4 * n, 1 / RATE)
    shape = np.sqrt(1 + corner_hz / np.maximum(f, 1.0))
    return sigma * np.fft.irfft(np.fft.rfft(white) * shape, 4 * n)[:n]


def truth_dbfs(sigma: float, corner_hz: float, weighted: bool) -> float:
    """Exact level of such noise in the band."""
    f = np.linspace(20.0, 20_000.0, 400_001)
    density = sigma**2 / (RATE / 2) * (1 + corner_hz / f)
    if weighted:
        density = density * a_weighting_power(f)
    return float(10 * np.log10(np.trapezoid(density, f) / 0.5))


@pytest.mark.parametrize("corner_hz", [0.0, 2000.0])
@pytest.mark.parametrize("weighted", [False, True])
def test_level_interval_covers_and_its_u_is_the_scatter(corner_hz: float, weighted: bool) -> None:
    """95 % intervals hold the level in 90 to 99 % of 200 silences; u is the scatter in 15 %."""
    truth = truth_dbfs(1e-5, corner_hz, weighted)
    estimates = []
    for seed in SEEDS:
        figures = noise_figures(*welch_density(coloured(seed, 1e-5, corner_hz), RATE), 0.5)
        estimates.append(figures.a_weighted_dbfs if weighted else figures.unweighted_dbfs)
    inside = [low <= truth <= high for low, high in (e.interval() for e in estimates)]
    assert 0.90 <= np.mean(inside) <= 0.99
    scatter = float(np.std([e.value for e in estimates], ddof=1))
    assert np.mean([e.u for e in estimates]) == pytest.approx(scatter, rel=0.15)


def test_mean_of_takes_has_the_smaller_interval() -> None:
    """Four silences averaged give half the uncertainty, and it is the scatter."""
    values, stated = [], []
    for seed in SEEDS:
        densities = [welch_density(coloured(4 * seed + k, 1e-5, 0.0), RATE) for k in range(4)]
        f_hz = densities[0][0]
        figures = noise_figures(f_hz, np.mean([psd for _, psd in densities], axis=0), 0.5, 4)
        values.append(figures.unweighted_dbfs.value)
        stated.append(figures.unweighted_dbfs.u)
    assert np.mean(stated) == pytest.approx(float(np.std(values, ddof=1)), rel=0.15)


def test_difference_covers_without_and_over_covers_with_the_repeatability() -> None:
    """Of two silences 1 dB apart the interval holds 1 dB; the stated repeatability widens it."""
    bare, wide = [], []
    for seed in SEEDS:
        quiet = noise_figures(*welch_density(coloured(seed, 1e-5, 0.0), RATE), 0.5)
        loud_x = coloured(seed + 1000, 1e-5 * 10 ** (1 / 20), 0.0)
        loud = noise_figures(*welch_density(loud_x, RATE), 0.5)
        for found, u_repeat in ((bare, 0.0), (wide, 0.1)):
            low, high = noise_difference(loud, quiet, u_repeat_db=u_repeat).interval()
            found.append(low <= 1.0 <= high)
    assert 0.90 <= np.mean(bare) <= 0.99
    assert np.mean(wide) > 0.97


def figures_of(level_dbfs: float, u: float = 0.05) -> NoiseFigures:
    """Figures with one level for both weightings."""
    level = Estimate(level_dbfs, u, "dB", 400.0)
    return NoiseFigures(level, level, None, -math.inf)


def test_added_noise_is_told_only_above_the_floor_of_the_setup() -> None:
    """3.01 dB more is as much again; no more than the doubt is a bound and no level."""
    told = added_noise(figures_of(-97.0 + 3.0103), figures_of(-97.0))
    assert told.level_dbfs is not None
    assert told.level_dbfs.value == pytest.approx(-97.0, abs=1e-3)
    hidden = added_noise(figures_of(-97.0 + 0.1), figures_of(-97.0))
    assert hidden.level_dbfs is None
    assert -110.0 < hidden.below_dbfs < -97.0
    quieter = added_noise(figures_of(-98.0), figures_of(-97.0))
    assert quieter.level_dbfs is None
    assert quieter.below_dbfs < -97.0


def test_added_noise_covers() -> None:
    """The interval of the added level holds it in 90 to 99 % of 200 pairs."""
    truth = truth_dbfs(0.7e-5, 0.0, True)
    inside = []
    for seed in SEEDS:
        reference = coloured(seed, 1e-5, 0.0)
        pedal = coloured(seed + 5000, 1e-5, 0.0) + coloured(seed + 9000, 0.7e-5, 0.0)
        pair = [noise_figures(*welch_density(x, RATE), 0.5) for x in (pedal, reference)]
        told = added_noise(pair[0], pair[1], u_repeat_db=0.0)
        assert told.level_dbfs is not None
        low, high = told.level_dbfs.interval()
        inside.append(low <= truth <= high)
    assert 0.90 <= np.mean(inside) <= 0.99


def test_digital_zeros_have_no_level_and_no_difference() -> None:
    """Minus infinity, and nothing is claimed against it."""
    silent = noise_figures(*welch_density(np.zeros(24_000), RATE), 0.5)
    assert silent.unweighted_dbfs.value == -math.inf
    assert silent.mains_hz is None
    assert noise_difference(silent, silent).u == math.inf
    assert added_noise(figures_of(-97.0), silent).level_dbfs is None


@pytest.mark.parametrize("over_db", [0.0, 30.0])
@pytest.mark.parametrize("seconds", [1.0, 2.0])
def test_hum_over_noise_covers_however_strong_it_is(over_db: float, seconds: float) -> None:
    """Of 60 silences 51 and more hold the truth, and u is the scatter in 40 % also at 30 dB."""
    true_noise = 1e-8 * (20_000 - 20) / (RATE / 2)
    size = math.sqrt(2 * true_noise * 10 ** (over_db / 10) / 3)
    t = np.arange(round(seconds * RATE)) / RATE
    found, stated = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        x = 1e-4 * rng.standard_normal(len(t))
        for order in (1, 2, 3):
            x += size * np.sin(2 * np.pi * 50 * order * t + rng.uniform(0, 2 * np.pi))
        figures = noise_figures(*welch_density(x, RATE), seconds)
        found.append(figures.mains_over_noise_db - over_db)
        stated.append(figures.mains_u_db)
    assert np.sum(np.abs(found) <= 1.96 * np.array(stated)) >= 51
    assert 0.6 < np.mean(stated) / np.std(found) < 1.4
