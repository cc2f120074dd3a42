"""The JSON facts about footswitch and taps; what each figure means stands in `definitions`."""

from __future__ import annotations

from typing import Literal

from loopback.report.fact_base import FactRecord, Number


class FigureFact(FactRecord, frozen=True):
    """One measure over the presses of one direction.

    Attributes
    ----------
    median, worst : Number
        In the unit of the name, or in that of the record.
    silence_99 : float or None
        99th percentile of the same in silence.
    """

    median: Number
    worst: Number
    silence_99: float | None


class DirectionFact(FactRecord, frozen=True):
    """One direction.

    Attributes
    ----------
    presses, pops : int
        Presses heard in silence, and those that are pops.
    silence_peak_99 : float or None
        No pop is above it where `pops` is 0.
    peak, a_weighted_peak, dc_step : FigureFact or None
        In the record's `unit`.
    burst_level : FigureFact or None
        In its `level_unit`.
    energy_s, decay_s, gap_s, overlap_s : FigureFact or None
        Seconds.
    tail_s : float or None
        Time constant of the DC step itself.
    tail_u_s : float or None
        Its standard uncertainty: the steps in which it was looked for, as rectangular limits.
    bounces : int or None
        Most in one press.
    rest_s : float or None
        Rest before the press after a long one.
    rested_peak, rested_dc_step : Number or None
        Of that press.
    """

    presses: int
    pops: int
    silence_peak_99: float | None
    peak: FigureFact | None
    a_weighted_peak: FigureFact | None
    burst_level: FigureFact | None
    energy_s: FigureFact | None
    decay_s: FigureFact | None
    dc_step: FigureFact | None
    gap_s: FigureFact | None
    overlap_s: FigureFact | None
    tail_s: float | None
    bounces: int | None
    rest_s: float | None
    rested_peak: Number | None
    rested_dc_step: Number | None
    tail_u_s: float | None = None


class CauseFact(FactRecord, frozen=True):
    """One thing that the figures are consistent with.

    Attributes
    ----------
    code : str
        Which.
    numbers : dict
        Its evidence.
    """

    code: str
    numbers: dict[str, float | None]


class FootswitchFact(FactRecord, frozen=True):
    """What the footswitch puts on the line.

    Attributes
    ----------
    unit : {"V", "FS"}
        Of amplitudes.
    level_unit : {"dBV", "dBFS"}
        Of levels.
    known_by : str
        What told the directions apart.
    lit, dark : DirectionFact
        Towards the effect, towards bypass.
    asked : int
        Presses in silence that were asked for.
    windows : int
        Windows of silence behind the percentiles.
    corner_hz : float or None
        High-pass of the input that the DC step rests on.
    consistent_with : tuple of CauseFact
        Likeliest first.
    definitions : dict
        One line for each figure.
    """

    unit: Literal["V", "FS"]
    level_unit: Literal["dBV", "dBFS"]
    known_by: str
    lit: DirectionFact
    dark: DirectionFact
    asked: int
    windows: int
    corner_hz: float | None
    consistent_with: tuple[CauseFact, ...]
    definitions: dict[str, str]


class TapEventFact(FactRecord, frozen=True):
    """One excursion of the line.

    Attributes
    ----------
    at_s, lasts_s : float
        Moment and length.
    level_db, phase_deg : Number
        Change: the median of the moments within 30 % of the largest.
    drops_out : bool
        More than 20 dB down.
    f_hz : float or None
        What sounded of a short sweep when the change was largest; None: a steady tone.
    at_u_s, lasts_u_s : float
        Standard uncertainty of either: the moments that were read, as rectangular limits.
    """

    at_s: float
    lasts_s: float
    level_db: Number
    phase_deg: Number
    drops_out: bool
    f_hz: float | None = None
    at_u_s: float = 0.0
    lasts_u_s: float = 0.0


class TapFact(FactRecord, frozen=True):
    """What tapping shows.

    Attributes
    ----------
    events : tuple of TapEventFact
        In order.
    watched_s : float
        How long.
    level_99_db, phase_99_deg : float
        What the tone does at rest in 99 moments of 100.
    crackles : int
        Clicks beside the tone.
    """

    events: tuple[TapEventFact, ...]
    watched_s: float
    level_99_db: float
    phase_99_deg: float
    crackles: int
