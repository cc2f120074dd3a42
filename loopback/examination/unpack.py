"""From one file that somebody sent to the folder of an examination, trusting nothing in it.

Files go to a hidden folder beside the wanted one, which gets its name only when every hash fits.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import shutil
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import msgspec

from loopback.errors import FolderError, PackageError
from loopback.examination.document import decode_examination
from loopback.examination.package import (
    MANIFEST,
    MOST_BYTES,
    MOST_FILES,
    MOST_MANIFEST_BYTES,
    PACKAGE_VERSION,
    Manifest,
    PackedFile,
    clashes,
    name_problem,
)
from loopback.examination.stored import DOCUMENT, absolute

_CHUNK = 1 << 16
_ASK = "Ask whoever sent it to pack it again."
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    ValueError,
    OverflowError,
    NotImplementedError,
    RuntimeError,
    IndexError,
    KeyError,
)
"""What reading a damaged ZIP file can end in."""


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


class _Head(msgspec.Struct):
    format: str = ""
    version: int = 0


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
    with _opened(package) as archive:
        manifest, top = _manifest(archive)
        entries = _entries(archive, manifest, top, most_bytes)
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


@contextmanager
def _opened(package: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with package.open("rb") as file:
            try:
                archive = zipfile.ZipFile(file)
            except _DAMAGED as error:
                raise PackageError(
                    f'"{package.name}" is no package that can be opened.',
                    "It was cut short on its way, damaged, or is another kind of file.",
                    "Copy it again, or ask for it again.",
                ) from error
            with archive:
                yield archive
    except OSError as error:
        if isinstance(error, FolderError):
            raise
        raise PackageError(
            f'"{package}" cannot be read: {error.strerror or error}.', "", "Check the name."
        ) from error


def _manifest(archive: zipfile.ZipFile) -> tuple[Manifest, str]:
    """Read the list of files, and the name of the one folder that everything lies in."""
    entries = archive.infolist()
    if len(entries) > 2 * MOST_FILES:
        raise PackageError(f"The package holds {len(entries)} files; too many.", "", _ASK)
    found = [e for e in entries if e.filename.count("/") == 1 and _last(e.filename) == MANIFEST]
    if len(found) != 1:
        raise PackageError(
            f"The file holds {len(found)} lists of contents ({MANIFEST}); a package has one.",
            "It is an ordinary archive, or was changed.",
            "Packages are made by:  loopback pack FOLDER",
        )
    entry = found[0]
    if entry.file_size > MOST_MANIFEST_BYTES:
        raise PackageError(f"The list of contents has {entry.file_size} bytes; too many.", "", _ASK)
    data = b"".join(_chunks(archive, entry, entry.file_size))
    try:
        head = msgspec.json.decode(data, type=_Head)
        if head.format == "loopback-package" and head.version > PACKAGE_VERSION:
            raise PackageError(
                f"The package has version {head.version}.",
                f"This program knows versions up to {PACKAGE_VERSION}; a newer one packed it.",
                "Install the newer program.",
            )
        return msgspec.json.decode(data, type=Manifest), entry.filename.split("/")[0]
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise PackageError(f"{MANIFEST}: {error}.", "The package was changed.", _ASK) from error


def _entries(
    archive: zipfile.ZipFile, manifest: Manifest, top: str, most_bytes: int
) -> dict[str, zipfile.ZipInfo]:
    """Hold what is in the file to what is listed; nothing has been written yet."""
    if len(manifest.files) > MOST_FILES:
        raise PackageError(f"The package lists {len(manifest.files)} files; too many.", "", _ASK)
    for file in manifest.files:
        if problem := name_problem(file.file):
            raise PackageError(f"The package holds {file.file!a}: it {problem}.", "", _ASK)
    for name in clashes(file.file for file in manifest.files):
        raise PackageError(f'The package holds "{name}" twice.', "", _ASK)
    total = sum(max(file.size, 0) for file in manifest.files)
    if total > most_bytes or any(file.size < 0 for file in manifest.files):
        raise PackageError(
            f"Unpacked, the package would take {total / 1e9:.1f} GB.",
            f"The limit is {most_bytes / 1e9:.1f} GB; no examination needs as much.",
            _ASK,
        )
    listed = {file.file: file for file in manifest.files}
    if DOCUMENT not in listed:
        raise PackageError(f"The package holds no {DOCUMENT}.", "It is no examination.", _ASK)
    found: dict[str, zipfile.ZipInfo] = {}
    for entry in archive.infolist():
        inside = entry.filename.removeprefix(f"{top}/")
        if inside == MANIFEST or (entry.is_dir() and not entry.file_size):
            continue
        if not entry.filename.startswith(f"{top}/") or inside not in listed:
            raise PackageError(
                f"The package holds {entry.filename!a}, which it does not list.",
                "It was changed after it was packed.",
                _ASK,
            )
        if inside in found:
            raise PackageError(f'The package holds "{inside}" twice.', "", _ASK)
        _check_kind(entry, inside)
        if entry.file_size != listed[inside].size:
            raise PackageError(f'"{inside}" does not have the size that is listed.', "", _ASK)
        found[inside] = entry
    for name in listed:
        if name not in found:
            raise PackageError(f'The package lists "{name}" and does not hold it.', "", _ASK)
    return found


def _check_kind(entry: zipfile.ZipInfo, name: str) -> None:
    mode = entry.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
        raise PackageError(f'"{name}" is a link or no ordinary file.', "", _ASK)
    if entry.flag_bits & 0x1:
        raise PackageError(f'"{name}" is encrypted.', "", _ASK)
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise PackageError(f'"{name}" is compressed in a way that packages do not use.', "", _ASK)


def _extract(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, file: PackedFile, to: Path) -> None:
    path = to / file.file
    path.parent.mkdir(parents=True, exist_ok=True)
    digest = hashlib.sha256()
    with path.open("xb") as out:
        for chunk in _chunks(archive, entry, file.size):
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


def _chunks(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, size: int) -> Iterator[bytes]:
    """Yield the bytes of one file, and never more of them than it is said to have."""
    left = size
    try:
        with archive.open(entry) as file:
            while chunk := file.read(_CHUNK):
                left -= len(chunk)
                if left < 0:
                    break
                yield chunk
    except _DAMAGED as error:
        raise PackageError(
            f"{_last(entry.filename)!a} in the package cannot be read.",
            "The package was cut short on its way, or damaged.",
            "Copy it again, or ask for it again.",
        ) from error
    if left:
        raise PackageError(
            f"{_last(entry.filename)!a} does not have the size that is listed.", "", _ASK
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
                _ASK,
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


def _last(name: str) -> str:
    return name.rsplit("/", 1)[-1]
