"""Presses and taps recorded elsewhere: what is played meanwhile as a file, and its document."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from loopback.errors import ArgumentError, FolderError
from loopback.examination.atomic import write_new
from loopback.examination.signal_file import read_beside, sheet_path
from loopback.examination.wav24 import wav24_chunks
from loopback.signal.sheet import encode_sheet
from loopback.signal.watch import Watch, WatchKind, render_watch
from loopback.signal.watch_sheet import (
    WATCH_SHEET_VERSION,
    WatchSheet,
    decode_watch_sheet,
)

_MARK = b'"loopback-watch"'
_LARGEST_BYTES = 4096


def write_watch_file(path: Path, watch: Watch, rate_hz: int) -> None:
    """Write what is played while somebody presses or taps, and the document beside it.

    Parameters
    ----------
    path : Path
        WAV file to make, one channel.
    watch : Watch
        What it plays.
    rate_hz : int
        Sample rate.

    Raises
    ------
    ArgumentError
        If the watch cannot be.
    FolderError
        If one of the two exists, or the disk refuses.
    """
    beside = sheet_path(path)
    if beside == path:
        raise FolderError(f'"{path}" ends in .json.', "", "Choose a name that ends in .wav.")
    samples = render_watch(watch, rate_hz)
    for name in (path, beside):
        if name.exists():
            raise FolderError(
                f'"{name}" exists already.', "It is not overwritten.", "Choose another name."
            )
    write_new(path, wav24_chunks(samples, rate_hz))
    sheet = WatchSheet(WATCH_SHEET_VERSION, watch, rate_hz)
    write_new(beside, [encode_sheet(sheet)])


def read_watch_sheet(path: Path) -> WatchSheet:
    """Read the document beside such a file.

    Parameters
    ----------
    path : Path
        The WAV file or the document itself.

    Returns
    -------
    WatchSheet
        Checked.

    Raises
    ------
    DocumentError
        If it is missing or not such a document.
    """
    return decode_watch_sheet(*read_beside(path, "was played while somebody pressed or tapped"))


def find_watch(places: Iterable[Path], kind: WatchKind) -> Watch:
    """Find what was played: the only document of that kind in these folders.

    Parameters
    ----------
    places : iterable of Path
        Folders, such as that of the recording and the working folder.
    kind : {"presses", "tap"}
        What was done.

    Returns
    -------
    Watch
        The only one there.

    Raises
    ------
    DocumentError
        If a document that looks like one is damaged.
    ArgumentError
        If there is none, or there are several that differ.
    """
    found: dict[Watch, Path] = {}
    for place in dict.fromkeys(place.absolute() for place in places):
        for document in sorted(place.glob("*.json")):
            if _looks_like_one(document):
                watch = read_watch_sheet(document).watch
                if watch.kind == kind:
                    found.setdefault(watch, document)
    option = "--presses 20" if kind == "presses" else "--tap 20"
    if not found:
        raise ArgumentError(
            f"No document says what was played during the {kind}.",
            "It lies beside the file that was played.",
            f"Name it with --signal; loopback signal FILE.wav {option} writes one.",
        )
    if len(found) > 1:
        names = ", ".join(f'"{path.name}"' for path in found.values())
        raise ArgumentError(
            f"{len(found)} documents fit: {names}.",
            "A recording fits only what was played.",
            "Name the one that was with --signal.",
        )
    return next(iter(found))


def _looks_like_one(path: Path) -> bool:
    try:
        return path.stat().st_size <= _LARGEST_BYTES and _MARK in path.read_bytes()
    except OSError:
        return False
