"""What the samples say about how they were stored: bits in use, lost frames, what is no number."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import F64
from loopback.examination.wav import Header

WORD_BITS = 32
_FARTHEST = 2.0**31
_BLOCK_FRAMES = 1 << 16


@dataclass(frozen=True, slots=True)
class FileEvidence:
    """What was found in one file.

    Parameters
    ----------
    subtype : str
        Sample format that the file declares, such as ``"PCM_24"``.
    frames : int
        Frames read.
    lost_frames : int
        Frames that the header promises and the file does not hold.
    not_finite : int
        Samples that are nan or infinite.
    peak : float
        Largest absolute finite sample, fraction of full scale; 0 when there is none.
    bits_used : int or None
        Bits that the finest sample needs; None: finer than 32 bits, or no sample but zeros.
    lowest_bit_counts : tuple of int
        At index b - 1: how many samples need exactly b bits, b from 1 to 32 (full scale is one
        step of the sign bit, so ±1 needs 1). Zeros and samples finer than 32 bits are not counted.
    zeros : int
        Samples that are exactly zero.
    """

    subtype: str
    frames: int
    lost_frames: int
    not_finite: int
    peak: float
    bits_used: int | None
    lowest_bit_counts: tuple[int, ...]
    zeros: int


def file_evidence(header: Header, samples: F64) -> FileEvidence:
    """Examine the samples of a file as they were stored.

    A 16-bit recording in a 24-bit file shows as 16 bits used; a single processed sample shows in
    the counts. A float file that was rescaled uses all bits and says nothing about the converter.

    Parameters
    ----------
    header : Header
        Of the same file.
    samples : ndarray of float64, shape (n, channels)
        As read, never repaired.

    Returns
    -------
    FileEvidence
        Counts over all channels.
    """
    counts = np.zeros(WORD_BITS, dtype=np.int64)
    not_finite = zeros = finer = 0
    peak = 0.0
    for start in range(0, len(samples), _BLOCK_FRAMES):
        block = samples[start : start + _BLOCK_FRAMES].ravel()
        finite = np.isfinite(block)
        if not finite.all():
            not_finite += block.size - int(np.count_nonzero(finite))
            block = block[finite]
        if not block.size:
            continue
        largest = max(float(block.max()), -float(block.min()))
        peak = max(peak, largest)
        if largest >= _FARTHEST:  # no word of 32 bits is meant there, and int64 would overflow
            finer += int(np.count_nonzero(np.abs(block) >= _FARTHEST))
            block = block[np.abs(block) < _FARTHEST]
        steps = block * 2.0 ** (WORD_BITS - 1)
        words = steps.astype(np.int64)
        whole = words == steps
        if not whole.all():
            finer += words.size - int(np.count_nonzero(whole))
            words = words[whole]
        words = words[words != 0]
        zeros += int(np.count_nonzero(block == 0.0))
        _count_lowest_bits(words, counts)
    used = np.flatnonzero(counts)
    lost = 0 if header.declared_frames is None else header.declared_frames - len(samples)
    return FileEvidence(
        subtype=header.subtype,
        frames=len(samples),
        lost_frames=max(0, lost),
        not_finite=not_finite,
        peak=peak,
        bits_used=int(used[-1]) + 1 if used.size and not finer else None,
        lowest_bit_counts=tuple(int(n) for n in counts),
        zeros=zeros,
    )


def _count_lowest_bits(words: NDArray[np.int64], counts: NDArray[np.int64]) -> None:
    """Add to `counts` how many words need exactly how many bits."""
    if not words.size:
        return
    together = int(np.bitwise_or.reduce(words))
    shift = (together & -together).bit_length() - 1
    words = words >> shift
    while words.size:
        low = words & 0xFF
        per_byte = np.bincount(low, minlength=256)
        for lowest in range(8):  # bytes 1, 3, 5 ... times two to the power of `lowest`
            bits = max(1, WORD_BITS - shift - lowest)
            counts[bits - 1] += per_byte[1 << lowest :: 2 << lowest].sum()
        words = words[low == 0] >> 8
        shift += 8
