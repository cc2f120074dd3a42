"""Check tones: level and phase by least squares, and the ratio of the clocks from them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from loopback.arrays import F64
from loopback.response.reading import ToneReading
from loopback.signal.take import MIDDLE_TONE_HZ, Signal, Tone, layout_of

_SKIP_BEGIN_S, _SKIP_END_S = 0.015, 0.012
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
    readings = []
    rate = signal.rate_hz
    for tone in layout_of(signal).tones:
        exact = tone.start * (1 + stretch)
        begin = round(exact) + round(_SKIP_BEGIN_S * rate)
        count = tone.length - round((_SKIP_BEGIN_S + _SKIP_END_S) * rate)
        if start + begin < 0 or start + begin + count > len(samples):
            continue
        part = samples[start + begin : start + begin + count]
        readings.append(_fit(part, tone, begin - exact, rate * (1 + stretch)))
    return tuple(readings)


def clock_stretch(readings: Sequence[ToneReading], signal: Signal, assumed: float) -> float | None:
    """Ratio of the clocks from the phases of the full-level 1 kHz tones.

    Parameters
    ----------
    readings : sequence of ToneReading
        Read with `assumed`.
    signal : Signal
        What was played.
    assumed : float
        Stretch good enough that the last tone is less than half a period off.

    Returns
    -------
    float or None
        Recorded over played duration, minus 1; None when the tones are missing, buried, or not on
        one line (samples were lost between them).
    """
    chosen = [
        (tone, reading)
        for tone in layout_of(signal).tones
        for reading in readings
        if reading.block == tone.block
        and reading.f_hz == tone.f_hz == MIDDLE_TONE_HZ
        and reading.played_dbfs == tone.level_dbfs == signal.level_dbfs
        and reading.u_level_db < _CLEAR_DB
    ]
    if len(chosen) < 2:
        return None
    t_s = np.array([tone.start / signal.rate_hz for tone, _ in chosen])
    phase = np.unwrap(np.array([reading.phase_rad for _, reading in chosen]))
    slope, constant = np.polyfit(t_s, phase, 1)
    noise = max(reading.u_level_db for _, reading in chosen) * np.log(10) / 20
    if float(np.max(np.abs(phase - slope * t_s - constant))) > max(_STRAIGHT_RAD, 4 * noise):
        return None
    return assumed - float(slope) / (2 * np.pi * MIDDLE_TONE_HZ)


def restretched(
    readings: Sequence[ToneReading], signal: Signal, assumed: float, stretch: float
) -> tuple[ToneReading, ...]:
    """Refer phases that were read with one stretch to another, a few parts per million away.

    Parameters
    ----------
    readings : sequence of ToneReading
        Read with `assumed`.
    signal : Signal
        What was played.
    assumed, stretch : float
        Ratio of the clocks minus 1, before and after.

    Returns
    -------
    tuple of ToneReading
        With new phases, within ±π.
    """
    middles: dict[tuple[str, float, float], float] = {
        (t.block, t.f_hz, t.level_dbfs): t.start + _middle(t, signal.rate_hz)
        for t in layout_of(signal).tones
    }
    moved = []
    for r in readings:
        t_s = middles[(r.block, r.f_hz, r.played_dbfs)] / signal.rate_hz
        phase = r.phase_rad + 2 * np.pi * r.f_hz * t_s * (stretch - assumed)
        moved.append(replace(r, phase_rad=float(np.angle(np.exp(1j * phase)))))
    return tuple(moved)


def _middle(tone: Tone, rate_hz: int) -> float:
    """Return samples from the start of a tone to the middle of the part that is fitted."""
    return (tone.length + (_SKIP_BEGIN_S - _SKIP_END_S) * rate_hz) / 2


def _fit(part: F64, tone: Tone, first: float, rate_hz: float) -> ToneReading:
    basis, weighted, inverse, spread = _basis(tone.f_hz, len(part), rate_hz)
    a, b, c = inverse @ (weighted @ part)
    size = float(np.hypot(a, b))
    residual = part - a * basis[0] - b * basis[1] - c
    variance = float(np.mean(residual**2)) * spread
    # The basis counts from its own first sample; the tone began `first` samples earlier.
    phase = np.arctan2(b, a) - 2 * np.pi * tone.f_hz / rate_hz * first
    db = 20 / np.log(10)
    level = db * np.log(size) if size > 0 else -np.inf
    return ToneReading(
        block=tone.block,
        f_hz=tone.f_hz,
        played_dbfs=tone.level_dbfs,
        level_dbfs=float(level),
        phase_rad=float(np.angle(np.exp(1j * phase))),
        u_level_db=float(db * np.sqrt(variance) / size) if size > 0 else float("inf"),
    )


@lru_cache(maxsize=16)
def _basis(f_hz: float, count: int, rate_hz: float) -> tuple[F64, F64, F64, float]:
    angle = 2 * np.pi * f_hz / rate_hz * np.arange(count)
    basis = np.stack([np.sin(angle), np.cos(angle), np.ones(count)])
    window = 0.5 - 0.5 * np.cos(2 * np.pi * (np.arange(count) + 0.5) / count)
    weighted = basis * window
    inverse = np.linalg.inv(weighted @ basis.T)
    covariance = inverse @ (weighted @ weighted.T) @ inverse
    return basis, weighted, inverse, float(covariance[0, 0])
