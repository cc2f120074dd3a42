"""What was published about an examination, kept beside it in `published.json`.

Publications follow one another and none is taken out. Each holds the facts as they were, a hash of
every curve and of everything it rests on, and a seal over all that.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec

from loopback import __version__
from loopback.errors import DocumentError, FolderError
from loopback.examination.atomic import sha256_of, write_over
from loopback.examination.incoming import now_text
from loopback.examination.lock import writer_lock
from loopback.examination.reference_record import FILE_NAME as REFERENCES
from loopback.examination.stored import StoredExamination, absolute
from loopback.facts import Analysis
from loopback.report.curve_columns import curves_of
from loopback.report.document import facts_of
from loopback.report.hashes import curve_hash, document_hash, sealed
from loopback.report.machine import this_code, this_machine
from loopback.report.published_records import (
    PUBLISHED_VERSION,
    FileHash,
    Publication,
    Published,
)

PUBLISHED = "published.json"
EXPECTATION = "expectation.toml"


class _Head(msgspec.Struct):
    """Enough to tell whether it is ours and how new."""

    format: str = ""
    version: int = 0


def write_published(
    analysis: Analysis,
    folder: Path,
    *,
    pages: Sequence[Path] = (),
    private: bool = False,
    expectation: Path | None = None,
) -> Path:
    """Keep what is published now, after whatever was published before.

    The same numbers, pages and program once more add nothing.

    Parameters
    ----------
    analysis : Analysis
        Of this examination.
    folder : Path
        The examination's folder.
    pages : sequence of Path
        Complete files that were published; those outside the folder are kept by their bare name.
    private : bool
        Whether private fields stand in those pages; they are then left out of a public package.
    expectation : Path or None
        What the result was held to; None: ``expectation.toml`` of the folder, if anything was
        expected.

    Returns
    -------
    Path
        ``published.json`` in the folder.

    Raises
    ------
    DocumentError
        If the file there is damaged, or newer than this program.
    FolderError
        If the disk refuses, or a page cannot be read.
    """
    root = absolute(folder)
    path = root / PUBLISHED
    new = publication_of(analysis, root, pages=pages, private=private, expectation=expectation)
    with writer_lock(root):
        earlier = read_published(path).publications if path.exists() else ()
        if earlier and _same(earlier[-1], new):
            return path
        new = sealed(msgspec.structs.replace(new, before=earlier[-1].seal if earlier else ""))
        kept = Published(version=PUBLISHED_VERSION, publications=(*earlier, new))
        write_over(path, [msgspec.json.format(msgspec.json.encode(kept), indent=1) + b"\n"])
    return path


def publication_of(
    analysis: Analysis,
    folder: Path,
    *,
    pages: Sequence[Path] = (),
    private: bool = False,
    expectation: Path | None = None,
) -> Publication:
    """Put together what would be published; writes nothing.

    Parameters
    ----------
    analysis : Analysis
        Of this examination.
    folder : Path
        The examination's folder.
    pages : sequence of Path
        See `write_published`.
    private : bool
        See `write_published`.
    expectation : Path or None
        See `write_published`.

    Returns
    -------
    Publication
        Without the seal of an earlier one.

    Raises
    ------
    FolderError
        If a file it rests on cannot be read.
    """
    document = analysis.examination
    expected = folder / EXPECTATION if expectation is None and analysis.expected else expectation
    try:
        text = "" if expected is None else expected.read_bytes().decode("utf-8-sig")
        inputs = [name for name in (REFERENCES,) if (folder / name).is_file()]
        return sealed(
            Publication(
                made=now_text(),
                program=__version__,
                code=this_code(),
                machine=this_machine(),
                before="",
                document=document_hash(document),
                runs=tuple(run.id for run in document.runs),
                recordings=tuple(FileHash(r.file, r.sha256) for r in document.recordings()),
                strays=StoredExamination(folder, document).strays,
                inputs=tuple(FileHash(name, sha256_of(folder / name)) for name in inputs),
                pages=tuple(FileHash(_inside(page, folder), sha256_of(page)) for page in pages),
                private=private,
                expectation=text,
                facts=msgspec.json.decode(msgspec.json.encode(facts_of(analysis))),
                curves=tuple(
                    curve_hash(name, columns) for name, columns in curves_of(analysis).items()
                ),
            )
        )
    except OSError as error:
        raise FolderError(
            f'"{error.filename}" cannot be read: {error.strerror or error}.',
            "It belongs to what is published.",
            "Write it again, then publish.",
        ) from error


def read_published(path: Path) -> Published:
    """Read all publications of an examination.

    Parameters
    ----------
    path : Path
        The file ``published.json``.

    Returns
    -------
    Published
        As written; whether seals and numbers hold is another question.

    Raises
    ------
    FolderError
        If there is none.
    DocumentError
        If it is damaged, of a newer version, or something else; the message names the path inside.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise FolderError(
            f'"{path}" cannot be read ({error.strerror or error}).',
            "Nothing has been published from this folder.",
            f'Publish first:  loopback report "{path.parent.name}"',
        ) from error
    try:
        head = msgspec.json.decode(data, type=_Head)
        if head.format == "loopback-published" and head.version > PUBLISHED_VERSION:
            raise DocumentError(
                f"{path.name} has version {head.version} - at `$.version`.",
                f"This program knows versions up to {PUBLISHED_VERSION}; a newer one wrote it.",
                "Install the newer program. The file was left as it is.",
            )
        published = msgspec.json.decode(data, type=Published)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        found = str(error) if "`$" in str(error) else f"{error} - at `$`"
        raise DocumentError(
            f"{path.name}: {found}.",
            "The file was changed or damaged, or is something else.",
            "Restore it from a copy; the recordings are not touched by this.",
        ) from error
    if not published.publications:
        raise DocumentError(f"{path.name} holds no publication - at `$.publications`.")
    return published


def public_files(folder: Path, *, private: bool = False) -> tuple[str, ...]:
    """Name what was published and still lies in the folder as it was.

    Parameters
    ----------
    folder : Path
        Of the examination.
    private : bool
        True: pages with private fields too.

    Returns
    -------
    tuple of str
        ``published.json`` and pages, as paths in the folder; empty where nothing was published.

    Raises
    ------
    DocumentError
        If ``published.json`` is damaged, or newer than this program.
    """
    root = absolute(folder)
    if not (root / PUBLISHED).exists():
        return ()
    pages = {
        page.file: page.sha256
        for publication in read_published(root / PUBLISHED).publications
        for page in publication.pages
        if private or not publication.private
    }
    return (PUBLISHED, *(name for name, sha256 in pages.items() if _is(root, name, sha256)))


def _is(root: Path, name: str, sha256: str) -> bool:
    path = (root / name).resolve()
    if not path.is_relative_to(root.resolve()) or not path.is_file():
        return False
    return sha256_of(path) == sha256


def _inside(page: Path, folder: Path) -> str:
    whole = absolute(page)
    return whole.relative_to(folder).as_posix() if whole.is_relative_to(folder) else whole.name


def _same(old: Publication, new: Publication) -> bool:
    """Whether two publications say the same, whenever they were made."""
    alike = msgspec.structs.replace(new, made=old.made, before=old.before)
    return sealed(alike).seal == old.seal
