"""Harmonics of a known curve: amplitudes, and where they lie."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.response.locate import Located
from loopback.response.reading import TakeReading
from loopback.response.take import read_take
from loopback.signal.sweep import harmonic_lead_s, synchronised_sweep
from loopback.signal.take import Signal, plan_signal, render_take
from tests.reference.recorded_takes import low_pass, recorded

# 192 kHz, 5 s from 20 Hz to 20 kHz at full scale; f1·L = 14, a whole number.
FULL = Signal(192_000, 20.0, 20_000.0, 14, 0.0)


def _read(samples: F64, signal: Signal, start: int = 0) -> TakeReading:
    return read_take(
        samples[:, None],
        signal,
        Located(start, 100.0, 0.0, 1, True),
        run_id="01",
        recording="",
        number=1,
        path_channel=0,
        check_channel=None,
    )


@pytest.fixture(scope="module")
def curved() -> TakeReading:
    """y = x + 0.01 x² + 0.004 x³."""
    x = render_take(FULL)
    return _read(x + 0.01 * x**2 + 0.004 * x**3, FULL)


@pytest.mark.parametrize(("row", "amplitude"), [(0, 0.005), (1, 0.001)], ids=["second", "third"])
@pytest.mark.parametrize("f_hz", [500.0, 1000.0, 4000.0])
def test_amplitudes_are_those_of_the_identities(
    curved: TakeReading, row: int, amplitude: float, f_hz: float
) -> None:
    """sin² = ½ − ½ cos 2θ and sin³ = ¾ sin θ − ¼ sin 3θ: 0.005 and 0.001 over 1.003, to 0.1 %."""
    found = float(np.interp(f_hz, curved.f_hz, curved.harmonics[row]))
    assert found == pytest.approx(amplitude / 1.003, rel=1e-3)


def test_linear_gain_carries_the_cube(curved: TakeReading) -> None:
    """The linear part is 1 + ¾ · 0.004 = 1.003 in both sweeps."""
    # Lower down a band is too narrow to tell the second harmonic from the linear response.
    inside = (curved.f_hz > 1000) & (curved.f_hz < 15e3)
    for response in (curved.up, curved.down):
        assert np.max(np.abs(np.abs(response[inside]) - 1.003)) < 2e-4
        assert float(np.mean(np.abs(response[inside]))) == pytest.approx(1.003, abs=2e-5)


def test_higher_orders_are_absent(curved: TakeReading) -> None:
    """A cubic has no fourth and fifth harmonic: 60 dB below the third."""
    inside = (curved.f_hz > 300) & (curved.f_hz < 3000)
    assert np.nanmax(curved.harmonics[2:, inside]) < 1e-6


def test_positions_of_the_harmonic_responses() -> None:
    """L ln n early, to a sample: the formula gives 96 329.60 and 152 678.80 for 5 s exactly.

    Deconvolved here by plain division, since the package keeps no impulse response.
    """
    rate_hz, constant = 192_000, 5 / math.log(1000)
    x = synchronised_sweep(20.0, constant, rate_hz, 5 * rate_hz)
    y = x + 0.01 * x**2 + 0.004 * x**3
    n_fft = 1 << 21
    f_hz = np.fft.fftfreq(n_fft, 1 / rate_hz)
    inside = (f_hz > 25) & (f_hz < 19e3)
    spectrum, played = np.fft.fft(y, n_fft), np.fft.fft(x, n_fft)
    quotient = np.zeros_like(spectrum)
    quotient[inside] = spectrum[inside] / played[inside]
    envelope = np.abs(np.fft.ifft(quotient))  # positive frequencies alone give the envelope
    for order, early in ((2, 96_329.60), (3, 152_678.80)):
        assert harmonic_lead_s(order, constant) * rate_hz == pytest.approx(early, abs=0.01)
        around = n_fft - round(early) + np.arange(-2000, 2001)
        assert n_fft - around[np.argmax(envelope[around])] == pytest.approx(early, abs=1.0)


def test_harmonics_through_a_delay_and_a_filter() -> None:
    """A curve followed by a pole: order n is weighed at n times the exciting frequency."""
    signal = plan_signal(96_000, 2.0)
    x = recorded(signal=signal, head=0, delay=0.0)
    pole = low_pass(3000.0)
    n_fft = 1 << 20
    f_hz = np.fft.rfftfreq(n_fft, 1 / signal.rate_hz)
    turn = pole(f_hz) * np.exp(-2j * np.pi * f_hz * 33.4 / signal.rate_hz)
    y = np.fft.irfft(np.fft.rfft(x + 0.02 * x**2, n_fft) * turn, n_fft)[: len(x)]
    reading = _read(y, signal)
    at = np.array([400.0, 1000.0, 3000.0])
    found = np.interp(at, reading.f_hz, reading.harmonics[0])
    weight = np.abs(pole(2 * at)) / np.abs(pole(at))
    assert found == pytest.approx(0.01 * signal.amplitude * weight, rel=3e-3)


def test_out_of_reach_is_not_a_number() -> None:
    """Harmonics above 24 kHz are not measured and say so."""
    signal = plan_signal(96_000, 1.0)
    reading = _read(recorded(signal=signal, head=0), signal)
    assert np.all(np.isnan(reading.harmonics[0, reading.f_hz > 12_000]))
    assert np.all(np.isfinite(reading.harmonics[0, (reading.f_hz > 100) & (reading.f_hz < 8000)]))


def test_a_square_wave_behind_a_pole() -> None:
    """Odd orders of a square wave are 1/n; strong as they are, the sweep is timed by its first."""
    x = render_take(FULL)
    pole = low_pass(1500.0)
    n_fft = 1 << 22
    f_hz = np.fft.rfftfreq(n_fft, 1 / FULL.rate_hz)
    y = np.fft.irfft(np.fft.rfft(np.sign(x), n_fft) * pole(f_hz), n_fft)[: len(x)]
    reading = _read(y, FULL)
    assert abs(reading.delay_s) < 200e-6  # 106 µs of the pole; the third comes 0.8 s early
    at = np.array([400.0, 700.0, 1200.0])
    for row, order in ((1, 3), (3, 5)):
        found = np.interp(at, reading.f_hz, reading.harmonics[row])
        weight = np.abs(pole(order * at)) / np.abs(pole(at))
        assert found == pytest.approx(weight / order, rel=0.02)
    for row in (0, 2):
        assert np.all(np.interp(at, reading.f_hz, reading.harmonics[row]) < 3e-3)
