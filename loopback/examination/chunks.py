"""How many bytes of samples a chunked file promises; what it holds may be less.

Sound file libraries quietly correct a wrong length, so the promise is read here from the chunks
themselves: RIFF and RIFX (IBM/Microsoft 1991), RF64 (EBU Tech 3306), AIFF and AIFF-C (EA IFF 85).
"""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO, Literal

_MAX_CHUNKS = 1000
_UNKNOWN = {0, 0x7FFF_FFFF, 0xFFFF_FFFF}
"""What recorders leave behind that could not finish the header, or that wrote into a pipe."""


def declared_data_bytes(path: Path) -> int | None:
    """Return the length that the header gives for the samples.

    Parameters
    ----------
    path : Path
        An existing file.

    Returns
    -------
    int or None
        Bytes; None when the file is not chunked, has no samples chunk, or leaves the length open.

    Raises
    ------
    OSError
        If the file cannot be read.
    """
    with path.open("rb") as file:
        form = file.read(12)
        if len(form) < 12:
            return None
        kind = form[:4]
        if kind in (b"RIFF", b"RF64"):
            return _walk(file, b"data", "little", wide=kind == b"RF64")
        if kind == b"RIFX":
            return _walk(file, b"data", "big", wide=False)
        if kind == b"FORM":
            size = _walk(file, b"SSND", "big", wide=False)
            return None if size is None else max(0, size - 8)  # offset and block size come first
        return None


def _walk(
    file: BinaryIO, wanted: bytes, order: Literal["little", "big"], *, wide: bool
) -> int | None:
    size_64: int | None = None
    for _ in range(_MAX_CHUNKS):
        head = file.read(8)
        if len(head) < 8:
            return None
        size = int.from_bytes(head[4:], order)
        if head[:4] == wanted:
            if wide and size == 0xFFFF_FFFF:
                return size_64
            return None if size in _UNKNOWN else size
        if wide and head[:4] == b"ds64" and size >= 16:
            body = file.read(16)
            size_64 = int.from_bytes(body[8:16], "little") or None
            size -= len(body)
        file.seek(size + size % 2, 1)
    return None
