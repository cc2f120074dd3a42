"""An examination as it was when something was published, whatever was added since."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from loopback.examination.described import WORDS, Reworded, reworded
from loopback.examination.records import Examination, Run
from loopback.examination.shown import shown
from loopback.examination.stored import StoredExamination
from loopback.report.published_records import Publication


class AsPublished(StoredExamination):
    """An examination cut back to the runs, recordings and words of a publication; use `of`."""

    _strays: tuple[str, ...] = ()
    _reworded: tuple[Reworded, ...] = ()

    @classmethod
    def of(cls, folder: StoredExamination, publication: Publication) -> AsPublished:
        """Cut an examination back.

        Parameters
        ----------
        folder : StoredExamination
            As it is now.
        publication : Publication
            What was published from it.

        Returns
        -------
        AsPublished
            To be analysed; the files themselves are those of the folder.
        """
        files = {recording.file for recording in publication.recordings}
        runs = tuple(_cut(run, files) for run in folder.document.runs if run.id in publication.runs)
        now = shown(folder.document)
        then = _with_words(now, publication.facts)
        cut = cls(folder.path, msgspec.structs.replace(then, runs=runs))
        cut._strays = publication.strays
        cut._reworded = reworded(then, now)
        return cut

    @property
    def strays(self) -> tuple[str, ...]:
        """Files that no run listed then."""
        return self._strays

    @property
    def reworded(self) -> tuple[Reworded, ...]:
        """Words about the item and the conditions that say something else now, as shown.

        Nobody measured them and no number follows from them: they may be mended at any time.
        """
        return self._reworded


def _cut(run: Run, files: set[str]) -> Run:
    return msgspec.structs.replace(
        run, recordings=tuple(r for r in run.recordings if r.file in files)
    )


def _with_words(document: Examination, facts: Mapping[str, Any]) -> Examination:
    """Put back the words that were published; the private note never was."""
    pedal = facts.get("pedal")
    told = {**pedal, "conditions": facts.get("conditions")} if isinstance(pedal, dict) else {}
    words = {
        name: told[name]
        for name in WORDS
        if name != "private_note" and isinstance(told.get(name), str)
    }
    conditions = words.pop("conditions", document.conditions)
    pedal_then = msgspec.structs.replace(document.pedal, **words)
    return shown(msgspec.structs.replace(document, pedal=pedal_then, conditions=conditions))
