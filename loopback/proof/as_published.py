"""An examination as it was when something was published, whatever was added since."""

from __future__ import annotations

import msgspec

from loopback.examination.records import Examination, Run
from loopback.examination.stored import StoredExamination
from loopback.report.published_records import Publication


class AsPublished(StoredExamination):
    """An examination cut back to the runs and recordings of a publication; use `of`."""

    _strays: tuple[str, ...] = ()

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
        cut = cls(folder.path, _with_runs(folder.document, runs))
        cut._strays = publication.strays
        return cut

    @property
    def strays(self) -> tuple[str, ...]:
        """Files that no run listed then."""
        return self._strays


def _cut(run: Run, files: set[str]) -> Run:
    return msgspec.structs.replace(
        run, recordings=tuple(r for r in run.recordings if r.file in files)
    )


def _with_runs(document: Examination, runs: tuple[Run, ...]) -> Examination:
    return msgspec.structs.replace(document, runs=runs)
