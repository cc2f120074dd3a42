"""Audio files: the only module that knows the sound file library.

Samples are read as double precision, a fraction of full scale, never clipped and never repaired:
what is not a number stays so, and `loopback.examination.evidence` counts it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from loopback.arrays import F64
from loopback.errors import FolderError, MissingPartError, RecordingError
from loopback.examination.chunks import declared_data_bytes
from loopback.examination.pcm24 import plain_pcm24
from loopback.examination.wav24 import wav24_chunks

try:
    import soundfile
except (ImportError, OSError) as error:
    raise MissingPartError(
        f"The sound file library cannot be loaded: {error}.",
        "Without it no recording can be read.",
        "Install it: pip install soundfile",
    ) from error

_SUFFIXES = {
    "WAV": ".wav",
    "WAVEX": ".wav",
    "RF64": ".wav",
    "W64": ".w64",
    "AIFF": ".aiff",
    "CAF": ".caf",
    "FLAC": ".flac",
}
_SAMPLE_BYTES = {
    "PCM_S8": 1,
    "PCM_U8": 1,
    "PCM_16": 2,
    "PCM_24": 3,
    "PCM_32": 4,
    "FLOAT": 4,
    "DOUBLE": 8,
}
_LOSSLESS = {*_SAMPLE_BYTES, "ALAC_16", "ALAC_20", "ALAC_24", "ALAC_32"}
_BLOCK_FRAMES = 1 << 14
_PLAUSIBLE_FRAMES_PER_BYTE = 64
_ACTION = "Record it again, or export it as a 24-bit WAV file."


@dataclass(frozen=True, slots=True)
class Header:
    """What a file says about itself.

    Parameters
    ----------
    container, subtype : str
        Such as ``"WAV"`` and ``"PCM_24"``, as the sound file library calls them.
    rate_hz, channels : int
        Sample rate and number of channels.
    frames : int or None
        Frames that can be read; None: only reading tells (a compressed stream of unstated length).
    declared_frames : int or None
        Frames that the header promises; more than `frames` when the file was cut short. None: it
        does not say, as after a recorder lost its power.
    """

    container: str
    subtype: str
    rate_hz: int
    channels: int
    frames: int | None
    declared_frames: int | None

    @property
    def is_float(self) -> bool:
        """Whether samples may exceed full scale."""
        return self.subtype in ("FLOAT", "DOUBLE")

    @property
    def suffix(self) -> str:
        """File name ending that fits the container."""
        return _SUFFIXES[self.container]


def read_header(path: Path) -> Header:
    """Read what a file says about itself, without its samples.

    Parameters
    ----------
    path : Path
        WAV, RF64, W64, AIFF, CAF or FLAC file of PCM or floating-point samples.

    Returns
    -------
    Header
        Container, sample format, rate, channels, frames.

    Raises
    ------
    RecordingError
        If the file cannot be opened, is no such file, or was stored with losses.
    """
    with _opened(path) as file:
        return _header_of(file, path)


def read_samples(path: Path) -> tuple[F64, int]:
    """Read all samples of a file.

    A file that was cut short gives what it holds; compare with `Header.declared_frames`.

    Parameters
    ----------
    path : Path
        See `read_header`.

    Returns
    -------
    samples : ndarray of float64, shape (n, channels)
        Fraction of full scale; floating-point files may exceed 1 and may hold nan and inf.
    rate_hz : int
        Sample rate as the header says.

    Raises
    ------
    RecordingError
        If `read_header` would raise it, or the file holds no samples at all.
    """
    try:
        with _opened(path) as file:
            header = _header_of(file, path)
            samples = None
            if (header.container, header.subtype) == ("WAV", "PCM_24"):
                samples = plain_pcm24(path, header.channels, file.frames)
            if samples is None:
                samples = _read_at_once(file, path)
        if samples is None:
            with _opened(path) as file:
                samples = _read_blockwise(file)
    except MemoryError:
        raise RecordingError(
            f'"{path.name}" is too long to be read into memory.',
            "A recording of two takes lasts under a minute.",
            "Cut it to the part with the signal.",
        ) from None
    if samples.shape[0] == 0:
        size = path.stat().st_size
        raise RecordingError(
            f'"{path.name}" holds 0 samples, in a file of {size} bytes.',
            "Nothing was recorded, or the recorder lost power before it could finish the file.",
            "Record it again, or let the recorder or an audio editor repair the file.",
        )
    return samples, header.rate_hz


def write_wav24(path: Path, samples: F64, rate_hz: int) -> None:
    """Write samples as a new 24-bit WAV file; an existing file is never overwritten.

    For a recording inside an examination use `ExaminationFolder.append_recording`, which cannot
    leave half a file behind.

    Parameters
    ----------
    path : Path
        File to make.
    samples : ndarray of float64, shape (n, channels) or (n,)
        Fraction of full scale; see `wav24_chunks`.
    rate_hz : int
        Sample rate.

    Raises
    ------
    ArgumentError
        See `wav24_chunks`.
    FolderError
        If the file exists or cannot be written.
    """
    chunks = wav24_chunks(samples, rate_hz)
    head = next(chunks)  # what is wrong with the samples shows before a file exists
    try:
        with path.open("xb") as file:
            file.write(head)
            file.writelines(chunks)
    except FileExistsError:
        raise FolderError(
            f'"{path}" exists already.', "It is not overwritten.", "Choose another name."
        ) from None
    except OSError as error:
        raise FolderError(f'"{path}" cannot be written: {error.strerror or error}.') from error


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open for reading; everything foreign that goes wrong becomes a RecordingError."""
    name = path.name
    try:
        if not path.is_file():
            what = "is a folder or no ordinary file" if path.exists() else "does not exist"
            raise RecordingError(f'"{path}" {what}.', "", "Check the name.")
        if path.stat().st_size == 0:
            raise RecordingError(
                f'"{name}" is empty (0 bytes).', "Nothing was written into it.", "Record it again."
            )
        with path.open("rb") as probe:  # permissions and broken media show here, with a reason
            _refuse_kind(probe.read(12), name)
        # bytes: any name the system allows, also one that is not valid text
        target = str(path) if sys.platform == "win32" else os.fsencode(path)
        with soundfile.SoundFile(target, "r") as file:
            yield file
    except soundfile.SoundFileError as error:
        reason = str(getattr(error, "error_string", error)).rstrip(".")
        raise RecordingError(
            f'"{name}" is not a sound file that can be read ({reason}).',
            "It is another kind of file, or its beginning is damaged.",
            _ACTION,
        ) from error
    except (TypeError, ValueError) as error:  # a name ending in .raw, a null character in it
        raise RecordingError(
            f'"{name}" cannot be opened as a sound file: {error}.', "", "Rename it to end in .wav."
        ) from error
    except OSError as error:
        raise RecordingError(
            f'"{name}" cannot be read: {error.strerror or error}.', "", "Check the file and disk."
        ) from error


def _refuse_kind(first: bytes, name: str) -> None:
    """Refuse what is not one of our containers before the library tries to decode it."""
    if first[:4] in (b"RIFF", b"RIFX", b"RF64", b"riff", b"FORM", b"caff", b"fLaC"):
        return
    shown = ascii(first[:4].decode("latin-1"))
    if first[:3] == b"ID3" or first[:4] == b"OggS" or first[4:8] == b"ftyp" or first[:1] == b"\xff":
        raise RecordingError(
            f'"{name}" is a compressed file (it begins with {shown}).',
            "Such files leave out part of the sound, and that part is what is measured here.",
            "Set the recorder to 24-bit WAV and record it again.",
        )
    raise RecordingError(
        f'"{name}" is not a sound file (it begins with {shown}).',
        "WAV, AIFF, CAF and FLAC files can be read.",
        "Check that it is the right file.",
    )


def _header_of(file: Any, path: Path) -> Header:
    container, subtype = str(file.format), str(file.subtype)
    if container not in _SUFFIXES or subtype not in _LOSSLESS:
        raise RecordingError(
            f'"{path.name}" holds {subtype} samples in a {container} file.',
            "Only what was stored without losses can be measured.",
            "Set the recorder to 24-bit WAV and record it again.",
        )
    rate_hz, channels, frames = int(file.samplerate), int(file.channels), int(file.frames)
    if rate_hz < 1 or channels < 1:
        raise RecordingError(
            f'"{path.name}" states {rate_hz} Hz and {channels} channels.',
            "Its beginning is damaged.",
            _ACTION,
        )
    size = path.stat().st_size
    readable = frames if 0 <= frames <= size * _PLAUSIBLE_FRAMES_PER_BYTE else None
    declared = readable
    frame_bytes = channels * _SAMPLE_BYTES.get(subtype, 0)
    if container in ("WAV", "WAVEX", "RF64", "AIFF") and frame_bytes:
        data_bytes = declared_data_bytes(path)
        declared = None if data_bytes is None else data_bytes // frame_bytes
    return Header(container, subtype, rate_hz, channels, readable, declared)


def _read_at_once(file: Any, path: Path) -> F64 | None:
    """Return all samples, or None when the stream breaks off or its stated length is absurd."""
    if not 0 <= file.frames <= path.stat().st_size * _PLAUSIBLE_FRAMES_PER_BYTE:
        return None
    try:
        samples: F64 = file.read(dtype="float64", always_2d=True)
    except soundfile.LibsndfileError:
        return None
    return samples


def _read_blockwise(file: Any) -> F64:
    """Return what can be read before the stream breaks off."""
    blocks: list[F64] = [np.empty((0, file.channels))]
    while True:
        try:
            block = file.read(_BLOCK_FRAMES, dtype="float64", always_2d=True)
        except soundfile.LibsndfileError:
            break
        blocks.append(block)
        if len(block) < _BLOCK_FRAMES:
            break
    return np.concatenate(blocks)
