"""Figures of a pop against closed forms; filters against published curves."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.noise.weighting import a_weighting_db, a_weighting_power, a_weighting_response
from loopback.quantity import Estimate
from loopback.switching.dc_step import STEP_BEFORE_S, measure_step, step_window
from loopback.switching.filters import a_weighted, in_band, true_peak
from loopback.switching.pop import (
    BEFORE_S,
    burst_level,
    figures_of,
    measure_pop,
    window_length,
)
from loopback.switching.silence import percentile_99

RATE = 48_000
MIDDLE = round(BEFORE_S * RATE)


def window() -> tuple[np.ndarray, np.ndarray]:
    """An empty window, and time from the event."""
    n = window_length(RATE)
    return np.zeros(n), (np.arange(n) - MIDDLE) / RATE


def burst(f_hz: float, peak: float, phase: float, seconds: float = 0.1) -> np.ndarray:
    """A sine that fades in and out over a tenth of its length."""
    x, t = window()
    on = (t >= 0) & (t < seconds)
    fade = np.clip(np.minimum(t, seconds - t) / (0.1 * seconds), 0, 1)
    x[on] = (peak * (0.5 - 0.5 * np.cos(np.pi * fade)) * np.sin(2 * np.pi * f_hz * t + phase))[on]
    return x


@pytest.mark.parametrize(("f_hz", "phase"), [(12_000.0, math.pi / 4), (8_000.0, 0.0)])
def test_true_peak_of_a_sine_between_samples(f_hz: float, phase: float) -> None:
    """ITU-R BS.1770-5, annex 2: a sine at a quarter of the rate hides 3 dB between its samples."""
    x = burst(f_hz, 0.5, phase)
    assert np.max(np.abs(x)) < 0.5 * 0.88
    # Its formula for the largest error of n-fold oversampling: 20 lg cos(pi f / (rate n)).
    most = -20 * math.log10(math.cos(math.pi * f_hz / (RATE * 4)))
    found_db = 20 * math.log10(float(true_peak(x)) / 0.5)
    assert -most - 1e-6 <= found_db <= 0.001


def test_a_response_has_the_power_of_the_curve() -> None:
    """The complex network and the table's curve (IEC 61672-1:2013, annex E) are the same."""
    f_hz = np.geomspace(1, 40_000, 50)
    assert np.allclose(np.abs(a_weighting_response(f_hz)) ** 2, a_weighting_power(f_hz), rtol=1e-12)


@pytest.mark.parametrize("f_hz", [200.0, 1000.0, 4000.0, 10_000.0])
def test_a_weighted_peak_of_a_steady_sine(f_hz: float) -> None:
    """In the steady state the peak of a sine is changed by exactly the curve at its frequency."""
    t = np.arange(RATE) / RATE
    weighted = a_weighted(np.sin(2 * np.pi * f_hz * t), RATE)
    middle = weighted[RATE // 2 : RATE // 2 + 9600]
    found = 20 * math.log10(float(np.max(np.abs(middle[::1]))))
    assert found == pytest.approx(float(a_weighting_db(np.array([f_hz]))[0]), abs=0.1)


def test_the_band_passes_and_stops() -> None:
    """Butterworth of the second order: -3.01 dB at 20 Hz, -12.3 dB at 10 Hz; nothing at 23 kHz."""
    t = np.arange(4 * RATE) / RATE
    for f_hz, wanted in ((20.0, -3.0103), (10.0, -12.304), (1000.0, 0.0), (19_000.0, 0.0)):
        x = in_band(np.sin(2 * np.pi * f_hz * t), RATE)[2 * RATE : 3 * RATE]
        assert 10 * math.log10(2 * float(np.mean(x**2))) == pytest.approx(wanted, abs=0.01)
    left = in_band(np.sin(2 * np.pi * 23_000 * t), RATE)[2 * RATE : 3 * RATE]
    assert np.max(np.abs(left)) < 1e-6


def test_level_of_a_burst_of_50_ms() -> None:
    """A sine of 1 V peak that lasts 50 ms has the level of that sine: -3.01 dBV, or 0 dBFS."""
    x, t = window()
    x[(t >= 0) & (t < 0.05)] = np.sin(2 * np.pi * 1000 * t[(t >= 0) & (t < 0.05)])
    energy = float(figures_of(x[None], x[None], 0.0, RATE)[0, 2])
    assert energy == pytest.approx(0.025, rel=1e-9)
    assert burst_level(Estimate(energy, 1e-4, "V²s"), "V").value == pytest.approx(-3.0103, abs=1e-4)
    level = burst_level(Estimate(energy, 1e-4, "FS²s"), "FS")
    assert (level.value, level.unit) == (pytest.approx(0.0, abs=1e-9), "dBFS")
    assert level.u == pytest.approx(10 / math.log(10) * 1e-4 / 0.025)
    assert burst_level(Estimate(-1e-9, 1e-9, "V²s"), "V").value == -math.inf


@pytest.mark.parametrize("tau", [2e-3, 10e-3, 30e-3])
def test_energy_duration_and_decay_of_an_exponential(tau: float) -> None:
    """Closed form: energy decays with tau/2, so 5 to 95 % take tau/2 ln 19; a tenth tau ln 10."""
    x, t = window()
    x[t >= 0] = np.exp(-t[t >= 0] / tau)
    figures = figures_of(x[None], x[None], 0.0, RATE)[0]
    assert figures[3] == pytest.approx(tau / 2 * math.log(19), rel=0.01)
    # Oversampling rings at the edge, so the peak itself is not 1: a tenth of what it is.
    assert figures[4] == pytest.approx(tau * math.log(10 / figures[0]), abs=2 / RATE)


def test_energy_duration_of_a_steady_burst() -> None:
    """Of a burst of constant power, 90 % of its length."""
    x, t = window()
    x[(t >= 0) & (t < 0.04)] = 1.0
    assert figures_of(x[None], x[None], 0.0, RATE)[0, 3] == pytest.approx(0.036, abs=2 / RATE)


@pytest.mark.parametrize("corner_hz", [0.5, 2.0, 8.0])
@pytest.mark.parametrize(("step", "click"), [(1.0, 0.0), (-0.3, 0.0), (0.2, 1.0)])
def test_dc_step_through_a_high_pass(corner_hz: float, step: float, click: float) -> None:
    """A step S behind a first-order high-pass is S exp(-at); a click beside it is no part of it."""
    a, b = 2 * math.pi * corner_hz, 1 / 1.5e-3
    t = np.arange(step_window(RATE)) / RATE - STEP_BEFORE_S
    late = np.maximum(t, 0)
    fast = (b * np.exp(-b * late) - a * np.exp(-a * late)) / (b - a)
    wave = np.where(t >= 0, step * np.exp(-a * late) + click * fast, 0.0) + 0.05
    quiet = 1e-5 * np.random.default_rng(1).standard_normal((16, len(t)))
    found = measure_step(wave, quiet, RATE, corner_hz, "V")
    assert found.jump.value == pytest.approx(step, abs=0.01 * abs(step) + 0.002 * click)
    assert found.tail_s is None
    assert found.jump.unit == "V"


def test_dc_step_that_leaves_by_itself() -> None:
    """A leaky electrolytic's step of 0.2 s is found whole, with its own time constant."""
    a, b = 2 * math.pi * 0.5, 1 / 0.1
    t = np.arange(step_window(RATE)) / RATE - STEP_BEFORE_S
    late = np.maximum(t, 0)
    wave = np.where(t >= 0, (b * np.exp(-b * late) - a * np.exp(-a * late)) / (b - a), 0.0)
    quiet = 1e-5 * np.random.default_rng(1).standard_normal((16, len(t)))
    found = measure_step(wave, quiet, RATE, 0.5, "V")
    assert found.jump.value == pytest.approx(1.0, abs=0.03)
    assert found.tail_s == pytest.approx(0.1, rel=0.12)


def test_percentile_is_an_order_statistic() -> None:
    """Of 100 draws one more exceeds the largest with probability 1/101, of 199 the second largest
    with 2/200."""
    values = np.random.default_rng(1).permutation(np.arange(1.0, 101.0))
    assert percentile_99(values) == 100.0
    assert percentile_99(np.arange(1.0, 200.0)) == 198.0
    assert percentile_99(np.array([3.0])) == 3.0


def test_a_pop_without_noise_is_its_figures() -> None:
    """With silence of exact zeros nothing is added, and the doubt is that of the samples alone."""
    x, t = window()
    x[t >= 0] = np.exp(-t[t >= 0] / 5e-3)
    quiet = np.zeros((16, len(x)))
    pop = measure_pop(x, x, quiet, quiet, RATE, "V")
    figures = figures_of(x[None], x[None], 0.0, RATE)[0]
    assert pop.peak.value == pytest.approx(figures[0], rel=1e-12)
    assert pop.energy.value == pytest.approx(figures[2], rel=1e-12)
    assert max(pop.peak.u, pop.energy.u) < 1e-15
    assert 0 < pop.energy_s.u < 1.1 / RATE
