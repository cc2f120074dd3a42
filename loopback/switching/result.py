"""What presses and taps come to: records without samples."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from loopback.arrays import F64
from loopback.quantity import Estimate
from loopback.switching.contacts import Contacts
from loopback.switching.dc_step import TAIL_U, DcStep
from loopback.switching.pop import Pop

Direction = Literal["lit", "dark"]
"""Towards the effect, or towards bypass."""
KnownBy = Literal["level", "lamp", "distortion", "order"]
"""What tells which direction is which: level of the tone in bypass, lamp, harmonics; order: nothing
does, and the first direction is called lit."""
CauseCode = Literal["leakage", "lamp", "electrolytic", "relay_mute", "effect_gain"]


@dataclass(frozen=True, slots=True)
class Press:
    """One press in silence.

    Parameters
    ----------
    at_s : float
        Moment of the event.
    direction : {"lit", "dark"}
        Which way.
    rest_s : float
        Since the press before, or since the recording began.
    rested : bool
        Whether that was one of the long rests.
    pop : Pop
        Its figures.
    step : DcStep or None
        None where the interface's high-pass is not known.
    is_pop : bool
        Whether its peak exceeds the 99th percentile of silence.
    """

    at_s: float
    direction: Direction
    rest_s: float
    rested: bool
    pop: Pop
    step: DcStep | None
    is_pop: bool


@dataclass(frozen=True, slots=True)
class Figure:
    """One measure over all presses of a direction, those after a long rest left out.

    Parameters
    ----------
    median, worst : Estimate
        The median press and the one furthest from zero.
    silence_99 : float or None
        99th percentile of the same measure in silence; None: a duration has none.
    """

    median: Estimate
    worst: Estimate
    silence_99: float | None = None


@dataclass(frozen=True, slots=True)
class Wave:
    """Course of one press, as fine as a picture shows it.

    Parameters
    ----------
    t_s : ndarray of float64, shape (n,)
        Middle of each column, seconds from the event.
    low, high : ndarray of float64, shape (n,)
        Least and largest value within it, in the unit of the result and in its band.
    """

    t_s: F64
    low: F64
    high: F64


@dataclass(frozen=True, slots=True)
class DirectionFigures:
    """All that is known of one direction.

    Parameters
    ----------
    presses, pops : int
        Presses that were heard in silence, rests included; those of them that are pops.
    silence_peak_99 : float
        Peak that silence exceeds in one window of a hundred: no pop is above it where `pops` is 0.
    peak, a_weighted_peak, burst_level, energy_s, decay_s, dc_step : Figure or None
        None without a pop; `dc_step` also where the interface's high-pass is not known.
    tail_s : float or None
        Median time constant of the DC step itself; None: it stays.
    rested : Press or None
        The press after a long rest.
    gap_s, overlap_s : Figure or None
        From the tone; None: no press with a tone, or no overlap.
    bounces : int or None
        Most in one press; None without a tone.
    wave : Wave or None
        Of the press with the largest peak; None without a press.
    """

    presses: int
    pops: int
    silence_peak_99: float
    peak: Figure | None = None
    a_weighted_peak: Figure | None = None
    burst_level: Figure | None = None
    energy_s: Figure | None = None
    decay_s: Figure | None = None
    dc_step: Figure | None = None
    tail_s: float | None = None
    rested: Press | None = None
    gap_s: Figure | None = None
    overlap_s: Figure | None = None
    bounces: int | None = None
    wave: Wave | None = None

    @property
    def tail(self) -> Estimate | None:
        """Time constant of the DC step with its doubt; None: it stays."""
        return None if self.tail_s is None else Estimate(self.tail_s, TAIL_U * self.tail_s, "s")


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that the figures are consistent with.

    Parameters
    ----------
    code : str
        Which.
    numbers : dict of str to float
        Its evidence.
    """

    code: CauseCode
    numbers: dict[str, float]


@dataclass(frozen=True, slots=True)
class PressFigures:
    """What the footswitch does.

    Parameters
    ----------
    unit : {"V", "FS"}
        Of amplitudes.
    known_by : str
        See `KnownBy`.
    lit, dark : DirectionFigures
        Either direction.
    presses : tuple of Press
        All presses in silence, in order.
    contacts : tuple of Contacts
        All presses with a tone, in order.
    asked : int
        Presses in silence that were asked for.
    windows : int
        Windows of silence behind the percentiles.
    causes : tuple of Cause
        Likeliest first.
    corner_hz : float or None
        High-pass corner of the interface that the DC step rests on.
    """

    unit: Literal["V", "FS"]
    known_by: KnownBy
    lit: DirectionFigures
    dark: DirectionFigures
    presses: tuple[Press, ...]
    contacts: tuple[Contacts, ...]
    asked: int
    windows: int
    causes: tuple[Cause, ...]
    corner_hz: float | None

    def direction(self, which: Direction) -> DirectionFigures:
        """Return the figures of one direction."""
        return self.lit if which == "lit" else self.dark


@dataclass(frozen=True, slots=True)
class TapEvent:
    """One excursion of the line while it is tapped.

    Parameters
    ----------
    at_s : float
        Moment, from the end of the first mark.
    lasts_s : float
        How long level or phase are off.
    level_db : Estimate
        Change of the level: the median of the moments within 30 % of the largest.
    phase_deg : Estimate
        The same of the phase, while the level can still be read.
    drops_out : bool
        Whether the line is broken meanwhile: more than 20 dB down.
    f_hz : float or None
        What sounded of a short sweep when the change was largest; None: a steady tone.
    step_s : float
        Length of one moment read: what the time is resolved to.
    """

    at_s: float
    lasts_s: float
    level_db: Estimate
    phase_deg: Estimate
    drops_out: bool
    f_hz: float | None = None
    step_s: float = 0.0

    @property
    def at(self) -> Estimate:
        """Moment with its doubt: anywhere within the moment read (JCGM 100:2008, 4.3.7)."""
        return Estimate(self.at_s, self.step_s / math.sqrt(12), "s")

    @property
    def lasts(self) -> Estimate:
        """Length with its doubt: either end lies anywhere within its moment."""
        return Estimate(self.lasts_s, self.step_s / math.sqrt(6), "s")


@dataclass(frozen=True, slots=True)
class TapFigures:
    """What tapping shows.

    Parameters
    ----------
    events : tuple of TapEvent
        In order.
    watched_s : float
        How long the line was watched.
    level_99_db, phase_99_deg : float
        Change between neighbouring moments that is exceeded once in a hundred without any event:
        what the setup resolves.
    crackles : int
        Clicks above the noise without a change of the tone.
    """

    events: tuple[TapEvent, ...]
    watched_s: float
    level_99_db: float
    phase_99_deg: float
    crackles: int
