"""Check tones: level and phase by least squares, and the ratio of the clocks from them."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from loopback.arrays import F64
from loopback.response.reading import ToneReading
from loopback.signal.layout import Tone
from loopback.signal.take import MIDDLE_TONE_HZ, TONE_S, Signal, layout_of

_SKIP_BEGIN_S, _SKIP_END_S = 0.015, 0.012
READ_S = TONE_S - _SKIP_BEGIN_S - _SKIP_END_S
"""Length of the middle of a tone that is read."""
READ_MIDDLE_S = _SKIP_BEGIN_S + READ_S / 2
"""Its middle, from the start of the tone."""
_CLEAR_DB = 0.5
_STRAIGHT_RAD = 0.005
"""Three phases further than this from a line mean lost samples, not two clocks: a single one at
192 kHz leaves twice as much."""


def read_tones(
    samples: F64, signal: Signal, start: int, stretch: float = 0.0
) -> tuple[ToneReading, ...]:
    """Read every check tone that is in the recording.

    A sine and a constant are fitted to the middle of each tone with Hann weights, which keep mains
    hum 30 Hz away 40 dB further down than equal weights would.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,)
        One channel.
    signal : Signal
        What was played.
    start : int
        First sample of the take.
    stretch : float
        Ratio of the clocks, minus 1.

    Returns
    -------
    tuple of ToneReading
        In the order played; tones outside the recording are left out.
    """
    rate = signal.rate_hz
    readings = (
        _read_one(samples, tone, rate, start, stretch, stretch) for tone in layout_of(signal).tones
    )
    return tuple(reading for reading in readings if reading is not None)


def clock_stretch(samples: F64, signal: Signal, start: int, assumed: float) -> float | None:
    """Ratio of the clocks from the phases of the full-level 1 kHz tones.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,)
        One channel.
    signal : Signal
        What was played.
    start : int
        First sample of the take.
    assumed : float
        Stretch good enough that the last tone is less than half a period off.

    Returns
    -------
    float or None
        Recorded over played duration, minus 1; None when fewer than two of the tones are there,
        or they are buried, or not on one line (samples were lost between them).
    """
    chosen = []
    for tone in layout_of(signal).tones:
        if tone.f_hz == MIDDLE_TONE_HZ and tone.level_dbfs == signal.level_dbfs:
            reading = _read_one(samples, tone, signal.rate_hz, start, assumed, 0.0)
            if reading is not None and reading.u_level_db < _CLEAR_DB:
                chosen.append((tone.start / signal.rate_hz, reading))
    if len(chosen) < 2:
        return None
    t_s = np.array([at for at, _ in chosen])
    phase = np.unwrap(np.array([reading.phase_rad for _, reading in chosen]))
    slope, constant = np.polyfit(t_s, phase, 1)
    noise = max(reading.u_level_db for _, reading in chosen) * np.log(10) / 20
    if float(np.max(np.abs(phase - slope * t_s - constant))) > max(_STRAIGHT_RAD, 4 * noise):
        return None
    return assumed - float(slope) / (2 * np.pi * MIDDLE_TONE_HZ)


def _read_one(
    samples: F64, tone: Tone, rate_hz: int, start: int, stretch: float, detuned: float
) -> ToneReading | None:
    """Read the tone at its stretched place, tuned to the clock of `detuned`; None when cut off."""
    exact = tone.start * (1 + stretch)
    begin = round(exact) + round(_SKIP_BEGIN_S * rate_hz)
    count = tone.length - round((_SKIP_BEGIN_S + _SKIP_END_S) * rate_hz)
    if start + begin < 0 or start + begin + count > len(samples):
        return None
    part = samples[start + begin : start + begin + count]
    return _fit(part, tone, begin - exact, rate_hz * (1 + detuned))


def _fit(part: F64, tone: Tone, first: float, rate_hz: float) -> ToneReading:
    rows, gram, spread = _basis(tone.f_hz, len(part), rate_hz)
    products = rows @ part
    fitted, on_basis = products[:3], products[3:]
    a, b = float(fitted[0]), float(fitted[1])
    size = math.hypot(a, b)
    # The squares that are left over, without making the difference sample by sample.
    left = float(part @ part - 2 * fitted @ on_basis + fitted @ gram @ fitted)
    deviation = math.sqrt(max(left, 0.0) / len(part) * spread)
    # The basis counts from its own first sample; the tone began `first` samples earlier.
    phase = math.atan2(b, a) - 2 * math.pi * tone.f_hz / rate_hz * first
    return ToneReading(
        block=tone.block,
        f_hz=tone.f_hz,
        played_dbfs=tone.level_dbfs,
        level_dbfs=20 * math.log10(size) if size > 0 else -math.inf,
        phase_rad=math.remainder(phase, 2 * math.pi),
        u_level_db=20 / math.log(10) * deviation / size if size > 0 else math.inf,
    )


@lru_cache(maxsize=16)
def _basis(f_hz: float, count: int, rate_hz: float) -> tuple[F64, F64, float]:
    """Rows that give sine, cosine and constant fitted, and the plain products with them."""
    angle = 2 * np.pi * f_hz / rate_hz * np.arange(count)
    basis = np.stack([np.sin(angle), np.cos(angle), np.ones(count)])
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(count) + 0.5) / count)
    weighted = basis * window
    inverse = np.linalg.inv(weighted @ basis.T)
    covariance = inverse @ (weighted @ weighted.T) @ inverse
    rows = np.concatenate([inverse @ weighted, basis])
    return rows, basis @ basis.T, float(covariance[0, 0])
