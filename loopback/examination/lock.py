"""One writer at a time: an advisory lock that ends with the process that holds it."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from loopback.errors import FolderError

LOCK_NAME = ".writer.lock"
_POLL_S = 0.02


@contextmanager
def writer_lock(folder: Path, wait_s: float = 10.0) -> Iterator[None]:
    """Hold the right to write into a folder.

    The system gives the lock back when the process ends, however it ends; the empty lock file
    stays and means nothing by itself.

    Parameters
    ----------
    folder : Path
        An existing folder.
    wait_s : float
        How long to wait for another writer, seconds.

    Yields
    ------
    None
        While the lock is held.

    Raises
    ------
    FolderError
        If another process is still writing then, or the folder cannot be written to.
    """
    try:
        file = (folder / LOCK_NAME).open("ab")
    except OSError as error:
        raise FolderError(
            f'"{folder}" cannot be written to: {error.strerror or error}.',
            "Reading it still works.",
            "Check that the folder exists and its write permission.",
        ) from error
    with file:
        _wait_for(file, folder, wait_s)
        yield  # closing the file gives the lock back


def _wait_for(file: BinaryIO, folder: Path, wait_s: float) -> None:
    until = time.monotonic() + wait_s
    while True:
        try:
            if _try_lock(file):
                return
        except OSError as error:
            raise FolderError(
                f'"{folder}" lies where files cannot be locked: {error.strerror or error}.',
                "Two programs could then write at the same time and lose a recording.",
                "Move the folder to a local disk.",
            ) from error
        if time.monotonic() >= until:
            raise FolderError(
                f'Another program has been writing into "{folder}" for {wait_s:g} s.',
                "Only one may write at a time.",
                "Wait until it has finished, then try again.",
            )
        time.sleep(_POLL_S)


if sys.platform == "win32":
    import msvcrt

    def _try_lock(file: BinaryIO) -> bool:
        file.seek(0)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except PermissionError:  # held by somebody else
            return False
        return True

else:
    import fcntl

    def _try_lock(file: BinaryIO) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:  # held by somebody else
            return False
        return True
