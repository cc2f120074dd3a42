"""Find the takes in a recording: any offset, level, polarity and number, cut or not.

The recording is brought down to about 6 kHz and compressed with the inverse of each sweep; a
sweep then stands as one sharp peak wherever it began, and no other part of a take does. The two
peaks of a take, up and down, give its start and the ratio of the clocks.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from loopback.arrays import C128, F64
from loopback.response.sweeps import fast_length
from loopback.signal.layout import SegmentName
from loopback.signal.sweep import time_of_frequency_s
from loopback.signal.take import Signal, layout_of, render_sweep

FOUND = 8.0
"""A peak this many times the rms of its surroundings is a sweep; noise alone reaches 5."""
MOST_STRETCH = 500e-6
"""Two clocks differ by at most this; more is another sample rate."""
_ALONE = 30.0
"""What a single sweep of a cut take needs, for want of a second one at the right distance."""
_LEAST = 0.05
"""Peaks below this share of the highest are what tones and edges leave of a noiseless signal."""
_SEARCH_RATE_HZ = 6000.0
_LOW_HZ = 80.0
_CENTRE_HZ = 1200.0
"""Where the search band has its weight, which is what two clocks move the peak by."""
_NEAR_S, _FAR_S = 0.008, 0.080
_RATES_HZ = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


@dataclass(frozen=True, slots=True)
class Located:
    """Where one take lies in a recording.

    Parameters
    ----------
    start : int
        Sample of the recording that is the first sample of the take; negative when it was cut.
    score : float
        Height of the weaker sweep's compressed peak over the rms of its surroundings; below
        `FOUND` the take was not found but assumed where it was expected.
    stretch : float
        Recorded over played duration, minus 1, good to about 10 ppm; the check tones refine it.
    polarity : int
        +1, or -1 for a recording upside down.
    complete : bool
        True when every segment is inside the recording.
    missing : tuple of str
        Segments that were cut off; half of the silence at either end may be.
    """

    start: int
    score: float
    stretch: float
    polarity: int
    complete: bool
    missing: tuple[SegmentName, ...] = ()

    @property
    def found(self) -> bool:
        """Whether the sweep was really seen."""
        return self.score >= FOUND

    @property
    def usable(self) -> bool:
        """Whether both sweeps are there."""
        return "up" not in self.missing and "down" not in self.missing


@dataclass(frozen=True, slots=True)
class _Peak:
    at: float
    height: float
    score: float


def locate_takes(
    samples: F64, signal: Signal, expected_start: int | None = None
) -> tuple[Located, ...]:
    """Find every take of a signal in one channel of a recording.

    Parameters
    ----------
    samples : ndarray of float64, shape (n,)
        One channel, fraction of full scale, at any level.
    signal : Signal
        What was played.
    expected_start : int or None
        Where the rig played it, give or take its latency: then exactly one take is returned, the
        nearest, or the expected place itself with a score below `FOUND` when nothing is heard.
        None: search, also for recordings whose header names another sample rate.

    Returns
    -------
    tuple of Located
        In the order of their starts; empty when there is none.
    """
    takes = _search(samples, signal, 0.0)
    if not any(take.usable for take in takes):
        for stretch in _other_rates(signal):
            others = [take for take in _search(samples, signal, stretch) if take.usable]
            if others:
                takes = others
                break
    if expected_start is None:
        return tuple(takes)
    if takes:
        return (min(takes, key=lambda take: abs(take.start - expected_start)),)
    missing = _cut(signal, expected_start, 0.0, len(samples))
    return (Located(expected_start, 0.0, 0.0, 1, not missing, missing),)


def best_channel(samples: F64, signal: Signal) -> int:
    """Return the channel in which the signal stands out most.

    Parameters
    ----------
    samples : ndarray of float64, shape (n, channels)
        The recording.
    signal : Signal
        What was played.

    Returns
    -------
    int
        From 0; 0 when it is in none. When several carry it, ask the user instead: the cleanest
        is a check cable rather than a pedal.
    """
    scores = [
        max((take.score for take in locate_takes(samples[:, channel], signal)), default=0.0)
        for channel in range(samples.shape[1])
    ]
    return int(np.argmax(scores))


def _other_rates(signal: Signal) -> tuple[float, ...]:
    return tuple(rate / signal.rate_hz - 1 for rate in _RATES_HZ if rate != signal.rate_hz)


def _search(samples: F64, signal: Signal, stretch: float) -> list[Located]:
    factor = max(1, round(signal.rate_hz / _SEARCH_RATE_HZ))
    layout, rate = layout_of(signal), signal.rate_hz
    up, down = layout.segment("up"), layout.segment("down")
    coarse = _decimated(samples, factor)
    n_fft = fast_length(len(coarse) + round(up.length * (1 + stretch)) // factor)
    spectrum = np.fft.rfft(coarse, n_fft)
    forward, backward = _inverses(signal, stretch, factor, n_fft)
    reach = up.length * (1 + stretch)
    rising = np.fft.irfft(spectrum * forward, n_fft)
    falling = np.fft.irfft(spectrum * backward, n_fft)
    loudest = max(rising.max(), -rising.min(), falling.max(), -falling.min())
    least = _LEAST * float(loudest)
    ups = _peaks(rising, factor, reach, rate, len(samples), least)
    downs = _peaks(falling, factor, reach, rate, len(samples), least)
    # With another clock a peak moves with the time at which the sweep passes the search band.
    passing = float(time_of_frequency_s(np.array(_CENTRE_HZ), signal.f1_hz, signal.constant_s))
    up_mark = up.start + passing * rate
    down_mark = down.stop - passing * rate
    found: list[Located] = []
    highest = max((abs(peak.height) for peak in (*ups, *downs)), default=0.0)
    for first, second in _pairs(ups, downs, (down.start - up.start) * (1 + stretch)):
        alone = second if first is None else first if second is None else None
        if alone and (alone.score < _ALONE or abs(alone.height) < 0.3 * highest):
            continue
        extra = 0.0
        if first and second:
            apart = second.at - first.at - (down.start - up.start) * (1 + stretch)
            extra = apart / (down_mark - up_mark)
        total = stretch + extra
        begin = 0.0
        if first:
            begin = first.at - up.start * (1 + stretch) - extra * up_mark
        elif second:
            begin = second.at - down.start * (1 + stretch)
        start = round(begin)
        missing = set(_cut(signal, start, total, len(samples)))
        missing |= {"up"} if first is None else set()
        missing |= {"down"} if second is None else set()
        ordered = tuple(s.name for s in layout.segments if s.name in missing)
        peaks = [peak for peak in (first, second) if peak]
        score = min(peak.score for peak in peaks)
        polarity = 1 if peaks[0].height >= 0 else -1
        found.append(Located(start, score, total, polarity, not ordered, ordered))
    return sorted(found, key=lambda take: take.start)


def _pairs(
    ups: list[_Peak], downs: list[_Peak], distance: float
) -> Iterator[tuple[_Peak | None, _Peak | None]]:
    free = list(downs)
    for first in ups:
        near = [d for d in free if abs(d.at - first.at - distance) < MOST_STRETCH * 2 * distance]
        second = max(near, key=lambda peak: peak.score, default=None)
        if second is not None:
            free.remove(second)
        yield first, second
    for second in free:
        yield None, second


def _cut(signal: Signal, start: int, stretch: float, length: int) -> tuple[SegmentName, ...]:
    missing: list[SegmentName] = []
    for segment in layout_of(signal).segments:
        begin = start + segment.start * (1 + stretch)
        end = start + segment.stop * (1 + stretch)
        if segment.name == "lead":
            begin = (begin + end) / 2
        if segment.name == "end":
            end = (begin + end) / 2
        if begin < -0.5 or end > length + 0.5:
            missing.append(segment.name)
    return tuple(missing)


def _decimated(samples: F64, factor: int) -> F64:
    whole = len(samples) // factor * factor
    # Four times as quick as a mean over so short an axis.
    sums: F64 = np.einsum("ij->i", samples[:whole].reshape(-1, factor))
    return sums / factor


@lru_cache(maxsize=8)
def _inverses(signal: Signal, stretch: float, factor: int, n_fft: int) -> tuple[C128, C128]:
    sweep = render_sweep(signal, stretch)
    rate = signal.rate_hz / factor
    f_hz: F64 = np.arange(n_fft // 2 + 1, dtype=np.float64) * (rate / n_fft)
    low = _rise(f_hz / _LOW_HZ)
    high = _rise(np.asarray(0.46 * rate / np.maximum(f_hz, 1e-9)))
    pair = []
    for wave in (sweep, sweep[::-1]):
        spectrum = np.fft.rfft(_decimated(wave, factor), n_fft)
        power = np.abs(spectrum) ** 2
        inverse = np.zeros_like(spectrum)
        inside = low * high > 0
        inverse[inside] = (low * high * spectrum.conj())[inside] / power[inside]
        pair.append(inverse)
    return pair[0], pair[1]


def _rise(ratio: F64) -> F64:
    """Rise as a raised cosine over one octave above 1, which leaves the peak no skirts."""
    octave = np.clip(np.log2(np.maximum(ratio, 1e-12)), 0.0, 1.0)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * octave), dtype=np.float64)


def _peaks(
    compressed: F64, factor: int, reach: float, rate_hz: int, length: int, least: float
) -> list[_Peak]:
    size = np.abs(compressed)
    near, far = round(_NEAR_S * rate_hz / factor), round(_FAR_S * rate_hz / factor)
    n, radius = len(size), int(reach / factor * 0.98)
    peaks: list[_Peak] = []
    for _ in range(2 + int(length / reach)):
        top = int(np.argmax(size))
        ring = (top + np.r_[-far:-near, near + 1 : far + 1]) % n
        around = float(np.sqrt(np.mean(compressed[ring] ** 2)))
        height = float(compressed[top])
        score = abs(height) / around if around > 0 else 0.0
        if not score >= FOUND or abs(height) < least:
            break
        left, right = compressed[top - 1], compressed[(top + 1) % n]
        bend = left - 2 * height + right
        offset = 0.5 * float(left - right) / float(bend) if bend else 0.0
        begin = top if top < n - radius else top - n
        # A mean over `factor` samples belongs to the same offset on both sides: no half sample.
        peaks.append(_Peak((begin + offset) * factor, height, score))
        if 2 * radius + 1 >= n:
            break
        first, after = (top - radius) % n, (top + radius + 1) % n
        if first < after:
            size[first:after] = 0.0
        else:  # over the end of the circle
            size[first:] = size[:after] = 0.0
    return peaks
