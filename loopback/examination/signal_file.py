"""A signal as a file to be played elsewhere: 24-bit WAV, its document beside it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from loopback.errors import DocumentError, FolderError
from loopback.examination.atomic import sha256_of, sha256_of_chunks, write_new, write_over
from loopback.examination.wav24 import wav24_chunks
from loopback.signal.sheet import (
    TAKES_PER_FILE,
    SignalSheet,
    decode_sheet,
    encode_sheet,
    sheet_of,
)
from loopback.signal.take import Signal, render_take


def sheet_path(path: Path) -> Path:
    """Return the name of the document that belongs to a signal file.

    Parameters
    ----------
    path : Path
        The signal file.

    Returns
    -------
    Path
        The same name, ending in ``.json``.
    """
    return path.with_suffix(".json")


def write_signal_file(
    path: Path, signal: Signal, takes: int = TAKES_PER_FILE, *, overwrite: bool = False
) -> SignalSheet:
    """Write the takes of a signal one after the other, and the document beside them.

    Parameters
    ----------
    path : Path
        WAV file to make, one channel.
    signal : Signal
        What each take plays.
    takes : int
        How many.
    overwrite : bool
        Whether files of these two names may be replaced.

    Returns
    -------
    SignalSheet
        What was written beside it.

    Raises
    ------
    FolderError
        If one of the two exists and may not be replaced, or the disk refuses.
    """
    beside = sheet_path(path)
    if path.suffix.lower() not in (".wav", ".wave"):
        raise FolderError(
            f'"{path}" does not end in .wav.',
            "The signal is written as a WAV file.",
            "Choose a name that ends in .wav.",
        )
    for name in (path, beside):
        if name.exists() and not overwrite:
            raise FolderError(
                f'"{name}" exists already.', "It is not overwritten.", "Choose another name."
            )
    write = write_over if overwrite else write_new
    for name, chunks in signal_files(path, signal, takes):
        write(name, chunks)
    return sheet_of(signal, takes)


def read_sheet(path: Path) -> SignalSheet:
    """Read the document beside a signal file.

    Parameters
    ----------
    path : Path
        The WAV file or the document itself.

    Returns
    -------
    SignalSheet
        Checked.

    Raises
    ------
    DocumentError
        If it is missing or not such a document.
    """
    return decode_sheet(*read_beside(path, "the signal file plays"))


def read_beside(path: Path, what: str) -> tuple[bytes, str]:
    """Read the bytes of the document beside a file that is played.

    Parameters
    ----------
    path : Path
        The WAV file or the document itself.
    what : str
        What it says, for the message.

    Returns
    -------
    tuple of (bytes, str)
        And the document's name.

    Raises
    ------
    DocumentError
        If it cannot be read.
    """
    beside = sheet_path(path)
    try:
        return beside.read_bytes(), beside.name
    except OSError as error:
        raise DocumentError(
            f'"{beside}" cannot be read: {error.strerror or error}.',
            f"It says what {what}.",
            "Keep the two files together, or write them again.",
        ) from error


def place_signal_files(path: Path, signal: Signal) -> None:
    """Write a signal file and its document unless the very same bytes are there already.

    Parameters
    ----------
    path : Path
        Name of the WAV file.
    signal : Signal
        What each take plays.

    Raises
    ------
    FolderError
        If a file of one of the names holds something else, or the disk refuses.
    """
    for name, chunks in signal_files(path, signal):
        if not name.exists():
            write_new(name, chunks)
        elif sha256_of(name) != sha256_of_chunks(chunks):
            raise FolderError(
                f'"{name}" is not the signal of this examination.',
                "It is not overwritten.",
                "Choose another folder, or move that file.",
            )


def signal_files(
    path: Path, signal: Signal, takes: int = TAKES_PER_FILE
) -> tuple[tuple[Path, Iterable[bytes]], ...]:
    """Return names and bytes of a signal file and of the document beside it.

    Parameters
    ----------
    path : Path
        Name of the WAV file.
    signal : Signal
        What each take plays.
    takes : int
        How many follow each other.

    Returns
    -------
    tuple of (Path, iterable of bytes)
        The same signal always gives the same bytes.
    """
    samples = np.tile(render_take(signal), takes)
    return (
        (path, list(wav24_chunks(samples, signal.rate_hz))),
        (sheet_path(path), [encode_sheet(sheet_of(signal, takes))]),
    )
