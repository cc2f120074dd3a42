"""Density estimates against known windows, known noise and another implementation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from loopback.errors import ArgumentError
from loopback.noise.density import hann, noise_bandwidth_bins, welch_density
from loopback.noise.figures import noise_figures

# Equivalent noise bandwidth, bins: Heinzel, Rüdiger and Schilling 2002, table 2, and Harris 1978,
# table 1 (two digits, from memory); rectangular and Hann are closed forms.
WINDOWS = {
    "boxcar": 1.0, "bartlett": 1.3333, "hann": 1.5, "hamming": 1.3628, "blackman": 1.7268,
    "blackmanharris": 2.0044, "nuttall": 1.9761, "flattop": 3.7702,
}  # fmt: skip


@pytest.mark.parametrize("name", WINDOWS)
def test_noise_bandwidth_of_published_windows(name: str) -> None:
    """Published bandwidths are met to their printed digits."""
    window = signal.get_window(name, 4096, fftbins=True)
    assert noise_bandwidth_bins(window) == pytest.approx(WINDOWS[name], abs=6e-4)


def test_our_window_is_the_periodic_hann() -> None:
    """Exactly 1.5 bins, as the closed form of a cosine window says."""
    assert noise_bandwidth_bins(hann(4096)) == pytest.approx(1.5, abs=1e-12)
    assert hann(1000) == pytest.approx(signal.get_window("hann", 1000), abs=1e-15)


@pytest.mark.parametrize("segments", [1, 2, 5, 40])
def test_degrees_of_freedom_from_the_summed_windows(segments: int) -> None:
    """2 B T of a band, with T = (ΣW)² / ΣW² of the summed window power, by direct sums."""
    length = 9600
    total = np.zeros(length // 2 * (segments + 1))
    for k in range(segments):
        total[k * length // 2 : k * length // 2 + length] += hann(length) ** 2
    effective_s = np.sum(total) ** 2 / np.sum(total**2) / 48_000
    f_hz = np.arange(4801) * 5.0
    figures = noise_figures(f_hz, np.ones(4801), len(total) / 48_000)
    point = 1 + (19 * segments - 1) / (18 * segments**2)
    expected = 2 * 19_980 * effective_s * point
    assert figures.unweighted_dbfs.dof == pytest.approx(expected, rel=1e-3)


def test_density_equals_the_one_of_scipy() -> None:
    """Same segments, same window, same scale as `scipy.signal.welch`."""
    x = np.random.default_rng(1).standard_normal(30_000) + 0.3
    f_hz, psd = welch_density(x, 48_000.0)
    f_scipy, psd_scipy = signal.welch(x, 48_000, "hann", nperseg=9600, detrend="constant")
    assert f_hz == pytest.approx(f_scipy, abs=1e-9)
    assert psd == pytest.approx(psd_scipy, rel=1e-9, abs=1e-18)


def test_white_noise_has_its_known_density() -> None:
    """Variance σ² spread over half the sample rate, within the scatter of ten seconds."""
    x = 1e-4 * np.random.default_rng(2).standard_normal(480_000)
    f_hz, psd = welch_density(x, 48_000.0)
    inside = (f_hz > 100) & (f_hz < 23_000)
    assert np.mean(psd[inside]) == pytest.approx(1e-8 / 24_000, rel=0.005)


def test_sine_keeps_its_power_whatever_its_frequency() -> None:
    """The points of a line sum to A²/2, on a point and between two."""
    t = np.arange(96_000) / 48_000
    for f0_hz in (1000.0, 1002.5, 1001.3):
        f_hz, psd = welch_density(0.1 * np.sin(2 * np.pi * f0_hz * t), 48_000.0)
        assert np.sum(psd) * (f_hz[1] - f_hz[0]) == pytest.approx(0.005, rel=1e-4)


def test_too_short_a_silence_is_refused() -> None:
    """Fewer than 16 samples say nothing."""
    with pytest.raises(ArgumentError, match="density of 15 samples"):
        welch_density(np.zeros(15), 48_000.0)
    assert len(welch_density(np.ones(16), 48_000.0)[0]) == 9
    with pytest.raises(ArgumentError, match="does not reach 20 Hz"):
        noise_figures(np.array([0.0, 10.0]), np.ones(2), 0.1)
