"""From an analysis to the JSON facts: the same that the screen says, for machines."""

from __future__ import annotations

import msgspec

from loopback import __version__
from loopback.facts import Analysis, RunFacts
from loopback.identify.chain_found import ChainMatrix
from loopback.noise.figures import NoiseFigures
from loopback.player.change import HEARD_HZ, Change
from loopback.quantity import Estimate
from loopback.report.behaviour_document import behaviour_fact, bleed_fact
from loopback.report.fault_document import fault_facts
from loopback.report.plain_numbers import finite, number, number_or_none
from loopback.report.press_document import footswitch_fact, tap_fact
from loopback.report.records import (
    FACTS_VERSION,
    AcrossFact,
    BufferFact,
    ConformityFact,
    ExpectedFact,
    Facts,
    NetworkFact,
    PartInLineFact,
    PlainBoundsFact,
    ReasonFact,
    ResultFact,
)
from loopback.report.run_records import (
    CornerFact,
    FindingFact,
    MatrixFact,
    NoiseFact,
    PlayerFact,
    RecordingFact,
    RunFact,
    TrebleFact,
    WitnessFact,
)
from loopback.verdict.conformance import conformities
from loopback.verdict.result import Reason, Result
from loopback.verdict.sentences import result_sentences


def facts_of(analysis: Analysis) -> Facts:
    """Collect the facts.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Facts
        Plain numbers only; the private note is left out.
    """
    document = analysis.examination
    return Facts(
        version=FACTS_VERSION,
        program=__version__,
        created=document.created,
        pedal=msgspec.structs.replace(document.pedal, private_note=""),
        setup=document.setup,
        signal=document.signal,
        conditions=document.conditions,
        result=_result(analysis),
        references=tuple(_run(facts) for facts in analysis.references),
        pedal_runs=tuple(_run(facts) for facts in analysis.pedal_runs),
        findings=tuple(
            FindingFact(f.code, f.grade, f.number, f.meaning, f.action, f.where)
            for f in analysis.findings
        ),
        matrix=None if analysis.matrix is None else _matrix(analysis.matrix),
        bleed=tuple(bleed_fact(bleed) for bleed in analysis.bleed),
        footswitch=None if analysis.footswitch is None else footswitch_fact(analysis.footswitch),
        taps=None if analysis.taps is None else tap_fact(analysis.taps),
        witnesses=tuple(
            WitnessFact(number(w.value), w.basis, w.run_ids) for w in analysis.witnesses
        ),
        faults=fault_facts(analysis.faults),
        player=tuple(_player(c) for c in (analysis.player.changes if analysis.player else ())),
    )


def facts_json(analysis: Analysis) -> str:
    """Write the facts as indented JSON.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    str
        One object, signs as they are.
    """
    return msgspec.json.format(msgspec.json.encode(facts_of(analysis)), indent=2).decode()


def _run(facts: RunFacts) -> RunFact:
    run, response, ratio = facts.run, facts.response, facts.ratio
    return RunFact(
        id=run.id,
        label=run.label,
        recordings=tuple(RecordingFact(r.file, r.sha256, r.origin) for r in run.recordings),
        takes=0 if response is None else response.takes,
        reference_ids=() if ratio is None else ratio.reference_ids,
        repeat_db=None if response is None else finite(response.repeat_db),
        level_db=number_or_none(facts.level),
        treble=tuple(TrebleFact(float(f_hz), number(level)) for f_hz, level in facts.treble),
        corners=tuple(
            CornerFact(
                c.side,
                float(c.drop_db),
                finite(c.f_hz.value if c.f_hz else None),
                float(c.limit_hz),
                number_or_none(c.f_hz),
            )
            for c in facts.corners
        ),
        polarity=facts.polarity,
        delay_s=number_or_none(facts.delay),
        noise=None if facts.noise is None else _noise(facts.noise),
        noise_over_reference_db=number_or_none(facts.noise_over_reference),
        behaviour=None if facts.behaviour is None else behaviour_fact(facts.behaviour),
        state=facts.state,
    )


def _noise(noise: NoiseFigures) -> NoiseFact:
    return NoiseFact(
        number(noise.unweighted_dbfs),
        number(noise.a_weighted_dbfs),
        finite(noise.mains_hz),
        finite(noise.mains_over_noise_db),
        number_or_none(noise.weighted_468_dbfs),
        None
        if noise.mains_hz is None
        else number(Estimate(noise.mains_over_noise_db, noise.mains_u_db, "dB")),
    )


def _result(analysis: Analysis) -> ResultFact:
    result = analysis.result
    return ResultFact(
        path=result.path,
        alternatives=result.alternatives,
        excluded=result.excluded,
        power=result.power,
        power_alternatives=result.power_alternatives,
        families=result.families,
        grades=result.grades,
        bypass_position=result.bypass_position,
        certainty=finite(result.certainty),
        consistent=result.consistent,
        across=_across(result),
        network=_network(result),
        buffer=_buffer(result),
        series_ohm=number_or_none(result.series_ohm),
        plain=_plain(result),
        conformity=tuple(
            ConformityFact(
                c.name, float(c.limit.value), c.limit.source, finite(c.probability), c.outcome
            )
            for c in conformities(result)
        ),
        expected=tuple(
            ExpectedFact(e.key, e.wanted, finite(e.probability), e.outcome)
            for e in analysis.expected
        ),
        reasons=tuple(_reason(reason) for reason in result.reasons),
        would_tell=result.would_tell,
        not_tested=result.not_tested,
        sentences=result_sentences(result),
        in_line=_in_line(result),
        resistor_ohm=number_or_none(result.resistor),
        setup_farad=number_or_none(result.setup_c),
    )


def _across(result: Result) -> AcrossFact | None:
    shunt = result.shunt
    if shunt is None:
        return None
    return AcrossFact(
        number(shunt.c_farad),
        number(shunt.g_siemens),
        finite(shunt.residual_db),
        float(shunt.resistor_ohm),
        float(shunt.node_c_farad),
    )


def _network(result: Result) -> NetworkFact | None:
    network = result.network
    if network is None:
        return None
    return NetworkFact(
        number(network.r_ohm),
        number(network.coupling_farad),
        number(network.c_farad),
        finite(network.residual_db),
    )


def _in_line(result: Result) -> PartInLineFact | None:
    part = result.in_line
    if part is None:
        return None
    return PartInLineFact(
        *map(number_or_none, (part.c_farad, part.main_henry, part.leak_henry, part.ratio))
    )


def _buffer(result: Result) -> BufferFact | None:
    stage = result.buffer
    if stage is None:
        return None
    return BufferFact(
        number(stage.g_siemens),
        number(stage.c_farad),
        number_or_none(stage.gain_db),
        stage.with_lead,
        number_or_none(stage.output_ohm),
    )


def _plain(result: Result) -> PlainBoundsFact | None:
    bounds = result.plain
    if bounds is None:
        return None
    return PlainBoundsFact(
        finite(bounds.series_over_ohm),
        finite(bounds.shunt_under_ohm),
        finite(bounds.c_over_farad),
        finite(bounds.flat_to_hz),
    )


def _player(change: Change) -> PlayerFact:
    before, after = change.before, change.after
    return PlayerFact(
        change.pickup.name,
        number(change.most_db),
        HEARD_HZ if change.most_hz is None else float(change.most_hz.value),
        number(change.low_db),
        number_or_none(before.f_hz if before else None),
        number_or_none(before.height_db if before else None),
        number_or_none(after.f_hz if after else None),
        number_or_none(after.height_db if after else None),
        number_or_none(change.most_hz),
        number_or_none(change.rise_db),
    )


def _matrix(matrix: ChainMatrix) -> MatrixFact:
    return MatrixFact(
        number(matrix.gain_db),
        number(matrix.input_siemens),
        number(matrix.input_farad),
        number(matrix.output_ohm),
        number(matrix.second_load_ohm),
        matrix.run_ids,
    )


def _reason(reason: Reason) -> ReasonFact:
    return ReasonFact(
        reason.code,
        {
            name: value if isinstance(value, str) else finite(value)
            for name, value in reason.numbers.items()
        },
    )
