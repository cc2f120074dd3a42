"""Folders of examinations that nobody measured, with results kept in them as after an analysis."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from loopback.cache.cached import cached_summary
from loopback.examination.document import encode_examination
from loopback.examination.records import Recording, Run
from loopback.facts import Analysis, RunFacts
from tests.reference.invented_analysis import analysis


def stored_folder(path: Path, name: str = "Quarry Lamp", **about: str) -> Analysis:
    """Write an invented examination with recordings of a few bytes; its analysis is returned."""
    invented = analysis(name, **about)
    (path / "recordings").mkdir(parents=True)

    def on_disk(facts: RunFacts) -> RunFacts:
        return replace(facts, run=_written(path, facts.run))

    references = tuple(on_disk(f) for f in invented.references)
    pedal_runs = tuple(on_disk(f) for f in invented.pedal_runs)
    runs = tuple(f.run for f in (*references, *pedal_runs))
    document = msgspec.structs.replace(
        invented.examination, runs=tuple(sorted(runs, key=lambda run: run.id))
    )
    (path / "examination.json").write_bytes(encode_examination(document))
    return replace(invented, examination=document, references=references, pedal_runs=pedal_runs)


def keep(path: Path, found: Analysis, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep an analysis in its folder as if it had been computed."""
    with monkeypatch.context() as patch:
        patch.setattr("loopback.analysis.analyse", lambda _: found)
        cached_summary(path)


def _written(path: Path, run: Run) -> Run:
    def written(recording: Recording) -> Recording:
        data = f"{path.name}/{recording.file}".encode()
        (path / recording.file).write_bytes(data)
        return msgspec.structs.replace(recording, sha256=hashlib.sha256(data).hexdigest())

    return msgspec.structs.replace(run, recordings=tuple(map(written, run.recordings)))
