"""Where something happens in a recording of presses, and where it is silent."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64

THRESHOLD = 8.0
"""An event begins where the wave in the band exceeds this many times the noise's rms (common
practice for clicks: Gaussian noise does so once in 1e15 samples)."""
GUARD_S = 0.3
"""One event per press: bounce and echo within this belong to it."""
SETTLED_S = 0.55
"""Silence begins this long after an event."""

_GOLDEN = (5**0.5 - 1) / 2
_BLOCK_S = 0.01
_LOOK_BLOCKS = 21
_NEAR_BLOCKS = 3
_AFTER_BLOCKS = 30


def find_events(x: F64, rate_hz: int, start: int, stop: int) -> NDArray[np.int64]:
    """Find the first sample of each event.

    The noise is taken on both sides, as the median over blocks of 10 ms: the effect is noisier
    than bypass, and that alone is no event.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        A recording in the band, see `loopback.switching.filters.in_band`.
    rate_hz : int
        Sample rate.
    start, stop : int
        Part of the recording to search.

    Returns
    -------
    ndarray of int64, shape (k,)
        Samples, at least `GUARD_S` apart.
    """
    part = x[start:stop]
    size = round(_BLOCK_S * rate_hz)
    count = len(part) // size
    if count < 3 * _LOOK_BLOCKS:
        return np.zeros(0, dtype=np.int64)
    blocks = part[: count * size].reshape(count, size)
    rms = np.sqrt(np.mean(np.square(blocks), axis=1))
    peak = np.max(np.abs(blocks), axis=1)
    medians = np.median(np.lib.stride_tricks.sliding_window_view(rms, _LOOK_BLOCKS), axis=1)
    last = len(medians) - 1
    at = np.arange(count)
    before = medians[np.clip(at - _LOOK_BLOCKS - _NEAR_BLOCKS, 0, last)]
    after = medians[np.clip(at + _AFTER_BLOCKS, 0, last)]
    limit = THRESHOLD * np.maximum(before, after)
    limit = np.where(limit > 0, limit, np.inf if not np.any(peak) else np.min(peak[peak > 0]) / 2)
    events: list[int] = []
    guard = round(GUARD_S * rate_hz)
    for block in np.flatnonzero(peak > limit):
        inside = np.flatnonzero(np.abs(blocks[block]) > limit[block])
        sample = start + int(block) * size + int(inside[0])
        if not events or sample - events[-1] >= guard:
            events.append(sample)
    return np.array(events, dtype=np.int64)


def silent_stretches(
    start: int, stop: int, events: NDArray[np.int64], rate_hz: int
) -> list[tuple[int, int]]:
    """Cut out what is silent: before the first event, and after each.

    Parameters
    ----------
    start, stop : int
        Part of the recording that may be used.
    events : ndarray of int64, shape (k,)
        Events in it; `SETTLED_S` after each and 50 ms before each are left out.
    rate_hz : int
        Sample rate.

    Returns
    -------
    list of (int, int)
        k + 1 stretches, first sample and the one after the last; empty ones stay in their place.
    """
    settled, near = round(SETTLED_S * rate_hz), round(0.05 * rate_hz)
    begins = [start, *(int(event) + settled for event in events)]
    ends = [*(int(event) - near for event in events), stop]
    return [(begin, max(begin, end)) for begin, end in zip(begins, ends, strict=True)]


def place_windows(stretches: list[tuple[int, int]], length: int, wanted: int) -> NDArray[np.int64]:
    """Spread windows over what is silent; they overlap only where there is too little.

    Parameters
    ----------
    stretches : list of (int, int)
        From `silent_stretches`.
    length : int
        Length of a window, samples.
    wanted : int
        How many.

    Returns
    -------
    ndarray of int64, shape (m,)
        First samples; `wanted` of them, or none where no window fits.
    """
    begins = np.array([begin for begin, _ in stretches], dtype=np.int64)
    room = np.array([max(0, end - begin - length + 1) for begin, end in stretches], dtype=np.int64)
    total = int(room.sum())
    if total == 0:
        return np.zeros(0, dtype=np.int64)
    # Equal distances would fall into step with hum: every window then has it at the same phase.
    numbers = np.arange(wanted)
    places = ((numbers + numbers * _GOLDEN % 1.0) * total / wanted).astype(np.int64)
    edges = np.concatenate([[0], np.cumsum(room)])
    which = np.searchsorted(edges, places, side="right") - 1
    return np.asarray(begins[which] + places - edges[which], dtype=np.int64)
