"""What the files of an examination say before anything is computed: whole, changed, missing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from loopback.errors import DocumentError
from loopback.examination.atomic import sha256_of
from loopback.examination.reference_record import FILE_NAME as REFERENCES
from loopback.examination.stored import StoredExamination
from loopback.proof.as_published import AsPublished
from loopback.report.hashes import document_hash, sealed
from loopback.report.published import PUBLISHED
from loopback.report.published_records import FileHash, Publication

ProblemCode = Literal[
    "recording_changed",
    "recording_missing",
    "recording_not_listed",
    "recording_replaced",
    "document_changed",
    "input_changed",
    "input_missing",
    "input_added",
    "page_changed",
    "seal_broken",
    "order_broken",
]
NoteCode = Literal["extra_file", "added_recording", "page_missing", "page_elsewhere"]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is not as it was.

    Parameters
    ----------
    code : str
        What.
    where : str
        File inside the folder.
    """

    code: ProblemCode
    where: str


@dataclass(frozen=True, slots=True)
class Note:
    """One thing worth knowing, which takes nothing away from the numbers.

    Parameters
    ----------
    code : str
        What.
    where : str
        File inside the folder.
    """

    code: NoteCode
    where: str


def recording_problems(folder: StoredExamination) -> tuple[Problem, ...]:
    """Compare every recording, byte for byte, with what was listed when it was made.

    Parameters
    ----------
    folder : StoredExamination
        Whole.

    Returns
    -------
    tuple of Problem
        Changed and missing files.
    """
    return tuple(
        Problem(
            "recording_changed" if folder.path_of(recording).is_file() else "recording_missing",
            recording.file,
        )
        for recording in folder.document.recordings()
        if not folder.check_hash(recording)
    )


def publication_problems(
    folder: StoredExamination, cut: AsPublished, publication: Publication
) -> tuple[Problem, ...]:
    """Compare document, inputs and pages with what was published.

    Parameters
    ----------
    folder : StoredExamination
        As it is now.
    cut : AsPublished
        The same, cut back to the publication.
    publication : Publication
        One of this examination.

    Returns
    -------
    tuple of Problem
        Empty: all as it was.
    """
    return (
        *_listing_problems(folder, publication),
        *_document_problems(cut, publication),
        *_input_problems(folder.path, publication.inputs),
        *(
            Problem("page_changed", page.file)
            for page in publication.pages
            if (found := _hash_in(folder.path, page.file)) and found != page.sha256
        ),
    )


def order_problems(publications: Sequence[Publication]) -> tuple[Problem, ...]:
    """Check the seal of every publication, and that none was taken out.

    Parameters
    ----------
    publications : sequence of Publication
        Oldest first.

    Returns
    -------
    tuple of Problem
        One for each that does not fit.
    """
    problems: list[Problem] = []
    before = ""
    for number, publication in enumerate(publications, start=1):
        where = f"{PUBLISHED}, publication {number}"
        if sealed(publication).seal != publication.seal:
            problems.append(Problem("seal_broken", where))
        if publication.before != before:
            problems.append(Problem("order_broken", where))
        before = publication.seal
    return tuple(problems)


def notes_of(folder: StoredExamination, publication: Publication) -> tuple[Note, ...]:
    """Collect what is in the folder and not in the publication, or the other way round.

    Parameters
    ----------
    folder : StoredExamination
        As it is now.
    publication : Publication
        One of this examination.

    Returns
    -------
    tuple of Note
        Nothing here changes what was published.
    """
    published = {recording.file for recording in publication.recordings}
    return (
        *(Note("extra_file", name) for name in folder.strays if name not in publication.strays),
        *(
            Note("added_recording", recording.file)
            for recording in folder.document.recordings()
            if recording.file not in published
        ),
        *(
            Note("page_missing" if "/" in page.file else "page_elsewhere", page.file)
            for page in publication.pages
            if not _hash_in(folder.path, page.file)
        ),
    )


def _listing_problems(folder: StoredExamination, publication: Publication) -> Iterator[Problem]:
    listed = {r.file: r.sha256 for r in folder.document.recordings()}
    for recording in publication.recordings:
        if recording.file not in listed:
            yield Problem("recording_not_listed", recording.file)
        elif listed[recording.file] != recording.sha256:
            yield Problem("recording_replaced", recording.file)


def _document_problems(cut: AsPublished, publication: Publication) -> Iterator[Problem]:
    if document_hash(cut.document) != publication.document:
        yield Problem("document_changed", "examination.json")


def _input_problems(root: Path, inputs: Sequence[FileHash]) -> Iterator[Problem]:
    for file in inputs:
        found = _hash_in(root, file.file)
        if found != file.sha256:
            yield Problem("input_changed" if found else "input_missing", file.file)
    if REFERENCES not in {file.file for file in inputs} and _hash_in(root, REFERENCES):
        yield Problem("input_added", REFERENCES)


def _hash_in(root: Path, name: str) -> str:
    """Hash a file of the folder; empty: it is not there. A name that leads outside is refused."""
    path = root / name
    if not path.resolve().is_relative_to(root.resolve()):
        raise DocumentError(
            f'{PUBLISHED} names the file "{name}", which is not in this folder.',
            "The file was changed, or did not come from this program.",
            "Ask whoever sent it for the folder again.",
        )
    try:
        return sha256_of(path)
    except OSError:
        return ""
