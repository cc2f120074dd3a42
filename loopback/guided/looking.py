"""Look at runs as soon as they are made: what they show, and what contradicts what."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from loopback.analysis import evidence_of, run_facts
from loopback.examination.records import Run
from loopback.examination.stored import StoredExamination
from loopback.identify.setup import find_setup
from loopback.identify.shunt import closed_form_shunt
from loopback.plan.events import Mark, Notice, RunSummary, Since
from loopback.plan.runs import Position
from loopback.quality.effect import shows_effect
from loopback.quality.finding import Finding, Grade, refused
from loopback.quality.gates import judge_runs
from loopback.quality.read_run import RunRead, read_run
from loopback.quality.seen import RunSeen, difference_db, references_of
from loopback.quality.steadiness import capacitance_change_f
from loopback.response.reading import RunResponse
from loopback.verdict.evidence import Evidence, level_at
from loopback.verdict.passing import Misfit, build_table, run_state

PASSING = frozenset(
    ("samples_lost", "zero_block", "disturbed", "gain_change", "gain_drift", "take_cut", "unsteady")
)
"""Findings on a take that come and go: the same hook-up played again may well be free of them."""
_LATER = frozenset(("no_bypass_run", "reference_missing", "equals_reference", "interrupted"))
"""Not told while runs are still to come: they are about a whole examination, or harmless."""
_OF_AN_EFFECT = frozenset(("band_edge", "lossy", "resampled"))
"""Of a run with the effect on this says nothing about the setup."""
_MARKS: dict[Grade, Mark] = {"good": "good", "look": "look", "refuse": "bad"}


class Onlooker:
    """Reads each run of a folder once, and remembers what was already told.

    Parameters
    ----------
    folder : StoredExamination
        An open examination; runs are added to it by somebody else.
    """

    def __init__(self, folder: StoredExamination) -> None:
        self._folder = folder
        self._reads: dict[str, tuple[int, RunRead]] = {}
        self._told: set[tuple[str, str]] = set()
        self._latest: tuple[object, list[RunRead], list[Finding]] | None = None

    def summaries(self) -> tuple[RunSummary, ...]:
        """Summarise all runs that count, with or without a pedal; nothing is left to be told."""
        runs = [r for r in self._folder.document.counting_runs() if r.label.path != "unplugged"]
        return tuple(self.look(run.id) for run in runs)

    def look(self, run_id: str) -> RunSummary:
        """Look at one run and compare it with those made before.

        Parameters
        ----------
        run_id : str
            A run that counts.

        Returns
        -------
        RunSummary
            Its notices are those that were not there at the last look.
        """
        runs, reads, findings = self._judged()
        seen = [read.seen for read in reads if read.seen is not None]
        sound = [item for item in seen if not refused(findings, item.run.id)]
        new = self._untold(findings, run_id)
        if all(run.label.feed == "resistor" for run in runs):
            new = [_or_line_input(finding) for finding in new]
        notices = tuple(_notice(finding, run_id) for finding in new)
        read = next(read for read in reads if read.run.id == run_id)
        item = read.seen
        recorded = sum(recording.kind == "sweep" for recording in read.run.recordings)
        silence = any(recording.kind == "silence" for recording in read.run.recordings)
        if item is None:
            return RunSummary(run_id, read.run.label, 0, recorded, silence, notices=notices)
        is_pedal = read.run.label.path == "pedal"
        references = references_of(item, sound)
        evidence = [
            evidence_of(run_facts(one, reads, sound), sound, refused(findings, one.run.id))
            for one in reads
            if one.run.label.path == "pedal"
        ]
        own = next((e for e in evidence if e.run_id == run_id), None)
        state = run_state(own) if own is not None else None
        passing = state in ("passes", "altered") if state is not None else None
        effect = shows_effect(item, references) if passing and references else ""
        if effect:
            notices = tuple(n for n in notices if n.code not in _OF_AN_EFFECT)
        return RunSummary(
            run_id,
            read.run.label,
            0 if refused(findings, run_id) else len(item.takes),
            recorded,
            silence,
            passes=passing,
            level_db=_level_db(own),
            effect=effect,
            repeat_db=item.response.repeat_db if item.response.takes > 1 else None,
            apart_db=tuple(_apart(item, seen)),
            since=None if is_pedal else _since(item, references),
            bypass=_bypass(evidence, sound),
            notices=notices,
        )

    def troubles(self, run_id: str, first: int) -> tuple[tuple[int, Notice | None], ...]:
        """Say of each take of a run whether it can be used.

        Parameters
        ----------
        run_id : str
            The run.
        first : int
            Number of the first take wanted, from 1.

        Returns
        -------
        tuple of (int, Notice or None)
            Number, and why it cannot be used; None: it can.
        """
        run = self._folder.document.run(run_id)
        findings = self._read(run).findings
        takes = sum(recording.kind == "sweep" for recording in run.recordings)
        told = []
        for number in range(first, takes + 1):
            where = f"{run_id}/{number}"
            bad = next((f for f in findings if f.grade == "refuse" and f.where == where), None)
            if bad is not None:
                self._told.add((bad.code, bad.where))
            told.append((number, _notice(bad, run_id) if bad is not None else None))
        return tuple(told)

    def useless(self) -> tuple[str, ...]:
        """Return the ids of the runs that count and cannot be used, by all that is known now."""
        _, reads, findings = self._judged()
        return tuple(
            read.run.id for read in reads if read.seen is None or refused(findings, read.run.id)
        )

    def _judged(self) -> tuple[list[Run], list[RunRead], list[Finding]]:
        """All runs that count, read, and what the gates find; worked out once for each state."""
        runs = [r for r in self._folder.document.counting_runs() if r.label.path != "unplugged"]
        key = tuple((run.id, len(run.recordings)) for run in runs)
        if self._latest is None or self._latest[0] != key:
            reads = [self._read(run) for run in runs]
            seen = [read.seen for read in reads if read.seen is not None]
            findings = [finding for read in reads for finding in read.findings]
            findings += judge_runs(runs, seen)
            self._latest = (key, reads, findings)
        return runs, self._latest[1], self._latest[2]

    def _read(self, run: Run) -> RunRead:
        known = self._reads.get(run.id)
        if known is not None and known[0] == len(run.recordings):
            return known[1]
        read = read_run(self._folder, run)
        self._reads[run.id] = (len(run.recordings), read)
        return read

    def _untold(self, findings: Sequence[Finding], run_id: str) -> list[Finding]:
        new: list[Finding] = []
        for finding in findings:
            key = (finding.code, finding.where)
            if key in self._told or finding.code in _LATER or finding.grade == "good":
                continue
            self._told.add(key)
            takes = finding.where.startswith(f"{run_id}/")
            if takes and any(f.code == finding.code and "/" in f.where for f in new):
                continue  # the same of both takes is said once
            new.append(finding)
        return new


def _notice(finding: Finding, run_id: str) -> Notice:
    runs = {name.split("/")[0] for name in finding.where.split()}
    return Notice(
        finding.code,
        _MARKS[finding.grade],
        finding.number,
        finding.meaning,
        finding.action,
        not runs or run_id in runs,
        finding.where,
        finding.code in PASSING,
    )


def _or_line_input(finding: Finding) -> Finding:
    """Add what the plain lead has yet to exclude."""
    if finding.code != "resistor_forgotten":
        return finding
    return replace(
        finding,
        meaning=f"{finding.meaning} Or INST (Hi-Z) is off: a line input is flat as well.",
        action="Plug in the resistor lead, press INST on the input, and repeat this run.",
    )


def _level_db(evidence: Evidence | None) -> float | None:
    if evidence is None or evidence.ratio is None:
        return None
    return level_at(evidence.ratio, 1000.0)


def _apart(item: RunSeen, seen: Sequence[RunSeen]) -> list[tuple[str, float]]:
    label = item.run.label
    apart = []
    for other in seen:
        one = other.run.label
        alike = (one.load, one.load_ohm, one.level_db) == (
            label.load, label.load_ohm, label.level_db,
        )  # fmt: skip
        if other.run.id == item.run.id or not alike:
            continue
        level = difference_db(item.response, other.response, 200.0, 15_000.0)
        apart.append((other.run.id, float(np.max(np.abs(level)))))
    return apart


def _since(item: RunSeen, references: Sequence[RunSeen]) -> Since | None:
    """Compare a reference with the latest one before it with the same leads."""
    before = [r for r in references if int(r.run.id) < int(item.run.id)]
    if not before:
        return None
    earlier = before[-1]
    level = float(np.mean(difference_db(item.response, earlier.response, 200.0, 2000.0)))
    capacitance = None
    if item.run.label.feed == "resistor":
        ohm = item.run.label.resistor_ohm or 100e3
        flat = _flat(earlier.response)
        capacitance = capacitance_change_f(earlier.response, item.response, flat, ohm)
    return Since(earlier.run.id, level, capacitance)


def _flat(response: RunResponse) -> RunResponse:
    """Stand in for the plain reference, which comes later: as loud at low frequencies, and flat."""
    low = (response.f_hz >= 200.0) & (response.f_hz <= 400.0)
    h = np.full(len(response.f_hz), float(np.mean(np.abs(response.h[low]))), dtype=np.complex128)
    return RunResponse(response.run_id, response.f_hz, h, response.var, 0.0, 0.0, 1)


def _bypass(evidence: Sequence[Evidence], sound: Sequence[RunSeen]) -> Position | None:
    usable = [e for e in evidence if e.usable and e.label.load == "instrument"]
    if not usable:
        return None
    return build_table(usable, _misfit(sound)).bypass


def _misfit(sound: Sequence[RunSeen]) -> Misfit | None:
    setup = find_setup([(item.run.label, item.response) for item in sound])
    if setup is None or setup.basis == "plain":
        return None

    def misfit(evidence: Evidence) -> float:
        if evidence.ratio is None:
            return math.inf
        return closed_form_shunt(evidence.ratio, setup).residual_db

    return misfit
