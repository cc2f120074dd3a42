"""Which signal a recording made elsewhere belongs to, found by the documents that lie around it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from loopback.errors import ArgumentError
from loopback.examination.signal_file import read_sheet
from loopback.signal.take import Signal

_SHEET_MARK = b'"loopback-signal"'
_LARGEST_SHEET_BYTES = 4096


def find_signal(places: Iterable[Path]) -> Signal:
    """Find the signal that was played: the one whose document lies in one of these folders.

    Parameters
    ----------
    places : iterable of Path
        Folders, such as that of the recording and the working folder.

    Returns
    -------
    Signal
        The only one there.

    Raises
    ------
    DocumentError
        If a document that looks like one is damaged.
    ArgumentError
        If there is none, or there are several that differ.
    """
    found: dict[Signal, Path] = {}
    searched = list(dict.fromkeys(place.absolute() for place in places))
    for place in searched:
        for document in sorted(place.glob("*.json")):
            if _looks_like_a_sheet(document):
                found.setdefault(read_sheet(document).signal, document)
    if not found:
        raise ArgumentError(
            "No document of a signal was found in " + ", ".join(f'"{p}"' for p in searched) + ".",
            "It lies beside the signal file and says what was played.",
            "Put it there, or name it with --signal; `loopback signal` writes one.",
        )
    if len(found) > 1:
        names = ", ".join(f'"{path}"' for path in found.values())
        raise ArgumentError(
            f"{len(found)} different signals were found: {names}.",
            "A recording fits only the signal that was played.",
            "Name the one that was with --signal.",
        )
    return next(iter(found))


def _looks_like_a_sheet(path: Path) -> bool:
    try:
        if path.stat().st_size > _LARGEST_SHEET_BYTES:
            return False
        return _SHEET_MARK in path.read_bytes()
    except OSError:
        return False
