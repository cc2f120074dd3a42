"""How late a path is, and whether it converts: delay with its doubt, and the edge of its band."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.quantity import Estimate
from loopback.response.delay import FIT_HIGH_HZ, FIT_LOW_HZ, phase_delay_s
from loopback.response.reading import Ratio

CONVERTS_S = 50e-6
"""Later than this only a converter is: 0.5 to 3 ms; analogue stages take under 1 µs (common
practice)."""
U_HELD_S = 2e-9
"""Of a delay held by a check cable: about 1 ns for each of the two runs (judgement)."""
EDGE_DB, _CLIFF_DB, _CLIFF_OCTAVES = 3.0, 20.0, 0.25
"""An edge: 3 dB down, and 20 dB a quarter of an octave on, as no passive part falls."""
_SHARE = 0.2
_DB = 20 / math.log(10)


NoLatency = Literal["no_reference", "does_not_pass", "moves", "recorded_elsewhere"]
"""Why a delay is not known; recorded_elsewhere: without a check cable, and whoever started playing
and recording by hand decided where the take begins."""


@dataclass(frozen=True, slots=True)
class Latency:
    """Delay of one run against its reference.

    Parameters
    ----------
    delay_s : Estimate
        Seconds; where no check cable holds it, with the doubt of what openings of the stream
        differ by.
    held : bool
        True when a check cable holds it.
    edge_hz : Estimate or None
        3 dB edge of the band of a converting path; None: no such cliff below the sweep's end.
    converts : {"yes", "no", "open"}
        Whether the whole 95 % interval lies beyond `CONVERTS_S`, or below, or there is a cliff.
    """

    delay_s: Estimate
    held: bool
    edge_hz: Estimate | None
    converts: Literal["yes", "no", "open"]


@dataclass(frozen=True, slots=True)
class Openings:
    """Where takes begin in the recordings of reference runs.

    Parameters
    ----------
    start_s : float
        Mean over the references of the run in question, seconds.
    apart_s : tuple of float
        Deviations from the mean of their kind, over all references there are.
    groups : int
        How many kinds of reference there are.
    count : int
        References of the run in question.
    """

    start_s: float
    apart_s: tuple[float, ...]
    groups: int
    count: int

    def doubt(self, rate_hz: float) -> tuple[float, float]:
        """Return the standard uncertainty of the difference of two openings, and its freedom.

        Parameters
        ----------
        rate_hz : float
            Sample rate.

        Returns
        -------
        tuple of float
            Seconds, and degrees of freedom; infinity and 1 where no two references are alike.
        """
        dof = len(self.apart_s) - self.groups
        if dof < 1:
            return math.inf, 1.0
        squares = float(np.sum(np.square(self.apart_s)))
        # An opening on whole samples is known to a sample at best.
        variance = squares / dof + rate_hz**-2 / 12
        return math.sqrt(variance * (1 + 1 / max(1, self.count))), float(dof)


def find_latency(ratio: Ratio, start_s: float, openings: Openings, rate_hz: float) -> Latency:
    """Tell how late a run is.

    Parameters
    ----------
    ratio : Ratio
        Pedal over reference, of a run that passes.
    start_s : float
        Where the first take of the run begins in its recording, seconds.
    openings : Openings
        The same of the references.
    rate_hz : float
        Sample rate.

    Returns
    -------
    Latency
        The delay of a path with a cliff is that of its phase from 200 Hz to 10 kHz, as converters
        filter without bending it; of any other the excess over minimum phase.
    """
    edge = upper_edge_hz(ratio)
    delay = ratio.delay_s
    noise = _u_delay_s(ratio)
    if edge is not None:
        weight = np.abs(ratio.t) ** 2 / ratio.var
        weight = np.where(ratio.f_hz < 0.7 * edge.value, weight, 0.0)
        start = delay if ratio.delay_held else 0.0
        found = phase_delay_s(ratio.f_hz, ratio.t, weight, start)
        delay = found if ratio.delay_held else delay + found
    if ratio.delay_held:
        estimate = Estimate(delay, math.hypot(U_HELD_S, noise), "s")
    else:
        # A take is found wherever it is: what is late shows in its start.
        delay += start_s - openings.start_s
        u, dof = openings.doubt(rate_hz)
        estimate = Estimate(delay, math.hypot(u, noise), "s", dof)
    low, high = estimate.interval()
    converts: Literal["yes", "no", "open"] = "open"
    if low > CONVERTS_S or edge is not None:
        converts = "yes"
    elif high < CONVERTS_S:
        converts = "no"
    return Latency(estimate, ratio.delay_held, edge, converts)


def upper_edge_hz(ratio: Ratio) -> Estimate | None:
    """Find the frequency at which a converting path ends.

    Parameters
    ----------
    ratio : Ratio
        Pedal over reference.

    Returns
    -------
    Estimate or None
        Where the level is 3 dB below that of 1 to 5 kHz; None without a cliff. Its uncertainty is
        that of the level, and a fifth of the distance of two points of the grid.
    """
    level = _DB * np.log(np.maximum(np.abs(ratio.t), 1e-12))
    middle = float(np.mean(level[(ratio.f_hz >= 1000) & (ratio.f_hz <= 5000)]))
    octaves = np.log2(ratio.f_hz)
    below = level - middle
    inside = np.flatnonzero((below[:-1] >= -EDGE_DB) & (below[1:] < -EDGE_DB))
    inside = inside[ratio.f_hz[inside] > 2000.0]
    if not len(inside):
        return None
    at = int(inside[-1])
    beyond = octaves > octaves[at] + _CLIFF_OCTAVES
    if not beyond.any() or float(np.max(below[beyond])) > -_CLIFF_DB:
        return None
    step = octaves[at + 1] - octaves[at]
    slope = float(below[at + 1] - below[at]) / step
    place = octaves[at] + (-EDGE_DB - below[at]) / slope
    u_db = _DB * math.sqrt(float(ratio.var[at]) / 2) / max(abs(complex(ratio.t[at])), 1e-12)
    u_octaves = math.hypot(u_db, ratio.u_gain_db) / abs(slope) + _SHARE * float(step)
    f_hz = float(2.0**place)
    return Estimate(f_hz, f_hz * math.log(2) * u_octaves, "Hz")


def _u_delay_s(ratio: Ratio) -> float:
    """Return what the noise makes of a delay fitted to the phase."""
    band = (ratio.f_hz >= FIT_LOW_HZ) & (ratio.f_hz <= FIT_HIGH_HZ)
    omega = 2 * np.pi * ratio.f_hz[band]
    weight = 2 * np.abs(ratio.t[band]) ** 2 / ratio.var[band]
    total = float(np.sum(weight * omega**2))
    return 1 / math.sqrt(total) if total > 0 else math.inf
