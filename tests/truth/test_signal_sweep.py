"""The sweep against another generator and against published formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.signal import chirp

from loopback.signal.sweep import (
    harmonic_lead_s,
    sweep_constant_s,
    sweep_phase_rad,
    synchronised_sweep,
    time_of_frequency_s,
)
from loopback.signal.take import Signal, render_sweep

# Computed independently from L = T / ln(f2/f1) and L ln n (Farina 2000): T, f1, f2, L, leads.
LEADS = (
    (5.0, 20.0, 20e3, 0.723824137, (0.501716659, 0.795202091, 1.003433319, 1.164950007)),
    (10.0, 20.0, 20e3, 1.447648273, (1.003433319, 1.590404182, 2.006866638, 2.329900014)),
    (1.0, 20.0, 20e3, 0.144764827, (0.100343332, 0.159040418, 0.200686664, 0.232990001)),
    (5.0, 10.0, 24e3, 0.642407310, (0.445282815, 0.705756565, 0.890565631, 1.033914679)),
)


@pytest.mark.parametrize(("f1_hz", "cycles", "rate_hz"), [(20.0, 14, 48_000), (10.0, 5, 96_000)])
def test_sweep_equals_the_logarithmic_chirp_of_another_library(
    f1_hz: float, cycles: int, rate_hz: int
) -> None:
    """With a whole number of cycles f1·L the "−1" of the plain sweep is a whole turn."""
    constant = cycles / f1_hz
    duration = constant * math.log(20e3 / f1_hz)
    ours = synchronised_sweep(f1_hz, constant, rate_hz, int(duration * rate_hz))
    t_s = np.arange(len(ours)) / rate_hz
    theirs = chirp(t_s, f0=f1_hz, t1=duration, f1=20e3, method="logarithmic", phi=-90)
    assert np.max(np.abs(ours - theirs)) < 1e-9


@pytest.mark.parametrize(("duration", "f1_hz", "f2_hz", "constant", "leads"), LEADS)
def test_constant_and_harmonic_leads(
    duration: float, f1_hz: float, f2_hz: float, constant: float, leads: tuple[float, ...]
) -> None:
    """L and the leads of orders 2 to 5 are those of the published formulas."""
    found = sweep_constant_s(f1_hz, f2_hz, duration)
    assert found == pytest.approx(constant, abs=1e-9)
    assert [harmonic_lead_s(n, found) for n in (2, 3, 4, 5)] == pytest.approx(leads, abs=2e-9)


def test_time_at_which_the_sweep_passes_a_frequency() -> None:
    """t = L ln(f/f1): 5 s from 20 Hz to 20 kHz, computed independently."""
    times = time_of_frequency_s(np.array([100.0, 1e3, 1e4]), 20.0, sweep_constant_s(20, 20e3, 5))
    assert times == pytest.approx([1.164950007, 2.831616674, 4.498283341], abs=1e-9)


def test_phase_runs_at_the_frequency_of_that_time() -> None:
    """The derivative of the phase at t(f) is 2πf."""
    f_hz = np.array([30.0, 500.0, 9e3])
    constant = 0.7
    t_s, step = time_of_frequency_s(f_hz, 20.0, constant), 1e-7
    ahead = sweep_phase_rad(t_s + step, 20.0, constant) - sweep_phase_rad(
        t_s - step, 20.0, constant
    )
    assert ahead / (2 * step) == pytest.approx(2 * np.pi * f_hz, rel=1e-6)


@pytest.mark.parametrize("order", [2, 3, 4, 5])
def test_a_harmonic_is_the_sweep_moved_earlier(order: int) -> None:
    """sin(nφ(t)) = sin(φ(t + L ln n)): what makes the sweep synchronised (Novak et al. 2015)."""
    constant = 0.7
    t_s = np.linspace(0, 2, 1000)
    multiplied = np.sin(order * sweep_phase_rad(t_s, 20.0, constant))
    moved = np.sin(sweep_phase_rad(t_s + harmonic_lead_s(order, constant), 20.0, constant))
    assert np.max(np.abs(multiplied - moved)) < 1e-9


def test_spectrum_follows_the_closed_form() -> None:
    """|X(f)| = ½√(L/f) (Novak, Lotton and Simon 2015, eq. 43) within the ripple of the ends."""
    rate_hz, constant = 192_000, sweep_constant_s(20, 20e3, 5)
    sweep = synchronised_sweep(20.0, constant, rate_hz, 5 * rate_hz)
    size = np.abs(np.fft.rfft(sweep, 1 << 20)) / rate_hz
    f_hz = np.fft.rfftfreq(1 << 20, 1 / rate_hz)
    inside = (f_hz > 1e3) & (f_hz < 1e4)
    off_db = 20 * np.log10(size[inside] / (0.5 * np.sqrt(constant / f_hz[inside])))
    assert np.sqrt(np.mean(off_db**2)) < 0.011
    assert np.max(np.abs(off_db)) < 0.03
    assert np.interp(1000.0, f_hz, size) == pytest.approx(0.01345199, rel=2e-3)


def test_faded_sweep_falls_by_three_decibels_per_octave() -> None:
    """10 lg 2 = 3.0103 dB per octave and 10 dB per decade; the fades take the ripple away."""
    signal = Signal(96_000, 10.0, 40_000.0, 5, -12.0)
    size = np.abs(np.fft.rfft(render_sweep(signal), 1 << 19)) / signal.rate_hz
    f_hz = np.fft.rfftfreq(1 << 19, 1 / signal.rate_hz)
    inside = (f_hz > 200) & (f_hz < 20e3)
    form = 0.5 * signal.amplitude * np.sqrt(signal.constant_s / f_hz[inside])
    assert np.max(np.abs(20 * np.log10(size[inside] / form))) < 0.01
    slope = np.polyfit(np.log2(f_hz[inside]), 20 * np.log10(size[inside]), 1)[0]
    assert slope == pytest.approx(-10 * math.log10(2), abs=2e-4)
    one, ten = np.interp([1e3, 1e4], f_hz, size)
    assert 20 * math.log10(one / ten) == pytest.approx(10.0, abs=2e-3)
