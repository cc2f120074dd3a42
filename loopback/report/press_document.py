"""From what footswitch and taps show to their JSON facts."""

from __future__ import annotations

from loopback.report.plain_numbers import finite, number
from loopback.report.press_records import (
    CauseFact,
    DirectionFact,
    FigureFact,
    FootswitchFact,
    TapEventFact,
    TapFact,
)
from loopback.switching.definitions import DEFINITIONS
from loopback.switching.result import DirectionFigures, Figure, PressFigures, TapFigures


def footswitch_fact(figures: PressFigures) -> FootswitchFact:
    """Turn the figures of presses into facts.

    Parameters
    ----------
    figures : PressFigures
        Of one run.

    Returns
    -------
    FootswitchFact
        Plain numbers only.
    """
    return FootswitchFact(
        unit=figures.unit,
        level_unit="dBV" if figures.unit == "V" else "dBFS",
        known_by=figures.known_by,
        lit=_direction(figures.lit),
        dark=_direction(figures.dark),
        asked=figures.asked,
        windows=figures.windows,
        corner_hz=figures.corner_hz,
        consistent_with=tuple(
            CauseFact(c.code, {name: finite(v) for name, v in c.numbers.items()})
            for c in figures.causes
        ),
        definitions=dict(DEFINITIONS),
    )


def tap_fact(figures: TapFigures) -> TapFact:
    """Turn the figures of taps into facts.

    Parameters
    ----------
    figures : TapFigures
        Of one run.

    Returns
    -------
    TapFact
        Plain numbers only.
    """
    return TapFact(
        tuple(
            TapEventFact(
                e.at_s,
                e.lasts_s,
                number(e.level_db),
                number(e.phase_deg),
                e.drops_out,
                e.f_hz,
                at_u_s=e.at.u,
                lasts_u_s=e.lasts.u,
            )
            for e in figures.events
        ),
        figures.watched_s,
        figures.level_99_db,
        figures.phase_99_deg,
        figures.crackles,
    )


def _direction(one: DirectionFigures) -> DirectionFact:
    rested = one.rested
    step = None if rested is None or rested.step is None else rested.step.jump
    return DirectionFact(
        presses=one.presses,
        pops=one.pops,
        silence_peak_99=finite(one.silence_peak_99),
        peak=_figure(one.peak),
        a_weighted_peak=_figure(one.a_weighted_peak),
        burst_level=_figure(one.burst_level),
        energy_s=_figure(one.energy_s),
        decay_s=_figure(one.decay_s),
        dc_step=_figure(one.dc_step),
        gap_s=_figure(one.gap_s),
        overlap_s=_figure(one.overlap_s),
        tail_s=finite(one.tail_s),
        bounces=one.bounces,
        rest_s=None if rested is None else finite(rested.rest_s),
        rested_peak=None if rested is None else number(rested.pop.peak),
        rested_dc_step=None if step is None else number(step),
        tail_u_s=None if one.tail is None else finite(one.tail.u),
    )


def _figure(figure: Figure | None) -> FigureFact | None:
    if figure is None:
        return None
    return FigureFact(number(figure.median), number(figure.worst), finite(figure.silence_99))
