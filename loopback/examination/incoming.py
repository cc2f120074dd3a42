"""What is about to become a recording: its bytes, and what will be listed about them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from loopback.errors import ArgumentError, RecordingError
from loopback.examination.atomic import file_chunks
from loopback.examination.records import Recording
from loopback.examination.wav import read_header, read_samples
from loopback.examination.wav24 import wav24_chunks
from loopback.rig.protocol import Recorded


@dataclass(frozen=True, slots=True)
class Incoming:
    """A recording before it has a place in the folder.

    Parameters
    ----------
    suffix : str
        File name ending.
    chunks : iterable of bytes
        The file's contents; can be read once.
    draft : Recording
        What will be listed, before the file has its name and its hash. `made` is now; for a file
        the time it was last changed.
    """

    suffix: str
    chunks: Iterable[bytes]
    draft: Recording


def incoming_of(recorded: Recorded) -> Incoming:
    """Prepare what a rig handed over: samples as 24-bit WAV, a file byte for byte.

    Parameters
    ----------
    recorded : Recorded
        Either samples or a file. For a file the rate is what its header says.

    Returns
    -------
    Incoming
        Ready to be written.

    Raises
    ------
    ArgumentError
        If there are neither samples nor a file, or both.
    RecordingError
        If the file holds no audio that can be read.
    """
    samples, file = recorded.samples, recorded.file
    if samples is not None and file is None:
        channels = 1 if samples.ndim == 1 else samples.shape[-1]
        draft = _draft(recorded, recorded.rate_hz, channels, len(samples), now_text())
        return Incoming(".wav", wav24_chunks(samples, recorded.rate_hz), draft)
    if file is None or samples is not None:
        raise ArgumentError("A recording is either samples or a file.")
    header = read_header(file)
    frames = header.frames
    if frames is None:
        frames = len(read_samples(file)[0])
    draft = _draft(recorded, header.rate_hz, header.channels, frames, _changed_text(file))
    return Incoming(
        header.suffix, source_chunks(file), msgspec.structs.replace(draft, origin=file.name)
    )


def source_chunks(file: Path) -> Iterator[bytes]:
    """Yield the bytes of a file to be copied; its own trouble is told from that of the target.

    Parameters
    ----------
    file : Path
        An existing file.

    Yields
    ------
    bytes
        In order.

    Raises
    ------
    RecordingError
        If it cannot be read.
    """
    try:
        yield from file_chunks(file)
    except OSError as error:
        raise RecordingError(
            f'"{file}" cannot be read: {error.strerror or error}.',
            "Nothing was added.",
            "Check the file and its disk.",
        ) from error


def now_text() -> str:
    """Return the present time.

    Returns
    -------
    str
        ISO 8601 with offset, to the second.
    """
    return datetime.now().astimezone().isoformat(timespec="seconds")


def valid_text(text: str) -> str:
    """Return a file name as text that can be stored.

    Parameters
    ----------
    text : str
        Possibly with bytes of a foreign encoding in it, as the system hands them over.

    Returns
    -------
    str
        What is no letter has become a question mark.
    """
    return text.encode("utf-8", "replace").decode()


def _draft(recorded: Recorded, rate_hz: int, channels: int, frames: int, made: str) -> Recording:
    return Recording(
        file="",
        sha256="0" * 64,
        rate_hz=rate_hz,
        channels=channels,
        frames=frames,
        kind=recorded.kind,
        made=made,
        expected_start=recorded.expected_start,
        flags=tuple(recorded.flags),
        watch=msgspec.UNSET if recorded.watch is None else recorded.watch,
    )


def _changed_text(file: Path) -> str:
    changed = datetime.fromtimestamp(file.stat().st_mtime, tz=UTC)
    return changed.astimezone().isoformat(timespec="seconds")
