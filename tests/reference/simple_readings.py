"""Slow and obvious ways to read a recording, sharing no code with the package."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from loopback.signal.layout import Layout, Tone

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]


def transfer_of(played: Real, heard: Real, rate_hz: float) -> tuple[Real, Complex]:
    """Return heard over played, at the bins of the whole recording where something was played."""
    x = np.fft.rfft(played, len(heard))
    y = np.fft.rfft(heard)
    f_hz = np.fft.rfftfreq(len(heard), 1 / rate_hz)
    size = np.abs(x)
    inside = (f_hz > 15) & (f_hz < 0.46 * rate_hz)
    keep = inside & (size > 0.05 * np.median(size[inside]))
    return f_hz[keep], y[keep] / x[keep]


def at(f_hz: Real, h: Complex, wanted_hz: float) -> complex:
    """Return the value at the bin nearest to a frequency."""
    return complex(h[np.argmin(np.abs(f_hz - wanted_hz))])


def lock_in(x: Real, f_hz: float, rate_hz: float) -> complex:
    """Complex peak amplitude of one frequency, under a Hann window."""
    window = np.hanning(len(x) + 2)[1:-1]
    turn = np.exp(-2j * np.pi * f_hz / rate_hz * np.arange(len(x)))
    return complex(2 * np.sum(window * x * turn) / np.sum(window))


def middle_of(x: Real, tone: Tone, start: int) -> Real:
    """Return a check tone as recorded, without its faded ends."""
    first = start + tone.start + tone.fade + 16
    return x[first : first + tone.length - 2 * tone.fade - 32]


def tone_of(layout: Layout, f_hz: float, level_dbfs: float) -> Tone:
    """Return the first check tone of that frequency and level."""
    return next(t for t in layout.tones if t.f_hz == f_hz and abs(t.level_dbfs - level_dbfs) < 1e-9)


def power_density(x: Real, rate_hz: float, length: int = 1 << 14) -> tuple[Real, Real]:
    """Average periodogram, Hann window, no overlap: full scale squared per hertz, one-sided."""
    window = np.hanning(length)
    blocks = x[: len(x) // length * length].reshape(-1, length) * window
    power = np.mean(np.abs(np.fft.rfft(blocks, axis=1)) ** 2, axis=0)
    density = 2 * power / (rate_hz * np.sum(window**2))
    f_hz = np.arange(length // 2 + 1, dtype=np.float64) * (rate_hz / length)
    return f_hz, np.asarray(density, dtype=np.float64)


def band_rms(x: Real, rate_hz: float, low_hz: float, high_hz: float) -> float:
    """RMS of what lies between two frequencies (Parseval over the whole stretch)."""
    power = np.abs(np.fft.rfft(x) / len(x)) ** 2
    f_hz = np.fft.rfftfreq(len(x), 1 / rate_hz)
    return float(np.sqrt(2 * np.sum(power[(f_hz >= low_hz) & (f_hz <= high_hz)])))


def a_weighted_dbfs(x: Real, rate_hz: float) -> float:
    """A-weighted level, 20 Hz to 20 kHz, of a scale on which a full-scale sine is 0 dB.

    The curve is formula E.6 of IEC 61672-1:2013 with the rounded pole frequencies of its table.
    """
    power = 2 * np.abs(np.fft.rfft(x) / len(x)) ** 2
    f = np.fft.rfftfreq(len(x), 1 / rate_hz)
    keep = (f >= 20) & (f <= 20_000)
    f, power = f[keep], power[keep]
    curve = (
        12194.0**2
        * f**4
        / ((f**2 + 20.6**2) * np.sqrt((f**2 + 107.7**2) * (f**2 + 737.9**2)) * (f**2 + 12194.0**2))
    )
    return float(10 * np.log10(2 * np.sum(power * (curve * 10 ** (2.0 / 20)) ** 2)))
