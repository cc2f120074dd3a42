"""What is about to become a recording: its bytes, and what will be listed about them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from loopback.errors import ArgumentError, RecordingError
from loopback.examination.atomic import file_chunks
from loopback.examination.wav import read_header, read_samples, wav24_chunks
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
    rate_hz, channels, frames : int
        As its header says.
    made : str
        Now; for a file, the time it was last changed. ISO 8601 with offset.
    origin : str
        File name it comes from; empty for samples.
    """

    suffix: str
    chunks: Iterable[bytes]
    rate_hz: int
    channels: int
    frames: int
    made: str
    origin: str


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
        return Incoming(
            suffix=".wav",
            chunks=wav24_chunks(samples, recorded.rate_hz),
            rate_hz=recorded.rate_hz,
            channels=channels,
            frames=len(samples),
            made=now_text(),
            origin="",
        )
    if file is None or samples is not None:
        raise ArgumentError("A recording is either samples or a file.")
    header = read_header(file)
    frames = header.frames
    if frames is None:
        frames = len(read_samples(file)[0])
    return Incoming(
        suffix=header.suffix,
        chunks=source_chunks(file),
        rate_hz=header.rate_hz,
        channels=header.channels,
        frames=frames,
        made=_changed_text(file),
        origin=file.name,
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
    """Return the present time as ISO 8601 with offset, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def valid_text(text: str) -> str:
    """Return a file name as text that can be stored: what is no letter becomes a question mark."""
    return text.encode("utf-8", "replace").decode()


def _changed_text(file: Path) -> str:
    changed = datetime.fromtimestamp(file.stat().st_mtime, tz=UTC)
    return changed.astimezone().isoformat(timespec="seconds")
