"""A tone or short sweeps while somebody taps and bends: when the line lets go, and by how much."""

from __future__ import annotations

import math

import numpy as np

from loopback.arrays import C128, F64
from loopback.quantity import Estimate
from loopback.signal.watch import MARK_S, SETTLE_S, Watch
from loopback.switching.events import find_events
from loopback.switching.filters import in_band
from loopback.switching.moments import Moments, moments_of
from loopback.switching.result import TapEvent, TapFigures
from loopback.switching.silence import percentile_99

LEAST_DB, LEAST_DEG = 0.02, 0.15
"""Smaller changes are not called an event, however quiet the setup (judgement: a hand near the lead
already does that)."""
DROPPED_DB = -20.0
_TIMES_NOISE = 6.0
_MEMORY_S, _SWEEP_MEMORY_S = 0.2, 1.0
_JOIN_S = 0.03
_NEAR = 0.7
_EDGES = 4
_DEG = 180 / math.pi
_DB = 20 / math.log(10)


def read_taps(x: F64, rate_hz: int, watch: Watch) -> TapFigures:
    """Find every excursion of level and phase.

    A moment is compared with the median of the tenths of a second around it, so a lead that is
    slowly moved is no event, and neither is the drift of a clock.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        The channel of the pedal path, fraction of full scale.
    rate_hz : int
        Sample rate.
    watch : Watch
        What was played.

    Returns
    -------
    TapFigures
        Without events when nothing moved; also when there is no tone at all.
    """
    start = round((MARK_S + 0.9 * SETTLE_S) * rate_hz)
    stop = min(len(x), round((watch.seconds - MARK_S) * rate_hz))
    part = x[start:stop]
    read = moments_of(part, rate_hz, watch)
    moments, memory_s = read.values, _MEMORY_S if watch.sweeps is None else _SWEEP_MEMORY_S
    watched_s = len(part) / rate_hz
    if len(moments) < 2 * round(memory_s / read.step_s) or not np.any(np.abs(moments) > 0):
        return TapFigures((), watched_s, 0.0, 0.0, 0)
    relative = moments / _usual(moments, round(memory_s / read.step_s))
    level = _DB * np.log(np.maximum(np.abs(relative), 1e-10))
    phase = _DEG * np.angle(relative)
    noise_db, noise_deg = _noise(level), _noise(phase)
    limits = (
        max(LEAST_DB, _TIMES_NOISE * noise_db),
        max(LEAST_DEG, _TIMES_NOISE * noise_deg),
    )
    off = (np.abs(level) > limits[0]) | (np.abs(phase) > limits[1])
    origin = start / rate_hz + read.step_s / 2 - MARK_S - SETTLE_S
    events = tuple(
        _event(level, phase, span, origin, (noise_db, noise_deg), read)
        for span in _spans(off, read.step_s)
    )
    quiet = ~off
    return TapFigures(
        events,
        watched_s,
        percentile_99(np.abs(level[quiet])),
        percentile_99(np.abs(phase[quiet])),
        _crackles(read.rest, rate_hz, events, start / rate_hz - MARK_S - SETTLE_S),
    )


def _usual(moments: C128, count: int) -> C128:
    """Median of the neighbourhood, of real and imaginary part each."""
    size = 2 * (count // 2) + 1
    size = min(size, len(moments) - 1 + len(moments) % 2)
    padded = np.pad(moments, size // 2, mode="edge")
    views = np.lib.stride_tricks.sliding_window_view(padded, size)
    usual = np.median(views.real, axis=1) + 1j * np.median(views.imag, axis=1)
    # Where the line stays broken for longer than that, what it was before counts on.
    whole = np.median(np.abs(moments))
    there = np.abs(usual) > 10.0 ** (DROPPED_DB / 20) * whole
    if not np.any(there):
        return np.asarray(usual)
    places = np.where(there, np.arange(len(usual)), 0)
    places = np.maximum.accumulate(places)
    places[: int(np.argmax(there))] = int(np.argmax(there))
    return np.asarray(usual[places])


def _noise(values: F64) -> float:
    """Take the standard deviation from the median of the magnitudes: events do not count."""
    return float(np.median(np.abs(values))) / 0.6745


def _spans(off: np.ndarray[tuple[int], np.dtype[np.bool_]], step_s: float) -> list[tuple[int, int]]:
    """First and last moment of each stretch; what is close together is one."""
    spans: list[tuple[int, int]] = []
    join = round(_JOIN_S / step_s)
    for at in np.flatnonzero(off):
        if spans and at - spans[-1][1] <= join:
            spans[-1] = (spans[-1][0], int(at))
        else:
            spans.append((int(at), int(at)))
    return spans


def _event(
    level: F64,
    phase: F64,
    ends: tuple[int, int],
    origin: float,
    noise: tuple[float, float],
    read: Moments,
) -> TapEvent:
    first, last = ends
    span = slice(first, last + 1)
    readable = level[span] > DROPPED_DB
    change = _size(level[span], noise[0], "dB")
    # Noise counts more while little of the tone is left.
    louder = max(1.0, float(10.0 ** (-change.value / 20)))
    turn = _size(phase[span][readable], noise[1] * louder if np.all(readable) else noise[1], "deg")
    largest = first + int(np.argmax(np.abs(level[span])))
    return TapEvent(
        origin + first * read.step_s,
        (last - first + 1) * read.step_s,
        Estimate(change.value, change.u * louder, "dB"),
        turn,
        bool(np.any(~readable)),
        None if read.f_hz is None else float(read.f_hz[largest]),
        read.step_s,
    )


def _size(values: F64, noise: float, unit: str) -> Estimate:
    """Take the median of the moments that are near the largest: of one alone it is that one."""
    if not len(values):
        return Estimate(0.0, noise, unit)
    if len(values) > _EDGES:  # the moments at either end hold a part of what was before and after
        values = values[1:-1]
    largest = values[np.argmax(np.abs(values))]
    near = values[values * np.sign(largest) > _NEAR * abs(largest)]
    spread = noise * math.sqrt(math.pi / 2 / len(near)) if len(near) > 2 else noise
    return Estimate(float(np.median(near)), spread, unit)


def _crackles(rest: F64, rate_hz: int, events: tuple[TapEvent, ...], origin: float) -> int:
    """Count clicks beside the tone that are no event of it."""
    found = find_events(in_band(rest, rate_hz), rate_hz, 0, len(rest))
    times = origin + found / rate_hz
    return sum(
        all(not e.at_s - 0.06 <= at <= e.at_s + e.lasts_s + 0.06 for e in events) for at in times
    )
