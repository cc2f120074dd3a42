"""`examination.json` as bytes: strict in both directions, every complaint with its path."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import PurePosixPath

import msgspec

from loopback.errors import ArgumentError, DocumentError
from loopback.examination.records import FORMAT_VERSION, Examination, Recording, Setup
from loopback.plan.runs import RunLabel
from loopback.signal.sheet import signal_problem
from loopback.signal.watch import watch_problem

FORMAT_NAME = "loopback-examination"
RECORDINGS = "recordings"
_RUN_ID = re.compile(r"[0-9]{2,4}")
_SHA256 = re.compile(r"[0-9a-f]{64}")


class _Head(msgspec.Struct):
    """Enough of any document to tell whether it is ours and how new."""

    format: str = ""
    version: int = 0


def encode_examination(examination: Examination) -> bytes:
    """Write the document as indented JSON in UTF-8.

    Parameters
    ----------
    examination : Examination
        Plain Python values only.

    Returns
    -------
    bytes
        Decodes to an equal record.

    Raises
    ------
    ArgumentError
        If a value could not be read back: not finite, of another library's number type, no
        valid text, or against the rules of the format. The message names its path.
    """
    for path, problem in _unwritable(examination, "$"):
        raise ArgumentError(f"{problem} - at `{path}`.", "", "This is a fault of the program.")
    for path, problem in _problems(examination):
        raise ArgumentError(f"{problem} - at `{path}`.")
    return msgspec.json.format(msgspec.json.encode(examination), indent=2) + b"\n"


def decode_examination(data: bytes, name: str) -> Examination:
    """Read the document.

    Parameters
    ----------
    data : bytes
        JSON in UTF-8.
    name : str
        File name, for the message.

    Returns
    -------
    Examination
        Checked: ids, file names and the signal make sense.

    Raises
    ------
    DocumentError
        If it is damaged, of a newer version, or something else; the message names the path inside.
    """
    try:
        head = msgspec.json.decode(data, type=_Head)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise _damaged(name, _with_path(str(error))) from error
    if head.format != FORMAT_NAME:
        raise DocumentError(
            f'"{name}" has the format "{head.format}" - at `$.format`.',
            f'An examination has "{FORMAT_NAME}".',
            "Point to the folder of a pedal.",
        )
    if head.version > FORMAT_VERSION:
        raise DocumentError(
            f'"{name}" has version {head.version} - at `$.version`.',
            f"This program knows versions up to {FORMAT_VERSION}; a newer one wrote the folder.",
            "Install the newer program. The folder was left as it is.",
        )
    try:
        examination = msgspec.json.decode(data, type=Examination)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise _damaged(name, _with_path(str(error))) from error
    for path, problem in _problems(examination):
        raise _damaged(name, f"{problem} - at `{path}`")
    return examination


def _with_path(message: str) -> str:
    return message if "`$" in message else f"{message} - at `$`"


def _damaged(name: str, what: str) -> DocumentError:
    return DocumentError(
        f'"{name}": {what}.',
        "The document was changed or damaged; the recordings beside it are still there.",
        "Restore this file from a copy, or add the recordings to a new folder.",
    )


def _unwritable(value: object, path: str) -> Iterator[tuple[str, str]]:
    """Find what JSON would change or refuse. Exact types: numpy's float64 is a kind of float."""
    if isinstance(value, msgspec.Struct):
        for field in value.__struct_fields__:
            yield from _unwritable(getattr(value, field), f"{path}.{field}")
    elif type(value) is tuple:
        for index, item in enumerate(value):
            yield from _unwritable(item, f"{path}[{index}]")
    elif type(value) is float:
        if not math.isfinite(value):
            yield path, f"The number {value} cannot be stored"
    elif type(value) is str:
        if any("\ud800" <= letter <= "\udfff" for letter in value):
            yield path, f"The text {value!a} is not valid"
    elif value is not None and value is not msgspec.UNSET and type(value) not in (int, bool):
        yield path, f"A value of type {type(value).__module__}.{type(value).__name__} was given"


def _problems(examination: Examination) -> Iterator[tuple[str, str]]:
    """Find what the types alone do not forbid."""
    if problem := signal_problem(examination.signal):
        yield f"$.signal.{problem[0]}", problem[1]
    if not _is_time(examination.created):
        yield "$.created", f'"{examination.created}" is not a time with an offset'
    yield from _resistor_problems(examination.setup, "$.setup")
    run_ids: set[str] = set()
    repeated: set[str] = set()
    files: set[str] = set()
    for index, run in enumerate(examination.runs):
        path = f"$.runs[{index}]"
        if not _RUN_ID.fullmatch(run.id) or run.id in run_ids:
            yield f"{path}.id", f'"{run.id}" is no run number, or used twice'
        if run.repeats and (run.repeats not in run_ids or run.repeats in repeated):
            yield f"{path}.repeats", f'"{run.repeats}" is no earlier run, or repeated already'
        run_ids.add(run.id)
        repeated.add(run.repeats)
        yield from _resistor_problems(run.label, f"{path}.label")
        yield from _label_problems(run.label, f"{path}.label")
        for number, recording in enumerate(run.recordings):
            where = f"{path}.recordings[{number}]"
            yield from _recording_problems(recording, where)
            if recording.file.casefold() in files:
                yield f"{where}.file", f'"{recording.file}" is listed twice'
            files.add(recording.file.casefold())


def _resistor_problems(owner: RunLabel | Setup, path: str) -> Iterator[tuple[str, str]]:
    if owner.resistor_ohm is not None and not owner.resistor_ohm > 0:
        yield f"{path}.resistor_ohm", f"A resistance of {owner.resistor_ohm:g} ohm"
    if owner.resistor_tolerance is not None and not 0 <= owner.resistor_tolerance < 1:
        yield f"{path}.resistor_tolerance", f"A tolerance of {owner.resistor_tolerance:g}"


def _label_problems(label: RunLabel, path: str) -> Iterator[tuple[str, str]]:
    if label.load_ohm is not None and not label.load_ohm > 0:
        yield f"{path}.load_ohm", f"A resistance of {label.load_ohm:g} ohm"
    if not -120 <= label.level_db <= 0:
        yield f"{path}.level_db", f"A level {label.level_db:g} dB against the signal's"
    if label.mating < 0:
        yield f"{path}.mating", f"Plugged again {label.mating} times"


def _recording_problems(recording: Recording, path: str) -> Iterator[tuple[str, str]]:
    inside = PurePosixPath(recording.file)
    plain = len(inside.parts) == 2 and inside.parts[0] == RECORDINGS
    if not plain or re.search(r'[\\:*?"<>|\x00-\x1f]|^\.|[. ]$', inside.name):
        yield f"{path}.file", f"{recording.file!a} is no file in {RECORDINGS}/"
    if not _SHA256.fullmatch(recording.sha256):
        yield f"{path}.sha256", f"{recording.sha256!a} is no SHA-256"
    yield from _watch_problems(recording, path)
    if not _is_time(recording.made):
        yield f"{path}.made", f"{recording.made!a} is not a time with an offset"
    for field, lowest in (("rate_hz", 1), ("channels", 1), ("frames", 0)):
        value = getattr(recording, field)
        if value < lowest:
            yield f"{path}.{field}", f"{value} is too small"
    for field in ("path_channel", "check_channel"):
        channel = getattr(recording, field)
        if channel is not None and not 0 <= channel < recording.channels:
            yield f"{path}.{field}", f"Channel {channel} of {recording.channels}, counted from 0"
    if recording.expected_start is not None and recording.expected_start < 0:
        yield f"{path}.expected_start", f"{recording.expected_start} is too small"


def _watch_problems(recording: Recording, path: str) -> Iterator[tuple[str, str]]:
    watch = recording.watch
    if isinstance(watch, msgspec.UnsetType):
        if recording.kind in ("presses", "tap"):
            yield f"{path}.watch", f"A recording of the kind {recording.kind} without it"
        return
    if recording.kind != watch.kind:
        yield f"{path}.watch", f"A recording of the kind {recording.kind} does not have it"
    if problem := watch_problem(watch):
        yield f"{path}.watch.{problem[0]}", problem[1]


def _is_time(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False
