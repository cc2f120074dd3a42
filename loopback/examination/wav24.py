"""Samples as the bytes of a 24-bit WAV file: the same samples always give the same bytes."""

from __future__ import annotations

import struct
from collections.abc import Iterator

import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError

FULL_SCALE = 1 << 23
_BLOCK_FRAMES = 1 << 14
_LIMIT_BYTES = 0xFFFF_FFFF - 36


def wav24_chunks(samples: F64, rate_hz: int) -> Iterator[bytes]:
    """Encode samples as the bytes of a 24-bit PCM WAV file (RIFF, little-endian), in pieces.

    Rounded to the nearest of 2^23 steps per full scale, no dither: what came from a converter of
    up to 24 bits is kept exactly. Beyond full scale it is held at full scale, as a converter does.

    Parameters
    ----------
    samples : ndarray of float64, shape (n, channels) or (n,)
        Fraction of full scale.
    rate_hz : int
        Sample rate.

    Yields
    ------
    bytes
        Header first, then the samples.

    Raises
    ------
    ArgumentError
        If a sample is not finite, the shape is not that of a recording, or the file would exceed
        4 GB.
    """
    table = samples[:, np.newaxis] if samples.ndim == 1 else samples
    if table.ndim != 2 or not 1 <= table.shape[1] <= 1024 or not 1 <= rate_hz <= 0xFFFF_FFFF:
        raise ArgumentError(
            f"Samples of shape {samples.shape} at {rate_hz} Hz cannot be written as a WAV file."
        )
    frames, channels = table.shape
    size = frames * channels * 3
    if size > _LIMIT_BYTES:
        raise ArgumentError(f"{size} bytes of samples were given; a WAV file holds 4 GB.")
    bad = frames * channels - int(np.count_nonzero(np.isfinite(table)))
    if bad:
        raise ArgumentError(
            f"{bad} samples are not finite numbers.", "A 24-bit file cannot hold them."
        )
    pad = size % 2
    yield struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        *(b"RIFF", 36 + size + pad, b"WAVE"),
        *(b"fmt ", 16, 1, channels, rate_hz, rate_hz * channels * 3 & 0xFFFF_FFFF),
        *(channels * 3, 24, b"data", size),
    )
    for start in range(0, frames, _BLOCK_FRAMES):
        block = np.rint(table[start : start + _BLOCK_FRAMES] * FULL_SCALE)
        np.clip(block, -FULL_SCALE, FULL_SCALE - 1, out=block)
        words = np.ascontiguousarray(block, dtype="<i4").view(np.uint8).reshape(-1, 4)
        yield words[:, :3].tobytes()
    if pad:
        yield b"\0"
