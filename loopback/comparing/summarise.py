"""From an analysis to what a comparison needs of it."""

from __future__ import annotations

import hashlib
import math

from loopback.comparing.summary import Figure, Identity, Leads, MeterText, Quantity, Summary
from loopback.facts import Analysis, RunFacts
from loopback.quantity import Estimate
from loopback.verdict.result import Result
from loopback.verdict.sentences import result_sentences
from loopback.verdict.sentences_faults import fault_words
from loopback.verdict.sentences_meter import meter_lines

TOP_HZ = 20_000.0


def summary_of(analysis: Analysis) -> Summary:
    """Collect what a comparison needs.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Summary
        Private notes and free text are not in it.
    """
    document, result = analysis.examination, analysis.result
    pedal, signal = document.pedal, document.signal
    every = (*analysis.references, *analysis.pedal_runs)
    figures = _of_result(result)
    within: dict[str, list[float]] = {}
    for feed in ("plain", "resistor"):
        every_power = _in_bypass(analysis, feed)
        if not every_power:
            continue
        mine = [f for f in every_power if f.run.label.power != "off"] or every_power
        told = mine[-1]
        # What is passive does the same without power: one more run of the same hook-up.
        alike = every_power if result.path in ("wired", "loaded") else mine
        for kind in ("level", "treble"):
            name = f"{kind}_{feed}"
            figures[name] = _decibels(told, kind)
            values = [e.value for facts in alike if (e := _decibels(facts, kind)) is not None]
            finite = [float(v) for v in values if math.isfinite(v)]
            if len(finite) > 1:
                within[name] = finite
        figures["noise"] = told.noise_over_reference or figures.get("noise")
    return Summary(
        pedal=Identity(
            pedal.name, pedal.maker, pedal.model, pedal.serial, pedal.revision, pedal.mode,
            pedal.jacks,
        ),
        created=document.created,
        leads=_leads(analysis),
        rate_hz=signal.rate_hz,
        signal=f"{signal.f1_hz:g} to {signal.f2_hz:g} Hz, {signal.cycles} cycles, "
        f"{signal.level_dbfs:g} dBFS",
        hook_ups=tuple(sorted({_hook_up(facts) for facts in analysis.pedal_runs})),
        usable=sum(facts.response is not None for facts in every),
        runs=len(every),
        recordings=_hash_of(analysis.pedal_runs),
        path=result.path,
        power=result.power,
        grades=result.grades,
        certainty=None if result.certainty is None else float(result.certainty),
        sentences=result_sentences(result),
        meter=tuple(
            MeterText(line.what, line.value, line.limit, line.outcome, line.note)
            for line in meter_lines(result)
        ),
        figures={n: figure for n, e in figures.items() if (figure := _figure(e)) is not None},
        within=within,
        refused=sum(finding.grade == "refuse" for finding in analysis.findings),
        faults=tuple(words.name for words in fault_words(analysis.faults)),
    )  # fmt: skip


def _of_result(result: Result) -> dict[str, Estimate | None]:
    """Collect what a meter would read; of a path that was not told, nothing."""
    found: dict[Quantity, Estimate | None] = {}
    if result.buffer is not None:
        stage = result.buffer
        found = {
            "c_input": stage.c_farad,
            "g_input": stage.g_siemens,
            "gain": stage.gain_db,
            "output": stage.output_ohm,
        }
    elif result.shunt is not None:
        network = result.network
        found = {
            "c": result.shunt.c_farad if network is None else network.c_farad,
            "g": result.shunt.g_siemens,
            "series": result.series_ohm,
            "coupling": None if network is None else network.coupling_farad,
        }
        if set(result.consistent) and set(result.consistent) <= {"transformer"}:
            found["c"] = found["g"] = None  # not resolved beside a winding
    return {str(name): estimate for name, estimate in found.items()}


def _in_bypass(analysis: Analysis, feed: str) -> list[RunFacts]:
    """Choose the runs in bypass at the examination's own level, with power and without."""
    position = analysis.result.bypass_position
    return [
        facts
        for facts in analysis.pedal_runs
        if position is not None
        and facts.ratio is not None
        and (facts.run.label.position or "none") == position
        and facts.run.label.feed == feed
        and facts.run.label.load == "instrument"
        and facts.run.label.direction == "forward"
        and not facts.run.label.level_db
    ]


def _decibels(facts: RunFacts, kind: str) -> Estimate | None:
    if kind == "level":
        return facts.level
    return next((level for f_hz, level in facts.treble if f_hz == TOP_HZ), None)


def _figure(estimate: Estimate | None) -> Figure | None:
    """Store an estimate; one that is not finite says nothing."""
    if estimate is None or not (math.isfinite(estimate.value) and math.isfinite(estimate.u)):
        return None
    dof = None if math.isinf(estimate.dof) else float(estimate.dof)
    return Figure(float(estimate.value), float(estimate.u), dof, estimate.common)


def _leads(analysis: Analysis) -> Leads:
    document = analysis.examination
    setup = document.setup
    used = {
        (
            facts.run.label.resistor_ohm or setup.resistor_ohm,
            facts.run.label.resistor_tolerance or setup.resistor_tolerance,
            str(facts.run.label.resistor_end),
        )
        for facts in (*analysis.references, *analysis.pedal_runs)
        if facts.run.label.feed == "resistor"
    }
    files = (r.sha256 for facts in analysis.references for r in facts.run.recordings)
    farad = analysis.result.setup_farad
    return Leads(
        setup.rig,
        setup.name,
        tuple(sorted(used, key=repr)),
        setup.full_scale_dbu,
        None if farad is None or not math.isfinite(farad) else float(farad),
        tuple(sorted(set(files))),
    )


def _hook_up(facts: RunFacts) -> str:
    label = facts.run.label
    words: list[str] = [label.feed]
    words += [label.power or "power not said", label.position or "position not said"]
    words += [f"into {label.load}"] if label.load != "instrument" else []
    words += ["reversed"] if label.direction == "reversed" else []
    words += [f"{label.level_db:g} dB"] if label.level_db else []
    return ", ".join(words)


def _hash_of(runs: tuple[RunFacts, ...]) -> str:
    digest = hashlib.sha256()
    for facts in runs:
        for recording in facts.run.recordings:
            digest.update(bytes.fromhex(recording.sha256))
    return digest.hexdigest()
