"""From one file that somebody sent to the folder of an examination, trusting nothing in it.

Files go to a hidden folder beside the wanted one, which gets its name only when every hash fits.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import zipfile
from dataclasses import dataclass
from pathlib import Path

from loopback.errors import FolderError, PackageError
from loopback.examination.document import decode_examination
from loopback.examination.package import MOST_BYTES, Manifest, PackedFile
from loopback.examination.package_contents import (
    ASK,
    chunks_of,
    entries_of,
    manifest_of,
    opened,
)
from loopback.examination.stored import DOCUMENT, absolute


@dataclass(frozen=True, slots=True)
class Unpacked:
    """What was unpacked.

    Parameters
    ----------
    path : Path
        The new folder, absolute.
    files, recordings : int
        How many files it holds, and how many of them are recordings.
    private : bool
        Whether private fields came along.
    program : str
        Version that packed it.
    """

    path: Path
    files: int
    recordings: int
    private: bool
    program: str


def unpack(package: Path, target: Path, most_bytes: int = MOST_BYTES) -> Unpacked:
    """Unpack an examination into a new folder.

    Parameters
    ----------
    package : Path
        File made by `loopback.examination.pack.pack`.
    target : Path
        Folder to make; one that exists is refused.
    most_bytes : int
        Most that all files may take together.

    Returns
    -------
    Unpacked
        Every file has the hash that the package states, and the document lists what is there.

    Raises
    ------
    PackageError
        If it is no package, is damaged or newer, or holds what a package must not.
    DocumentError
        If the examination's document in it is damaged or newer than this program.
    FolderError
        If `target` exists or cannot be made. In all cases nothing is left behind.
    """
    whole = absolute(target)
    if whole.exists() or whole.is_symlink():
        raise FolderError(
            f'"{target}" exists already.', "It is left as it is.", "Name another folder."
        )
    with opened(package) as archive:
        manifest, top = manifest_of(archive)
        entries = entries_of(archive, manifest, top, most_bytes)
        draft = whole.with_name(f".{whole.name}.{secrets.token_hex(4)}.partial")
        try:
            draft.mkdir(parents=False)
            _check_space(draft, manifest)
            for file in manifest.files:
                _extract(archive, entries[file.file], file, draft)
            recordings = _check_document(draft, manifest)
            if whole.exists():
                raise FolderError(f'"{target}" has appeared meanwhile.', "", "Name another folder.")
            draft.rename(whole)
        except OSError as error:
            if isinstance(error, FolderError):
                raise
            raise FolderError(
                f'"{target}" cannot be made: {error.strerror or error}.',
                "Nothing was left behind.",
                "Check the place, its free space and its permissions.",
            ) from error
        finally:
            shutil.rmtree(draft, ignore_errors=True)
    return Unpacked(whole, len(manifest.files), recordings, manifest.private, manifest.program)


def _extract(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, file: PackedFile, to: Path) -> None:
    path = to / file.file
    path.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with path.open("xb") as out:
        for chunk in chunks_of(archive, entry, file.size):
            digest.update(chunk)
            out.write(chunk)
        out.flush()
        os.fsync(out.fileno())
    if digest.hexdigest() != file.sha256:
        raise PackageError(
            f'"{file.file}" is not what was packed: its SHA-256 does not fit.',
            "The package was damaged on its way, or changed.",
            "Copy it again, or ask for it again.",
        )


def _check_document(draft: Path, manifest: Manifest) -> int:
    """Refuse a package that lacks a recording, or has another one in its place."""
    hashes = {file.file: file.sha256 for file in manifest.files}
    recordings = decode_examination((draft / DOCUMENT).read_bytes(), DOCUMENT).recordings()
    for recording in recordings:
        if hashes.get(recording.file) != recording.sha256:
            raise PackageError(
                f'The recording "{recording.file}" is missing, or is another one.',
                "The package is not the whole examination.",
                ASK,
            )
    return len(recordings)


def _check_space(draft: Path, manifest: Manifest) -> None:
    need, free = sum(file.size for file in manifest.files), shutil.disk_usage(draft).free
    if need > free:
        raise FolderError(
            f"Unpacked, the package takes {need / 1e6:.0f} MB; {free / 1e6:.0f} MB are free.",
            "",
            "Make room, or name a folder on another disk.",
        )
