"""What the contacts do, from a steady tone: gap, bounce, overlap.

The tone is turned into a complex amplitude with a mean over two of its periods, so an abrupt edge
becomes a ramp 0.4 ms long at 5 kHz; a moment is where the ramp is half way, which is the moment of
the edge itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.quantity import Estimate

GAP_DB = -20.0
"""Below the weaker of the two paths by this much, neither is connected."""
_SPREAD_S = 1e-5
"""Standard uncertainty of a moment without noise: the phase at which the tone is cut, and the
sampling (from simulated switches at 48 kHz, any phase)."""
_RAMP_S = 4e-4
_BEFORE_S, _AFTER_S = 0.12, 0.25
_STEADY_S = 0.05
_OVERLAP_SHARE = 0.25
_OVERLAP_LEAST_S = 4e-4


@dataclass(frozen=True, slots=True)
class Contacts:
    """One press under a steady tone.

    Parameters
    ----------
    at_s : float
        Moment of the first change, seconds.
    before, after : complex
        Amplitude of the tone on either side.
    gap_s : Estimate
        How long, in all, neither path is connected; 0 with its doubt where there is no gap.
    bounces : int
        How often the contact opens again.
    settled_s : float
        From the first change to the last.
    overlap_s : Estimate or None
        How long both paths are connected; None: not seen.
    """

    at_s: float
    before: complex
    after: complex
    gap_s: Estimate
    bounces: int
    settled_s: float
    overlap_s: Estimate | None


def amplitude_over_time(x: F64, tone_hz: float, rate_hz: int, periods: float = 2.0) -> C128:
    """Complex amplitude of a tone, sample by sample.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        One channel.
    tone_hz : float
        Frequency.
    rate_hz : int
        Sample rate.
    periods : float
        Length of the mean, in periods of the tone.

    Returns
    -------
    ndarray of complex128, shape (n,)
        Peak amplitude and phase; centred, the ends padded.
    """
    n = len(x)
    mixed = 2 * x * np.exp(-2j * np.pi * tone_hz / rate_hz * np.arange(n))
    running = np.concatenate([[0.0], np.cumsum(mixed)])
    half = periods * rate_hz / tone_hz / 2
    edges = np.arange(n) + 0.5
    high, low = np.clip(edges + half, 0, n), np.clip(edges - half, 0, n)
    return np.asarray((_at(running, high) - _at(running, low)) / (high - low))


def read_contacts(amplitude: C128, at: int, rate_hz: int) -> Contacts | None:
    """Read one press.

    Parameters
    ----------
    amplitude : ndarray of complex128, shape (n,)
        From `amplitude_over_time`.
    at : int
        A sample near the first change.
    rate_hz : int
        Sample rate.

    Returns
    -------
    Contacts or None
        None where the tone does not change, or the recording ends.
    """
    first, last = at - round(_BEFORE_S * rate_hz), at + round(_AFTER_S * rate_hz)
    if first < 0 or last > len(amplitude):
        return None
    part = amplitude[first:last]
    steady = round(_STEADY_S * rate_hz)
    before = complex(np.mean(part[:steady]))
    after = complex(np.mean(part[-steady:]))
    weaker = min(abs(before), abs(after))
    size = np.abs(part)
    open_now = size < 10.0 ** (GAP_DB / 20) * weaker
    edges = np.flatnonzero(np.diff(open_now.astype(np.int8)))
    if len(edges) % 2 or weaker == 0:
        return None
    left, right = 0.5 * abs(before), 0.5 * abs(after)
    gaps = _apart(size, [(int(f), int(r)) for f, r in edges.reshape(-1, 2)], right)
    if not gaps:
        moment_s = _moment_s(part, steady, weaker)
        return _without_gap(part, before, after, first, rate_hz, moment_s)
    begin = _walk_back(size, gaps[0][0], left)
    total, end = 0.0, begin
    for number, (falls, rises) in enumerate(gaps):
        start = begin if number == 0 else _walk_back(size, falls, right)
        end = _walk_on(size, rises, right)
        total += end - start
    doubt = _moment_s(part, steady, weaker) * (2 * len(gaps)) ** 0.5
    return Contacts(
        (first + begin) / rate_hz,
        before,
        after,
        Estimate(total / rate_hz, doubt, "s"),
        len(gaps) - 1,
        (end - begin) / rate_hz,
        None,
    )


def _apart(size: F64, gaps: list[tuple[int, int]], closed: float) -> list[tuple[int, int]]:
    """Join gaps between which the contact never really closed."""
    out: list[tuple[int, int]] = []
    for falls, rises in gaps:
        if out and float(np.max(size[out[-1][1] : falls + 1])) < closed:
            out[-1] = (out[-1][0], rises)
        else:
            out.append((falls, rises))
    return out


def _without_gap(
    part: C128, before: complex, after: complex, first: int, rate_hz: int, moment_s: float
) -> Contacts | None:
    change = abs(after - before)
    if change < 0.01 * max(abs(before), abs(after)):
        return None
    scale = min(abs(before), abs(after))
    away = np.flatnonzero(np.abs(part - before) > _OVERLAP_SHARE * scale)
    there = np.flatnonzero(np.abs(part - after) > _OVERLAP_SHARE * scale)
    if not len(away) or not len(there):
        return None
    begin, end = int(away[0]), int(there[-1]) + 1
    lasts = (end - begin) / rate_hz
    both = None
    if lasts > 2 * _OVERLAP_LEAST_S:
        ramp = round(_RAMP_S * rate_hz)
        middle = complex(np.mean(part[begin + ramp : end - ramp]))
        far = min(abs(middle - before), abs(middle - after))
        if far > _OVERLAP_SHARE * scale:
            left = np.abs(part - before) > 0.5 * abs(middle - before)
            comes = np.abs(part - after) > 0.5 * abs(middle - after)
            # The mean ripples on the ramps: from the first crossing to the last is too long by as
            # much as counting the samples between them all is too short.
            longest = int(np.flatnonzero(comes)[-1]) + 1 - int(np.flatnonzero(left)[0])
            lasts = (longest + int(np.sum(left & comes))) / 2 / rate_hz
            both = Estimate(lasts, moment_s * 2**0.5, "s")
    none = Estimate(0.0, _OVERLAP_LEAST_S, "s")
    return Contacts((first + begin) / rate_hz, before, after, none, 0, lasts, both)


def _moment_s(part: C128, steady: int, weaker: float) -> float:
    """Tell how well a moment is known: by itself, and by the noise on the ramp that shows it."""
    noise = max(float(np.std(part[:steady])), float(np.std(part[-steady:])))
    return math.hypot(_SPREAD_S, noise / weaker * _RAMP_S / math.sqrt(2))


def _walk_back(size: F64, at: int, level: float) -> float:
    """Sample, with its fraction, at which a falling ramp passed a level."""
    while at > 0 and size[at - 1] < level:
        at -= 1
    if at == 0:
        return 0.0
    return at - float((level - size[at]) / (size[at - 1] - size[at]))


def _walk_on(size: F64, at: int, level: float) -> float:
    """Sample, with its fraction, at which a rising ramp passes a level."""
    last = len(size) - 1
    while at < last and size[at + 1] < level:
        at += 1
    if at == last:
        return float(last)
    return at + float((level - size[at]) / (size[at + 1] - size[at]))


def _at(running: C128, where: F64) -> C128:
    """Value of a running sum between samples."""
    low = np.minimum(where.astype(np.int64), len(running) - 2)
    share = where - low
    return np.asarray(running[low] * (1 - share) + running[low + 1] * share)
