"""From the behaviour of a run, and bleed, to their JSON facts."""

from __future__ import annotations

from loopback.arrays import F64
from loopback.noise.mains_lines import MainsLines
from loopback.quality.behaviour import Behaviour
from loopback.report.behaviour_records import (
    BehaviourFact,
    BleedFact,
    BleedLevelFact,
    FloorFact,
    HarmonicFact,
    LatencyFact,
    LinearityFact,
    MainsFact,
    MainsLineFact,
    MovementFact,
    NoiseOverFact,
    ToneFact,
)
from loopback.report.plain_numbers import finite, number, number_or_none
from loopback.response.bleed import Bleed
from loopback.response.distortion import Distortion, middle_harmonics
from loopback.response.linearity import Linearity
from loopback.response.movement import Movement


def behaviour_fact(behaviour: Behaviour) -> BehaviourFact:
    """Turn the behaviour of a run into facts.

    Parameters
    ----------
    behaviour : Behaviour
        Of one run.

    Returns
    -------
    BehaviourFact
        Plain numbers only.
    """
    survey, latency = behaviour.survey, behaviour.latency
    return BehaviourFact(
        noise=tuple(
            NoiseOverFact(
                n.weighting,
                number(n.difference_db),
                float(n.significance),
                number_or_none(n.added.level_dbfs),
                finite(n.added.below_dbfs),
            )
            for n in behaviour.noise
        ),
        mains=None if survey is None or survey.mains is None else _mains(survey.mains),
        tones=tuple(
            ToneFact(
                number(t.tone.f_hz),
                number(t.tone.level_dbfs),
                finite(t.reference_dbfs),
                t.over_reference,
                t.only_with_power,
            )
            for t in behaviour.tones
        ),
        floor=None
        if survey is None
        else FloorFact(_frequencies(survey.limit_f_hz), _row(survey.limit_dbfs)),
        silence_s=None if survey is None else float(survey.seconds),
        harmonics=() if behaviour.distortion is None else _harmonics(behaviour.distortion),
        linearity=None if behaviour.linearity is None else _linearity(behaviour.linearity),
        movement=None if behaviour.movement is None else _movement(behaviour.movement),
        latency=None
        if latency is None
        else LatencyFact(
            number(latency.delay_s), latency.held, number_or_none(latency.edge_hz), latency.converts
        ),
        no_latency=behaviour.no_latency,
    )


def bleed_fact(bleed: Bleed) -> BleedFact:
    """Turn one way across into facts.

    Parameters
    ----------
    bleed : Bleed
        From `loopback.response.bleed`.

    Returns
    -------
    BleedFact
        Plain numbers only.
    """
    levels = tuple(
        BleedLevelFact(float(one.f_hz), number_or_none(one.level_db), finite(one.below_db))
        for one in bleed.levels
    )
    return BleedFact(bleed.kind, bleed.run_ids, levels, bleed.unplugged)


def _mains(mains: MainsLines) -> MainsFact:
    lines = tuple(
        MainsLineFact(line.order, number_or_none(line.level_dbfs), finite(line.below_dbfs))
        for line in mains.lines
    )
    return MainsFact(number(mains.f_hz), number(mains.sum_dbfs), lines)


def _harmonics(distortion: Distortion) -> tuple[HarmonicFact, ...]:
    f_hz = _frequencies(distortion.f_hz)
    return tuple(
        HarmonicFact(
            middle.order,
            number_or_none(middle.level_db),
            finite(middle.limit_db),
            f_hz,
            *(
                _row(table[middle.order - 2])
                for table in (distortion.level_db, distortion.u_db, distortion.limit_db)
            ),
        )
        for middle in middle_harmonics(distortion)
    )


def _linearity(found: Linearity) -> LinearityFact:
    return LinearityFact(
        level_step_db=number_or_none(found.level_step_db),
        second_level_db=number_or_none(found.second_level_db),
        over_reference_db=number_or_none(found.over_reference_db),
        over_order=found.over_order,
        over_at_least=found.over_at_least,
        takes_db=number_or_none(found.takes_db),
        sweeps_db=number_or_none(found.sweeps_db),
        level_dependent=found.level_dependent,
        harmonics_raised=found.harmonics_raised,
        charging=found.charging,
        silicon=found.silicon,
    )


def _movement(found: Movement) -> MovementFact:
    return MovementFact(
        found.kind,
        number_or_none(found.rate_hz),
        number_or_none(found.depth_db),
        finite(found.sweeps_db),
        finite(found.tones_db),
        finite(found.gate_db),
        bool(found.loud_only),
    )


def _row(values: F64) -> tuple[float | None, ...]:
    """Write a curve to a hundredth of a decibel: nothing in it is known better."""
    return tuple(finite(round(float(value), 2)) for value in values)


def _frequencies(f_hz: F64) -> tuple[float, ...]:
    return tuple(round(float(value), 2) for value in f_hz)
