"""What a package that somebody sent says it holds, read and judged before anything is written."""

from __future__ import annotations

import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from loopback.errors import FolderError, PackageError
from loopback.examination.package import (
    MANIFEST,
    MOST_FILES,
    MOST_MANIFEST_BYTES,
    PACKAGE_VERSION,
    Manifest,
    clashes,
    name_problem,
)
from loopback.examination.stored import DOCUMENT

_CHUNK = 1 << 16
ASK = "Ask whoever sent it to pack it again."
_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    ValueError,
    OverflowError,
    RuntimeError,
    IndexError,
    KeyError,
)
"""What reading a damaged ZIP file can end in."""


class _Head(msgspec.Struct):
    format: str = ""
    version: int = 0


@contextmanager
def opened(package: Path) -> Iterator[zipfile.ZipFile]:
    """Open a package.

    Parameters
    ----------
    package : Path
        The file.

    Yields
    ------
    zipfile.ZipFile
        Nothing of it is trusted yet.

    Raises
    ------
    PackageError
        If it cannot be read, or is no ZIP file.
    """
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


def manifest_of(archive: zipfile.ZipFile) -> tuple[Manifest, str]:
    """Read the list of files.

    Parameters
    ----------
    archive : zipfile.ZipFile
        A package.

    Returns
    -------
    manifest : Manifest
        As it stands there.
    top : str
        Name of the one folder that everything lies in.

    Raises
    ------
    PackageError
        If there is none, or not one, or it is damaged or newer than this program.
    """
    entries = archive.infolist()
    if len(entries) > 2 * MOST_FILES:
        raise PackageError(f"The package holds {len(entries)} files; too many.", "", ASK)
    found = [e for e in entries if e.filename.count("/") == 1 and _last(e.filename) == MANIFEST]
    if len(found) != 1:
        raise PackageError(
            f"The file holds {len(found)} lists of contents ({MANIFEST}); a package has one.",
            "It is an ordinary archive, or was changed.",
            "Packages are made by:  loopback pack FOLDER",
        )
    entry = found[0]
    if entry.file_size > MOST_MANIFEST_BYTES:
        raise PackageError(f"The list of contents has {entry.file_size} bytes; too many.", "", ASK)
    data = b"".join(chunks_of(archive, entry, entry.file_size))
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
        raise PackageError(f"{MANIFEST}: {error}.", "The package was changed.", ASK) from error


def entries_of(
    archive: zipfile.ZipFile, manifest: Manifest, top: str, most_bytes: int
) -> dict[str, zipfile.ZipInfo]:
    """Hold what is in the file to what is listed.

    Parameters
    ----------
    archive : zipfile.ZipFile
        A package.
    manifest : Manifest
        Its list.
    top : str
        The folder in it.
    most_bytes : int
        Most that all files may take together.

    Returns
    -------
    dict of str to zipfile.ZipInfo
        Entry by name in the list; every name is sound.

    Raises
    ------
    PackageError
        If names, kinds, sizes or numbers of files are not what a package may have.
    """
    if len(manifest.files) > MOST_FILES:
        raise PackageError(f"The package lists {len(manifest.files)} files; too many.", "", ASK)
    for file in manifest.files:
        if problem := name_problem(file.file):
            raise PackageError(f"The package holds {file.file!a}: it {problem}.", "", ASK)
    for name in clashes(file.file for file in manifest.files):
        raise PackageError(f'The package holds "{name}" twice.', "", ASK)
    total = sum(max(file.size, 0) for file in manifest.files)
    if total > most_bytes or any(file.size < 0 for file in manifest.files):
        raise PackageError(
            f"Unpacked, the package would take {total / 1e9:.1f} GB.",
            f"The limit is {most_bytes / 1e9:.1f} GB; no examination needs as much.",
            ASK,
        )
    listed = {file.file: file for file in manifest.files}
    if DOCUMENT not in listed:
        raise PackageError(f"The package holds no {DOCUMENT}.", "It is no examination.", ASK)
    found: dict[str, zipfile.ZipInfo] = {}
    for entry in archive.infolist():
        inside = entry.filename.removeprefix(f"{top}/")
        if inside == MANIFEST or (entry.is_dir() and not entry.file_size):
            continue
        if not entry.filename.startswith(f"{top}/") or inside not in listed:
            raise PackageError(
                f"The package holds {entry.filename!a}, which it does not list.",
                "It was changed after it was packed.",
                ASK,
            )
        if inside in found:
            raise PackageError(f'The package holds "{inside}" twice.', "", ASK)
        _check_kind(entry, inside)
        if entry.file_size != listed[inside].size:
            raise PackageError(f'"{inside}" does not have the size that is listed.', "", ASK)
        found[inside] = entry
    for name in listed:
        if name not in found:
            raise PackageError(f'The package lists "{name}" and does not hold it.', "", ASK)
    return found


def chunks_of(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, size: int) -> Iterator[bytes]:
    """Yield the bytes of one file, and never more of them than it is said to have.

    Parameters
    ----------
    archive : zipfile.ZipFile
        A package.
    entry : zipfile.ZipInfo
        One of its files.
    size : int
        How many bytes it is said to have.

    Yields
    ------
    bytes
        In pieces.

    Raises
    ------
    PackageError
        If it cannot be read, or has another size.
    """
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
            f"{_last(entry.filename)!a} does not have the size that is listed.", "", ASK
        )


def _check_kind(entry: zipfile.ZipInfo, name: str) -> None:
    mode = entry.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
        raise PackageError(f'"{name}" is a link or no ordinary file.', "", ASK)
    if entry.flag_bits & 0x1:
        raise PackageError(f'"{name}" is encrypted.', "", ASK)
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise PackageError(f'"{name}" is compressed in a way that packages do not use.', "", ASK)


def _last(name: str) -> str:
    return name.rsplit("/", 1)[-1]
