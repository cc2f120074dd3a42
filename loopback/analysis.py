"""The recipe: from an examination folder to the result, every stage named once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from loopback.examination.records import Examination
from loopback.examination.reference_record import (
    FILE_NAME,
    Sitting,
    read_reference_record,
    with_sitting,
)
from loopback.examination.shown import shown
from loopback.examination.stored import StoredExamination
from loopback.facts import Analysis, RunFacts
from loopback.identify.chain_found import ChainMatrix
from loopback.identify.data import PedalRun
from loopback.identify.learned import learn
from loopback.identify.loads import find_setups
from loopback.identify.matrix_runs import find_matrix
from loopback.identify.reversed import reversed_witness
from loopback.identify.setup import SetupFound
from loopback.identify.sitting import read_sitting
from loopback.identify.whole_samples import find_clock
from loopback.noise.figures import noise_difference
from loopback.player.chain import find_chain
from loopback.player.device import Device, device_of
from loopback.quality.behaviour import find_behaviours
from loopback.quality.effect import bent_db, harmonic_level_db
from loopback.quality.finding import refused
from loopback.quality.gates import judge_runs
from loopback.quality.limits import EFFECT_COMPRESSION_DB
from loopback.quality.read_run import RunRead, read_run
from loopback.quality.seen import RunSeen, references_of
from loopback.quality.stored_file import judge_strays
from loopback.quantity import Estimate
from loopback.response.band import corners, level_offset, polarity, treble
from loopback.response.bleed import find_bleed
from loopback.response.ratio import ratio_to_reference
from loopback.switching.recorded import fed_alike, footswitch_of, taps_of
from loopback.verdict.evidence import Evidence
from loopback.verdict.expectation import Expectation
from loopback.verdict.expected import compare_expected
from loopback.verdict.faults.find import find_faults
from loopback.verdict.faults.record import Case
from loopback.verdict.judge import judge
from loopback.verdict.passing import run_state
from loopback.verdict.result import Result
from loopback.verdict.watched import with_watched

TREBLE_HZ = (5_000.0, 10_000.0, 15_000.0, 20_000.0)
U_DELAY_S = 2e-9
"""Of a delay held by a check cable: about 1 ns for each of the two runs (judgement)."""


def analyse(path: Path | StoredExamination, expectation: Expectation | None = None) -> Analysis:
    """Analyse one examination: read, compare with the references, identify, judge.

    Recordings are read one at a time; what remains of each is a few small arrays.

    Parameters
    ----------
    path : Path or StoredExamination
        Folder of the examination, or one that was opened already.
    expectation : Expectation or None
        What the pedal should be; compared with the result, never used for it. None: nothing.

    Returns
    -------
    Analysis
        Poor or missing data are findings and reasons in it.

    Raises
    ------
    FolderError
        If there is no examination.
    DocumentError
        If its document is damaged or newer than this program.
    """
    folder = path if isinstance(path, StoredExamination) else StoredExamination.open(path)
    document = shown(folder.document)
    reads = [read_run(folder, run) for run in document.counting_runs()]
    seen = [read.seen for read in reads if read.seen is not None]
    findings = [finding for read in reads for finding in read.findings]
    findings += judge_strays(folder.strays)
    findings += judge_runs([read.run for read in reads], seen)
    sound = [item for item in seen if not refused(findings, item.run.id)]
    facts = [run_facts(read, reads, sound) for read in reads]
    ratios = {
        item.run.id: item.ratio
        for item in facts
        if item.ratio is not None and not refused(findings, item.run.id)
    }
    behaviours = find_behaviours(reads, ratios, document.signal)
    facts = [replace(item, behaviour=behaviours[item.run.id]) for item in facts]
    responses = [(item.run.label, item.response) for item in sound]
    setups, priors = find_setups(responses)
    compared = [
        PedalRun(item.run.label, ratios[item.run.id]) for item in facts if item.run.id in ratios
    ]
    rate_hz, setup = document.signal.rate_hz, setups.get("instrument")
    earlier = read_reference_record(folder.path / FILE_NAME).sittings
    sitting = None if setup is None else _sitting(document, sound, setup)
    learned = learn(earlier if sitting is None else with_sitting(earlier, sitting))
    matrix = find_matrix(compared, responses, setups, rate_hz, learned=learned, priors=priors)
    turned = reversed_witness(compared, responses, setup, rate_hz, learned=learned, priors=priors)
    witnesses = tuple(w for w in (matrix.witness if matrix else None, turned) if w is not None)
    evidence = [evidence_of(item, sound, refused(findings, item.run.id)) for item in facts]
    facts = [replace(item, state=run_state(e)) for item, e in zip(facts, evidence, strict=True)]
    result = judge(
        evidence,
        setup,
        priors=priors,
        analogue_floor=bool(sound) or not any(f.code == "bit_exact" for f in findings),
        setups=setups,
        learned=learned,
        clock=find_clock(responses, rate_hz),
        witnesses=witnesses,
    )
    device = device_in_line(result, matrix)
    bleed = find_bleed(
        [
            (item.run.label, ratios[item.run.id])
            for item in facts
            if item.run.id in ratios and item.behaviour is not None and item.behaviour.steady
        ],
        result.bypass_position,
        [(item.label, item.ratio) for item in compared if item.label.path == "unplugged"],
    )
    heard = [(item.run.label, item.response) for item in facts if item.response is not None]
    bypass = fed_alike(folder, heard, result.bypass_position)
    footswitch, taps = footswitch_of(folder, bypass), taps_of(folder)
    result = with_watched(result, evidence, footswitch, taps)
    expected = () if expectation is None else compare_expected(expectation, result)
    noticed = frozenset(f.code for f in findings if f.grade != "good")
    return Analysis(
        examination=document,
        references=tuple(f for f in facts if f.run.label.path == "coupler"),
        pedal_runs=tuple(f for f in facts if f.run.label.path == "pedal"),
        findings=tuple(findings),
        result=result,
        matrix=matrix,
        witnesses=witnesses,
        device=device,
        player=None if device is None else find_chain([device]),
        bleed=bleed,
        expected=expected,
        footswitch=footswitch,
        taps=taps,
        sitting=sitting,
        learned=learned,
        faults=find_faults(
            Case(result, evidence, setup, bleed, footswitch, taps, expectation, expected, noticed)
        ),
    )


def _sitting(document: Examination, sound: Sequence[RunSeen], setup: SetupFound) -> Sitting:
    """Read what the references of this examination say about how steady the setup is.

    Replaced runs tell when it began, too: it stays the same sitting when a run is made again.
    """
    made = [r.made for run in document.runs if run.label.path == "coupler" for r in run.recordings]
    own = [
        (item.run.label, item.response, int(item.run.id))
        for item in sound
        if item.run.label.path == "coupler"
    ]
    return read_sitting(own, setup, min(made))


def device_in_line(result: Result, matrix: ChainMatrix | None) -> Device | None:
    """Make of the result what a player has in the line, with power and in bypass.

    Parameters
    ----------
    result : Result
        The three lines and what they rest on.
    matrix : ChainMatrix or None
        As measured, in whatever state.

    Returns
    -------
    Device or None
        None where no path was found to pass, or nothing is known of what it leaves on the line.
    """
    if result.path not in ("wired", "loaded", "buffered"):
        return None
    active = result.path == "buffered"
    ours = matrix is not None and matrix.position == result.bypass_position
    return device_of(
        matrix=matrix if ours and matrix is not None and matrix.power != "off" else None,
        buffer=result.buffer if active else None,
        network=None if active else result.network,
        shunt=None if active else result.shunt,
        series_ohm=None if active else result.series_ohm,
    )


def run_facts(read: RunRead, reads: Sequence[RunRead], sound: Sequence[RunSeen]) -> RunFacts:
    """Compare one run with its references.

    Parameters
    ----------
    read : RunRead
        The run.
    reads : sequence of RunRead
        All runs.
    sound : sequence of RunSeen
        Those that no gate refuses.

    Returns
    -------
    RunFacts
        With None wherever there is nothing to compare.
    """
    item = read.seen if read.seen in sound else None
    references = references_of(item, sound) if item is not None else ()
    if item is None or not references or read.run.label.path == "coupler":
        noise = read.seen.noise if read.seen is not None else None
        response = item.response if item is not None else None
        return RunFacts(
            read.run, response, None, None, (), (), None, None, noise, None,
            read.noise_f_hz, read.noise_psd,
        )  # fmt: skip
    timed = {other.run.id for other in reads if other.timed}
    held = {read.run.id, *(reference.run.id for reference in references)} <= timed
    ratio = ratio_to_reference(
        item.response, [reference.response for reference in references], delay_held=held
    )
    levels = ((f_hz, treble(ratio, f_hz)) for f_hz in TREBLE_HZ)
    quiet = next((reference.noise for reference in references if reference.noise), None)
    return RunFacts(
        run=read.run,
        response=item.response,
        ratio=ratio,
        level=level_offset(ratio),
        treble=tuple((f_hz, level) for f_hz, level in levels if level is not None),
        corners=corners(ratio),
        polarity=polarity(ratio),
        delay=Estimate(ratio.delay_s, U_DELAY_S, "s") if held else None,
        noise=item.noise,
        noise_over_reference=noise_difference(item.noise, quiet) if item.noise and quiet else None,
        noise_f_hz=read.noise_f_hz,
        noise_psd=read.noise_psd,
    )


def evidence_of(facts: RunFacts, sound: Sequence[RunSeen], is_refused: bool) -> Evidence:
    """Put together what the verdict is given about one run.

    Parameters
    ----------
    facts : RunFacts
        The run.
    sound : sequence of RunSeen
        All runs that no gate refuses.
    is_refused : bool
        Whether a gate refuses this one.

    Returns
    -------
    Evidence
        See there.
    """
    item = next((other for other in sound if other.run.id == facts.run.id), None)
    level = over = math.nan
    if item is not None and (references := references_of(item, sound)):
        level = harmonic_level_db(item)
        over = level - harmonic_level_db(references[0])
    return Evidence(
        run_id=facts.run.id,
        label=facts.run.label,
        ratio=facts.ratio,
        delay=facts.delay,
        noise=facts.noise_over_reference,
        harmonics_db=level if math.isfinite(level) else None,
        harmonics_over_reference_db=over if math.isfinite(over) else None,
        polarity=facts.polarity,
        repeat_db=facts.response.repeat_db if facts.response is not None else 0.0,
        refused=is_refused or facts.response is None,
        compresses=item is not None and bent_db(item) > EFFECT_COMPRESSION_DB,
        behaviour=facts.behaviour,
    )
