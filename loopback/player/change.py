"""What pedals in bypass change for a player: level over frequency, and the pickup's resonance."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.twoport import cascade
from loopback.player.device import GRID, Device
from loopback.player.pickup import Amplifier, Pickup, level_db, source_chain
from loopback.quantity import Estimate

LEAST_PEAK_DB = 0.5
"""Less than this above the bass is no peak to speak of."""
LOW_HZ = 200.0
"""Where what is lost is lost to all notes alike."""
HEARD_HZ = 10_000.0
"""Above this an electric guitar has next to nothing (common practice: speakers end at 5 kHz)."""


@dataclass(frozen=True, slots=True)
class Peak:
    """A pickup's resonance as it arrives at the amplifier.

    Parameters
    ----------
    f_hz : Estimate
        Its frequency.
    height_db : Estimate
        Its level over that of the EMF.
    """

    f_hz: Estimate
    height_db: Estimate


@dataclass(frozen=True, slots=True)
class Change:
    """One pickup with and without the pedals.

    Parameters
    ----------
    pickup : Pickup
        The source.
    before, after : Peak or None
        Resonance without and with them; None where there is no peak of 0.5 dB.
    rise_db : Estimate or None
        Height of the resonance with the pedals over that without; None without either.
    most_db : Estimate
        Largest change of level, with its sign, up to 10 kHz.
    most_hz : Estimate or None
        Where it is; None: at 10 kHz, where the change still grows.
    low_db : Estimate
        Change at 200 Hz.
    f_hz : ndarray of float64, shape (k,)
        `GRID`.
    before_db, after_db : ndarray of float64, shape (k,)
        Levels at the amplifier over the EMF.
    u_db : ndarray of float64, shape (k,)
        Standard uncertainty of their difference.
    """

    pickup: Pickup
    before: Peak | None
    after: Peak | None
    rise_db: Estimate | None
    most_db: Estimate
    most_hz: Estimate | None
    low_db: Estimate
    f_hz: F64
    before_db: F64
    after_db: F64
    u_db: F64


def change_of(pickup: Pickup, amplifier: Amplifier, without: C128, device: Device) -> Change:
    """Compare a line with pedals and the same line without.

    Parameters
    ----------
    pickup : Pickup
        The source.
    amplifier : Amplifier
        The load.
    without : ndarray of complex128, shape (k, 2, 2)
        All leads, joined without pedals, on `GRID`.
    device : Device
        Leads and pedals in their order.

    Returns
    -------
    Change
        Doubts are first-order and combine in squares (JCGM 100:2008, 5.1.2).
    """
    source = source_chain(pickup, GRID)

    def level(m: C128) -> F64:
        return level_db(cascade(source, m), amplifier, GRID)

    before, after = level(without), level(device.m)
    moved = [level(device.m + spread) for spread in device.spreads]
    diff = after - before
    heard = GRID <= HEARD_HZ
    most = int(np.argmax(np.where(heard, np.abs(diff), -1.0)))
    u_db = np.sqrt(sum(((m - after) ** 2 for m in moved), np.zeros(len(GRID))))
    low = int(np.argmin(np.abs(GRID - LOW_HZ)))
    first, second = _peak(before, []), _peak(after, moved)
    return Change(
        pickup=pickup,
        before=first,
        after=second,
        rise_db=None
        if first is None or second is None
        else replace(second.height_db, value=second.height_db.value - first.height_db.value),
        most_db=Estimate(float(diff[most]), float(u_db[most]), "dB"),
        most_hz=_most_hz(diff, [m - before for m in moved], most),
        low_db=Estimate(float(diff[low]), float(u_db[low]), "dB"),
        f_hz=GRID,
        before_db=before,
        after_db=after,
        u_db=u_db,
    )


def peak_of(level: F64) -> tuple[float, float] | None:
    """Frequency and height of the highest point of a level curve.

    Parameters
    ----------
    level : ndarray of float64, shape (k,)
        dB, on `GRID`.

    Returns
    -------
    tuple of float, or None
        Hertz and dB, from the parabola through three points; None where it is at an end of the
        grid or less than 0.5 dB over the level at 200 Hz.
    """
    top = int(np.argmax(level))
    base = float(np.interp(LOW_HZ, GRID, level))
    if not 0 < top < len(level) - 1 or level[top] - base < LEAST_PEAK_DB:
        return None
    left, middle, right = (float(x) for x in level[top - 1 : top + 2])
    shift = _summit(left, middle, right)
    return _between(top, shift), middle - 0.25 * (left - right) * shift


def _most_hz(diff: F64, moved: list[F64], most: int) -> Estimate | None:
    """Place the summit of a change, and how far it goes when one cause moves."""
    heard = int(np.count_nonzero(GRID <= HEARD_HZ))
    if not 0 < most < heard - 1:
        return None
    sign = 1.0 if diff[most] > 0 else -1.0

    def place(change: F64) -> float:
        size = sign * change
        top = min(max(int(np.argmax(size[:heard])), 1), heard - 2)
        return _between(top, _summit(*(float(x) for x in size[top - 1 : top + 2])))

    f_hz = place(diff)
    return Estimate(f_hz, math.sqrt(sum((place(m) - f_hz) ** 2 for m in moved)), "Hz")


def _summit(left: float, middle: float, right: float) -> float:
    """Vertex of the parabola through three points, in steps from the middle one."""
    bend = left - 2 * middle + right
    return min(max(0.5 * (left - right) / bend, -1.0), 1.0) if bend < 0 else 0.0


def _between(at: int, shift: float) -> float:
    return float(GRID[at] * 2.0 ** (shift / 96))


def _peak(level: F64, moved: list[F64]) -> Peak | None:
    found = peak_of(level)
    if found is None:
        return None
    others = [peak_of(m) or found for m in moved]
    u_f = math.sqrt(sum((f - found[0]) ** 2 for f, _ in others))
    u_h = math.sqrt(sum((h - found[1]) ** 2 for _, h in others))
    return Peak(Estimate(found[0], u_f, "Hz"), Estimate(found[1], u_h, "dB"))
