"""Noise, tones, distortion, change with time, latency and bleed in words."""

from __future__ import annotations

import math

from loopback.facts import Analysis, RunFacts
from loopback.noise.compare import NoiseCompared
from loopback.noise.mains_lines import MainsLines
from loopback.noise.survey import ToneCompared, ToneSurvey
from loopback.quality.behaviour import Behaviour
from loopback.quantity import Estimate, round_together, with_prefix
from loopback.report.absolute import dbu_text
from loopback.report.cable_lines import decibels, rounded_up, told_runs
from loopback.report.harmonic_lines import ORDINALS, harmonic_texts, over_signal
from loopback.report.layout import Row
from loopback.response.bleed import Bleed
from loopback.response.latency import Latency
from loopback.response.linearity import Linearity
from loopback.response.movement import Movement

_WEIGHTINGS = {"none": "20 Hz to 20 kHz", "a": "A-weighted", "468": "468-weighted, AES17"}
_MOST_TONES = 3
_LONG_S = 5.0
_ELSEWHERE = "not known: recorded elsewhere without a check cable, so where a take begins is chance"
_BLEEDS = {
    "effect_in_bypass": "effect in bypass, at most",
    "bypass_when_engaged": "bypass path when engaged",
}


def own_rows(analysis: Analysis) -> list[Row]:
    """Write what the runs in bypass add of their own, where they do.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    list of Row
        Tones, silicon, and a supply that charges; nothing for a path that is quiet and straight.
    """
    told = told_runs(analysis)
    with_tones = [facts for facts in told if own_tones(facts)]
    marked = [facts for facts in told if _marked(facts)]
    rows = []
    if with_tones:
        rows.append(Row("Tones", _tones_line(own_tones(with_tones[0]))))
    if marked and marked[0].behaviour is not None and marked[0].behaviour.linearity is not None:
        rows.append(Row("Silicon", silicon_text(marked[0].behaviour.linearity)))
    return rows


def own_tones(facts: RunFacts) -> tuple[ToneCompared, ...]:
    """Choose the tones that are the pedal's own, the loudest first.

    Parameters
    ----------
    facts : RunFacts
        Of a pedal run.

    Returns
    -------
    tuple of ToneCompared
        Those that exceed the reference's.
    """
    tones = () if facts.behaviour is None else facts.behaviour.tones
    mine = [tone for tone in tones if tone.over_reference]
    return tuple(sorted(mine, key=lambda tone: -tone.tone.level_dbfs.value))


def silicon_text(found: Linearity) -> str:
    """Say what marks silicon on the line.

    Parameters
    ----------
    found : Linearity
        Of a run that is marked.

    Returns
    -------
    str
        One sentence, with numbers.
    """
    parts = []
    if found.harmonics_raised == "yes" and found.over_order is not None:
        own = next(h.level_db for h in found.harmonics if h.order == found.over_order)
        over = found.over_reference_db
        if own is not None and over is not None:
            parts.append(
                f"{ORDINALS[found.over_order]} harmonic {over_signal(own)}, "
                f"{_told(over, found)} dB above the setup's own"
            )
    if found.level_dependent == "yes":
        step = found.level_step_db or found.second_level_db
        if step is not None:
            out, doubt = round_together(20 + step.value, step.half_width(), 0.01)
            parts.append(f"20 dB more come out as {out} dB ± {doubt}")
    if found.charging == "yes":
        parts.append("the signal charges a supply that is off")
    return "; ".join(parts)


def _told(over: Estimate, found: Linearity) -> str:
    if found.over_at_least:
        return f"at least {over.interval()[0]:.0f}"
    return " ± ".join(round_together(over.value, over.half_width(), 0.1))


def behaviour_rows(facts: RunFacts, full_scale_dbu: float | None) -> list[Row]:
    """Write every number of the behaviour of a run.

    Parameters
    ----------
    facts : RunFacts
        Of a run.
    full_scale_dbu : float or None
        Level of a full-scale sine at the input; None: not known.

    Returns
    -------
    list of Row
        As many as there is to say.
    """
    behaviour = facts.behaviour
    if behaviour is None:
        return []
    rows = [Row("", _over(n)) for n in behaviour.noise]
    if facts.noise is not None and facts.noise.weighted_468_dbfs is not None:
        rows.insert(0, Row("", f"{_level(facts.noise.weighted_468_dbfs)} 468-weighted, AES17"))
    if behaviour.survey is not None:
        rows += _survey_rows(behaviour.survey, behaviour.tones, full_scale_dbu)
    rows += _distortion_rows(behaviour)
    if behaviour.movement is not None and behaviour.movement.kind != "steady":
        rows.append(Row("moves", _movement(behaviour.movement)))
    if behaviour.latency is not None:
        rows.append(Row("latency", _latency(behaviour.latency)))
    elif behaviour.no_latency == "recorded_elsewhere":
        rows.append(Row("latency", _ELSEWHERE))
    return rows


def bleed_text(bleeds: tuple[Bleed, ...]) -> str:
    """Write what gets across.

    Parameters
    ----------
    bleeds : tuple of Bleed
        Of an examination.

    Returns
    -------
    str
        One line for each; empty where nothing is known.
    """
    lines = []
    for bleed in bleeds:
        levels = ", ".join(
            f"{with_prefix(one.f_hz, 'Hz', 3)} "
            + (
                f"below {one.below_db:.0f} dB"
                if one.level_db is None
                else over_signal(one.level_db)
            )
            for one in bleed.levels
        )
        bound = "" if bleed.unplugged else "; crosstalk of the setup not known"
        lines.append(f"{_BLEEDS[bleed.kind]} (run {' and '.join(bleed.run_ids)}): {levels}{bound}")
    return "\n".join(lines)


def _marked(facts: RunFacts) -> bool:
    found = None if facts.behaviour is None else facts.behaviour.linearity
    return found is not None and found.silicon == "yes"


def _tones_line(tones: tuple[ToneCompared, ...]) -> str:
    shown = ", ".join(
        f"{_frequency(t.tone.f_hz)} at {_level(t.tone.level_dbfs, 0.1)}"
        for t in tones[:_MOST_TONES]
    )
    more = len(tones) - _MOST_TONES
    powered = {tone.only_with_power for tone in tones}
    when = "; only with power" if powered == {True} else ""
    return shown + (f" and {more} more" if more > 0 else "") + when


def _over(found: NoiseCompared) -> str:
    text = f"over the cable {decibels(found.difference_db)} ({_WEIGHTINGS[found.weighting]})"
    if found.added.level_dbfs is not None:
        return f"{text}; adds {_level(found.added.level_dbfs)}"
    if math.isfinite(found.added.below_dbfs):
        return f"{text}; adds less than {found.added.below_dbfs:.1f} dBFS"
    return text


def _survey_rows(
    survey: ToneSurvey, tones: tuple[ToneCompared, ...], full_scale_dbu: float | None
) -> list[Row]:
    rows = []
    if survey.mains is not None:
        rows.append(Row("mains", _mains(survey.mains, full_scale_dbu)))
    written = [_tone(tone, full_scale_dbu) for tone in tones]
    limit = survey.limit_at(1000.0)
    if not written and math.isfinite(limit) and survey.seconds >= _LONG_S:
        written = [f"no others above {limit:.0f} dBFS at 1 kHz"]
    rows.append(Row("tones", "\n".join(written)))
    return rows


def _mains(mains: MainsLines, full_scale_dbu: float | None) -> str:
    told = sorted(
        ((line.level_dbfs, line.order) for line in mains.lines if line.level_dbfs is not None),
        key=lambda pair: -pair[0].value,
    )
    lines = ", ".join(
        f"{order}. " + " ± ".join(round_together(level.value, level.half_width(), 0.1))
        for level, order in told[:5]
    )
    volts = dbu_text(mains.sum_dbfs.value, full_scale_dbu)
    total = f"{_level(mains.sum_dbfs)} in all{f' ({volts})' if volts else ''}"
    return f"{_frequency(mains.f_hz)}, {total}; strongest lines, dBFS: {lines}"


def _tone(compared: ToneCompared, full_scale_dbu: float | None) -> str:
    tone = compared.tone
    volts = dbu_text(tone.level_dbfs.value, full_scale_dbu)
    parts = [f"{_frequency(tone.f_hz)}, {_level(tone.level_dbfs)}{f' ({volts})' if volts else ''}"]
    if compared.over_reference is False:
        parts.append("the setup's own")
    elif compared.over_reference and compared.reference_dbfs is None:
        parts.append("not with the cable")
    elif compared.over_reference:
        parts.append(f"about {compared.reference_dbfs:.0f} dBFS with the cable")
    if compared.only_with_power is not None:
        parts.append("only with power" if compared.only_with_power else "without power as well")
    return "; ".join(parts)


def _distortion_rows(behaviour: Behaviour) -> list[Row]:
    rows = []
    texts = harmonic_texts(behaviour)
    if texts:
        orders = ", ".join(f"{order} {text}" for order, text in texts.items())
        rows.append(Row("harmonics", f"{orders}; 300 Hz to 2 kHz"))
    found = behaviour.linearity
    if found is not None:
        parts = []
        if found.level_step_db is not None:
            parts.append(f"loud over soft tone {decibels(found.level_step_db)}")
        if found.second_level_db is not None:
            parts.append(f"second level {decibels(found.second_level_db)}")
        if found.takes_db is not None:
            parts.append(f"last over first take {decibels(found.takes_db)}")
        if found.sweeps_db is not None:
            parts.append(f"downward over upward sweep {decibels(found.sweeps_db)}")
        rows.append(Row("loud and soft", "; ".join(parts)))
        if found.silicon == "yes":
            rows.append(Row("silicon", silicon_text(found)))
    return rows


def _movement(found: Movement) -> str:
    if found.rate_hz is not None and found.depth_db is not None:
        rate = " Hz ± ".join(round_together(found.rate_hz.value, found.rate_hz.half_width()))
        depth = " dB ± ".join(round_together(found.depth_db.value, found.depth_db.half_width()))
        return f"up and down {rate}, by {depth}"
    words = {
        "gated": "a gate: what is soft is cut off",
        "settling": "only what is loud changes" if found.loud_only else "one way only",
        "unsteady": "in no order",
    }
    return f"{words[found.kind]}; tones by up to {rounded_up(found.tones_db)} dB"


def _latency(found: Latency) -> str:
    ms = Estimate(found.delay_s.value * 1e3, found.delay_s.u * 1e3, "ms", found.delay_s.dof)
    half = ms.half_width()
    if abs(ms.value) <= half < math.inf:
        text = f"none within {rounded_up(abs(ms.value) + half)} ms"
    else:
        text = " ms ± ".join(round_together(ms.value, half))
    if not found.held:
        text += " (no check cable: openings of the stream differ by so much)"
    if found.edge_hz is not None:
        edge = " Hz ± ".join(round_together(found.edge_hz.value, found.edge_hz.half_width()))
        text += f"; converted, its band ends at {edge}"
    return text


def _frequency(estimate: Estimate) -> str:
    return " Hz ± ".join(round_together(estimate.value, estimate.half_width(), 0.001))


def _level(estimate: Estimate, finest: float = 0.01) -> str:
    return " dBFS ± ".join(round_together(estimate.value, estimate.half_width(), finest))
