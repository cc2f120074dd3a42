"""Recordings made elsewhere, put into an examination.

Each file becomes a run of its own, because whoever plays the signal twice has usually touched
something in between, and two runs can be compared where two takes cannot. Only when the user says
that nothing was touched does a file join the latest imported run of the very same label.
Identical files are taken in like any other: the quality gates say so, nothing is dropped.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from loopback.errors import ArgumentError, DocumentError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Recording
from loopback.examination.signal_file import read_sheet
from loopback.examination.wav import read_header
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded, RecordingKind
from loopback.signal.take import Signal

_SHEET_MARK = b'"loopback-signal"'
_LARGEST_SHEET_BYTES = 4096


def add_recording(
    folder: ExaminationFolder,
    file: Path,
    label: RunLabel,
    channel: int | None = None,
    *,
    check_channel: int | None = None,
    kind: RecordingKind = "sweep",
    repeats: str = "",
    untouched: bool = False,
) -> tuple[str, Recording]:
    """Copy a recording into an examination, byte for byte.

    Parameters
    ----------
    folder : ExaminationFolder
        Where to.
    file : Path
        The recording; it stays where it is.
    label : RunLabel
        What was connected.
    channel : int or None
        Channel of the pedal path, from 0; None: find it from the data.
    check_channel : int or None
        Channel of the check cable, from 0; None: there was none.
    kind : {"sweep", "silence"}
        What was recorded.
    repeats : str
        Id of the run that it takes the place of; that one is kept. Empty: none.
    untouched : bool
        True: nothing was touched since the latest imported run of this label; join that run.

    Returns
    -------
    run_id : str
        The run it is in.
    recording : Recording
        As listed.

    Raises
    ------
    RecordingError
        If the file holds no audio that can be read; nothing is added then.
    ArgumentError
        If it has no such channel, or there is no run to join.
    FolderError
        If the folder cannot be written to.
    """
    header = read_header(file)
    for asked in (channel, check_channel):
        if asked is not None and not 0 <= asked < header.channels:
            raise ArgumentError(
                f'Channel {asked + 1} was asked for; "{file.name}" has {header.channels}.',
                "",
                "Leave it out: the channel is found from the data.",
            )
    recorded = Recorded(kind, header.rate_hz, None, file)
    if not untouched:
        return folder.append_run_with(
            label, recorded, path_channel=channel, check_channel=check_channel, repeats=repeats
        )
    counting = folder.document.counting_runs()
    joined = [r.id for r in counting if r.label == label and any(x.origin for x in r.recordings)]
    if not joined:
        raise ArgumentError(
            "There is no imported run of the same label to join.", "", "Add it as a new run."
        )
    run_id = joined[-1]
    return run_id, folder.append_recording(
        run_id, recorded, path_channel=channel, check_channel=check_channel
    )


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
        If there is none, or a document that looks like one is damaged.
    ArgumentError
        If there are several that differ.
    """
    found: dict[Signal, Path] = {}
    searched = list(dict.fromkeys(place.absolute() for place in places))
    for place in searched:
        for document in sorted(place.glob("*.json")):
            if _looks_like_a_sheet(document):
                found.setdefault(read_sheet(document).signal, document)
    if not found:
        raise DocumentError(
            "No document of a signal was found in " + ", ".join(f'"{p}"' for p in searched) + ".",
            "It lies beside the signal file and says what was played.",
            "Put it there, or name it.",
        )
    if len(found) > 1:
        names = ", ".join(f'"{path}"' for path in found.values())
        raise ArgumentError(
            f"{len(found)} different signals were found: {names}.",
            "A recording fits only the signal that was played.",
            "Name the one that was.",
        )
    return next(iter(found))


def _looks_like_a_sheet(path: Path) -> bool:
    try:
        if path.stat().st_size > _LARGEST_SHEET_BYTES:
            return False
        return _SHEET_MARK in path.read_bytes()
    except OSError:
        return False
