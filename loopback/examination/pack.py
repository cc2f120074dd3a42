"""From the folder of an examination to one file."""

from __future__ import annotations

import re
import tempfile
import unicodedata
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import msgspec

from loopback import __version__
from loopback.errors import FolderError, PackageError
from loopback.examination.atomic import file_chunks, sha256_of_chunks, write_new
from loopback.examination.document import encode_examination
from loopback.examination.package import (
    MANIFEST,
    MOST_BYTES,
    MOST_FILES,
    PACKAGE_VERSION,
    Manifest,
    PackedFile,
    clashes,
    manifest_bytes,
    name_problem,
)
from loopback.examination.reference_record import FILE_NAME as REFERENCES
from loopback.examination.stored import DOCUMENT, StoredExamination, absolute

OWN_FILES = ("signal.wav", "signal.json", REFERENCES, "expectation.toml")
"""Packed where they are there; everything else of the folder can be made again."""
_LEVEL = 6
_OLD = (1980, 1, 1, 0, 0, 0)
_CHUNK = 1 << 18


@dataclass(frozen=True, slots=True)
class Packed:
    """What was packed.

    Parameters
    ----------
    path : Path
        The package.
    files : int
        How many files of the examination are in it.
    bytes_before, bytes_after : int
        Size of those files, and of the package.
    foreign : int
        Recordings that were made elsewhere: packed byte for byte, with whatever else their
        recorder wrote into them.
    """

    path: Path
    files: int
    bytes_before: int
    bytes_after: int
    foreign: int


def pack(folder: Path, target: Path, *, more: Sequence[str] = (), private: bool = False) -> Packed:
    """Pack an examination into one file.

    The same contents give the same bytes, with the same compressor.

    Parameters
    ----------
    folder : Path
        Of the examination.
    target : Path
        The file to write; one that is there is never overwritten.
    more : sequence of str
        Files of the folder to take along, such as published pages; absent ones are left out.
    private : bool
        True: the private note goes along.

    Returns
    -------
    Packed
        What is in it.

    Raises
    ------
    FolderError
        If there is no examination, a recording is not what was recorded, or `target` cannot be
        written.
    DocumentError
        If the document is damaged or newer than this program.
    PackageError
        If a file cannot go into a package: its name, a link, too many, too large.
    """
    stored = StoredExamination.open(folder)
    _check_recordings(stored)
    document = _document_bytes(stored, private=private)
    recordings = [recording.file for recording in stored.document.recordings()]
    names = sorted({*recordings, *_present(stored.path, (*OWN_FILES, *more))})
    _check_names([DOCUMENT, *names])
    files = [
        PackedFile(DOCUMENT, len(document), sha256_of_chunks([document])),
        *(_listed(stored.path, name) for name in names),
    ]
    files.sort(key=lambda file: file.file)
    before = sum(file.size for file in files)
    if before > MOST_BYTES or len(files) > MOST_FILES:
        raise PackageError(
            f"{len(files)} files of {before / 1e9:.1f} GB together are too much for one package.",
            f"Up to {MOST_FILES} files and {MOST_BYTES / 1e9:.1f} GB can be unpacked again.",
            "Send the folder itself.",
        )
    manifest = Manifest(PACKAGE_VERSION, __version__, private, tuple(files))
    whole = absolute(target)
    if whole.exists():
        raise FolderError(f'"{target}" exists already.', "", "Name another file.")
    try:
        with tempfile.TemporaryFile(dir=whole.parent) as draft:
            _write(draft, stored, manifest, document)
            after = draft.tell()
            draft.seek(0)
            write_new(whole, iter(lambda: draft.read(_CHUNK), b""))
    except FolderError:
        raise
    except OSError as error:
        raise FolderError(
            f'"{target}" cannot be written: {error.strerror or error}.',
            "The examination itself was not touched.",
            "Check the place, its free space and its permissions.",
        ) from error
    foreign = sum(bool(recording.origin) for recording in stored.document.recordings())
    return Packed(whole, len(files), before, after, foreign)


def _check_recordings(stored: StoredExamination) -> None:
    wrong = [r.file for r in stored.document.recordings() if not stored.check_hash(r)]
    if wrong:
        raise FolderError(
            f'{len(wrong)} recording(s) are missing or changed, the first is "{wrong[0]}".',
            "What is computed from them is not what was measured, and nobody could verify it.",
            "Restore them from a copy; `loopback verify` lists all of them.",
        )


def _document_bytes(stored: StoredExamination, *, private: bool) -> bytes:
    document = stored.document
    if private or not document.pedal.private_note:
        return (stored.path / DOCUMENT).read_bytes()
    pedal = msgspec.structs.replace(document.pedal, private_note="")
    return encode_examination(msgspec.structs.replace(document, pedal=pedal))


def _present(root: Path, names: Iterable[str]) -> Iterator[str]:
    for name in names:
        path = root / name
        if name_problem(name) or not path.is_file():
            continue
        if path.resolve() != path.parent.resolve() / path.name or not (
            path.resolve().is_relative_to(root.resolve())
        ):
            raise PackageError(
                f'"{name}" is a link to another place.',
                "What lies there would go into the package too.",
                "Put the file itself in its place.",
            )
        yield name


def _check_names(names: Sequence[str]) -> None:
    for name in names:
        if problem := name_problem(name):
            raise PackageError(f'The file "{name}" {problem}.', "It cannot go into a package.")
    for name in clashes(names):
        raise PackageError(f'"{name}" is there twice on a system that ignores capitals.')


def _listed(root: Path, name: str) -> PackedFile:
    path = root / name
    return PackedFile(name, path.stat().st_size, sha256_of_chunks(file_chunks(path)))


def _write(draft: BinaryIO, stored: StoredExamination, manifest: Manifest, document: bytes) -> None:
    root, top = stored.path, _top(stored.document.pedal.name)
    with zipfile.ZipFile(draft, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as package:
        listing = manifest_bytes(manifest)
        _put(package, f"{top}/{MANIFEST}", [listing], len(listing))
        for file in manifest.files:
            chunks = [document] if file.file == DOCUMENT else file_chunks(root / file.file)
            _put(package, f"{top}/{file.file}", chunks, file.size)
    draft.seek(0, 2)


def _put(package: zipfile.ZipFile, name: str, chunks: Iterable[bytes], size: int) -> None:
    entry = zipfile.ZipInfo(name, _OLD)
    entry.file_size = size  # beyond 2 GB a file needs a larger header
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.create_system = 3  # the same bytes on every system
    entry.external_attr = 0o100644 << 16
    with package.open(entry, "w") as file:
        for chunk in chunks:
            file.write(chunk)


def _top(pedal: str) -> str:
    """Name the folder inside after the pedal: the same wherever the examination lies."""
    letters = unicodedata.normalize("NFKD", pedal).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", letters)[:40].strip("-")
    return name if name and not name_problem(name) else "examination"
