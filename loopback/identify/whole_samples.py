"""Delay held by the clock: opening a stream moves a recording by whole samples and no fraction.

Where output and input run on one clock, which the reference runs show, the fraction of a sample by
which a pedal run is later than its reference is the pedal's own. The whole number is known from the
excess over minimum phase, which is right to a few microseconds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from loopback.arrays import C128, F64
from loopback.plan.runs import Load, RunLabel
from loopback.response.delay import phase_delay_s
from loopback.response.reading import Ratio, RunResponse

LEAST_U_S = 1.5e-9
"""Drift within a path from run to run (judgement)."""
MOST_OFF_S = 20e-9
"""Further than this from whole samples between references, and the clock holds nothing: ten times
the drift of a path, so that two clocks agree by chance in one of five hundred cases at 48 kHz."""
MOST_STRETCH = 1e-6
"""Two crystals never agree this well (judgement); one clock shows no stretch at all."""
MOST_OWN = 0.35
"""A pedal whose own delay is a larger part of a sample than this cannot be told from the next."""


@dataclass(frozen=True, slots=True)
class Clock:
    """One clock for both ways.

    Parameters
    ----------
    rate_hz : float
        Sample rate.
    u_s : float
        Standard uncertainty of the delay of one run that it holds, seconds.
    """

    rate_hz: float
    u_s: float


def find_clock(references: Sequence[tuple[RunLabel, RunResponse]], rate_hz: float) -> Clock | None:
    """See whether whole samples explain the delays between like reference runs.

    Parameters
    ----------
    references : sequence of (RunLabel, RunResponse)
        Runs through the coupler; of other runs only the stretch counts.
    rate_hz : float
        Sample rate.

    Returns
    -------
    Clock or None
        None when no two references are alike, when they are apart by other than whole samples, and
        when any run is stretched: a recorder that runs free may start at like fractions by chance.
    """
    if any(response.stretch > MOST_STRETCH for _, response in references):
        return None
    groups: dict[tuple[str, str, float], list[RunResponse]] = {}
    for label, response in references:
        if label.path == "coupler":
            groups.setdefault((label.feed, label.load, label.level_db), []).append(response)
    off: list[float] = []
    for first, *others in groups.values():
        for other in others:
            weight = np.abs(first.h) ** 2 / first.var
            start = other.delay_s - first.delay_s
            delay = phase_delay_s(first.f_hz, other.h * first.h.conj(), weight, start) * rate_hz
            off.append(delay - round(delay))
    if not off or max(abs(x) for x in off) > MOST_OFF_S * rate_hz:
        return None
    return Clock(rate_hz, max(LEAST_U_S, math.sqrt(float(np.mean(np.square(off))) / 2) / rate_hz))


def held_by_clock(ratio: Ratio, rate_hz: float) -> C128 | None:
    """Return a ratio with whole samples of delay taken off and the pedal's own left in.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.
    rate_hz : float
        Sample rate.

    Returns
    -------
    ndarray of complex128, shape (k,), or None
        None where the delay is not near a whole number: a pedal that converts.
    """
    if ratio.delay_held:
        return ratio.t
    samples = ratio.delay_s * rate_hz
    own = samples - round(samples)
    if abs(own) > MOST_OWN:
        return None
    return np.asarray(ratio.t * np.exp(-2j * math.pi * ratio.f_hz * own / rate_hz))


def feeds_ratio(
    references: Sequence[tuple[RunLabel, RunResponse]], load: Load, like: C128, clock: Clock
) -> C128 | None:
    """Resistor reference over plain reference of one load, whole samples of delay taken off.

    Parameters
    ----------
    references : sequence of (RunLabel, RunResponse)
        Runs through the coupler.
    load : {"instrument", "line", "plug"}
        Which load.
    like : ndarray of complex128, shape (k,)
        The same ratio with its delay known to a few microseconds only.
    clock : Clock
        Of the interface.

    Returns
    -------
    ndarray of complex128, shape (k,), or None
        None where whole samples do not lead near `like`.
    """
    means = []
    for feed in ("resistor", "plain"):
        runs = [
            r
            for lab, r in references
            if (lab.path, lab.feed, lab.load) == ("coupler", feed, load) and not lab.level_db
        ]
        turned = [_turned(r.h, runs[0].h, np.abs(r.h) ** 2 / r.var, r, clock)[0] for r in runs]
        means.append((np.mean(turned, axis=0), runs[0]))
    (resistor, first), (plain, _) = means
    q, own = _turned(resistor / plain, like, np.abs(like) ** 2, first, clock)
    return q if abs(own) < MOST_OWN else None


def _turned(h: C128, like: C128, weight: F64, run: RunResponse, clock: Clock) -> tuple[C128, float]:
    """Take off the whole samples by which a response is later than another; and what is over."""
    omega = 2 * math.pi * run.f_hz
    coarse = _steps_s(run.f_hz, h * like.conj())
    samples = phase_delay_s(run.f_hz, h * like.conj(), weight, coarse) * clock.rate_hz
    whole = round(samples)
    return np.asarray(h * np.exp(1j * omega * whole / clock.rate_hz)), samples - whole


def _steps_s(f_hz: F64, cross: C128) -> float:
    """Delay from neighbouring bands, unambiguous below a millisecond."""
    use = (f_hz >= 200.0) & (f_hz <= 5000.0)
    steps = cross[use][1:] * cross[use][:-1].conj()
    turned = float(np.sum(np.angle(steps)))
    return -turned / (2 * math.pi * float(f_hz[use][-1] - f_hz[use][0]))
