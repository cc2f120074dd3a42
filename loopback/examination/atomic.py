"""Files that are complete or absent, whenever the program is killed or the power fails.

Bytes go to a hidden partial name in the same folder, are forced to the disk, and only then get
their name; the folder entry is forced to the disk too. A partial file that was left behind is
ignored by everything else.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import sys
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from loopback.errors import FolderError

PARTIAL_SUFFIX = ".partial"
_CHUNK_BYTES = 1 << 18


def write_new(target: Path, chunks: Iterable[bytes], expected_sha256: str = "") -> str:
    """Write a new file; what has that name already is never overwritten.

    Parameters
    ----------
    target : Path
        Name of the file; its folder exists.
    chunks : iterable of bytes
        The contents.
    expected_sha256 : str
        What they must hash to; empty: anything.

    Returns
    -------
    str
        SHA-256 of the contents, lower-case hexadecimal.

    Raises
    ------
    FolderError
        If the name is taken, the contents are not the expected ones, or the disk refuses; nothing
        is left under the name then.
    """
    return _write(target, chunks, expected_sha256)


def write_over(target: Path, chunks: Iterable[bytes]) -> str:
    """Write a file that takes the place of an earlier one in one instant.

    Parameters
    ----------
    target : Path
        Name of the file, whether there is one or not.
    chunks : iterable of bytes
        The contents.

    Returns
    -------
    str
        SHA-256 of the contents, lower-case hexadecimal.

    Raises
    ------
    FolderError
        If the disk refuses; the earlier file is untouched then.
    """
    return _write(target, chunks, replace=True)


def file_chunks(path: Path) -> Iterator[bytes]:
    """Yield the bytes of a file in pieces of a quarter megabyte.

    Parameters
    ----------
    path : Path
        An existing file.

    Yields
    ------
    bytes
        In order.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK_BYTES):
            yield chunk


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes.

    Parameters
    ----------
    path : Path
        An existing file.

    Returns
    -------
    str
        Lower-case hexadecimal.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    return sha256_of_chunks(file_chunks(path))


def sha256_of_chunks(chunks: Iterable[bytes]) -> str:
    """Return the SHA-256 of bytes that come in pieces.

    Parameters
    ----------
    chunks : iterable of bytes
        In order.

    Returns
    -------
    str
        Lower-case hexadecimal.
    """
    digest = hashlib.sha256()
    for chunk in chunks:
        digest.update(chunk)
    return digest.hexdigest()


def is_hidden(path: Path) -> bool:
    """Whether a file is hidden, as a partial one is, and so no recording.

    Parameters
    ----------
    path : Path
        Only its name counts.

    Returns
    -------
    bool
        True for a name that begins with a point.
    """
    return path.name.startswith(".")


def _write(
    target: Path, chunks: Iterable[bytes], expected_sha256: str = "", *, replace: bool = False
) -> str:
    partial = target.with_name(f".{target.name}.{secrets.token_hex(4)}{PARTIAL_SUFFIX}")
    digest = hashlib.sha256()
    try:
        with partial.open("xb") as file:
            for chunk in chunks:
                digest.update(chunk)
                file.write(chunk)
            file.flush()
            os.fsync(file.fileno())
        _compare(digest.hexdigest(), expected_sha256, target)
        if replace:
            partial.replace(target)
        else:
            _name_new(partial, target)
        _sync_folder(target.parent)
    except FolderError:
        raise
    except FileExistsError:
        raise FolderError(
            f'"{target}" exists already.', "Nothing measured is ever overwritten.", ""
        ) from None
    except OSError as error:
        raise FolderError(
            f'"{target}" cannot be written: {error.strerror or error}.',
            "What was there before is untouched.",
            "Check free space and write permission.",
        ) from error
    finally:
        with suppress(OSError):  # gone already, or the name itself was refused
            partial.unlink()
    return digest.hexdigest()


def _compare(sha256: str, expected: str, target: Path) -> None:
    if expected not in ("", sha256):
        raise FolderError(
            f'What should become "{target}" has changed since it was recorded.',
            "Its SHA-256 is no longer the one that was listed.",
            "Restore the original from a copy, or record it anew.",
        )


def _name_new(partial: Path, target: Path) -> None:
    """Give a complete file its name, unless that is taken."""
    try:
        os.link(partial, target)  # unlike renaming, this fails where the name is taken
    except FileExistsError:
        raise
    except OSError:  # a file system without links; the writer's lock keeps our own kind away
        if target.exists():
            raise FileExistsError(target) from None
        partial.rename(target)


def _sync_folder(folder: Path) -> None:
    if sys.platform == "win32":  # a folder cannot be opened there, and needs no syncing
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
