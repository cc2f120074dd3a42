"""An analysis as bytes and back, without loss: every float and every array bit for bit."""

from __future__ import annotations

from functools import cache
from typing import Any

import msgspec
import numpy as np

from loopback.errors import LoopbackError
from loopback.facts import Analysis

_KINDS = frozenset({"<f8", "<c16", "<i8", "<i4", "|b1", "|u1"})


class _Array(msgspec.Struct, frozen=True, array_like=True, forbid_unknown_fields=True):
    """An array: type, shape, and its bytes in little-endian order."""

    kind: str
    shape: tuple[int, ...]
    data: bytes


def pack_analysis(analysis: Analysis) -> bytes:
    """Write an analysis.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    bytes
        MessagePack, in which a float that is not finite is kept too.

    Raises
    ------
    TypeError
        If something in it is neither a record nor an array: a fault of the program.
    """
    return msgspec.msgpack.encode(analysis, enc_hook=_to_plain)


def unpack_analysis(data: bytes) -> Analysis | None:
    """Read an analysis.

    Parameters
    ----------
    data : bytes
        From `pack_analysis`.

    Returns
    -------
    Analysis or None
        None when the bytes are anything else.
    """
    try:
        return _decoder().decode(data)
    except (msgspec.DecodeError, LoopbackError, ValueError, TypeError, RecursionError):
        return None


@cache
def _decoder() -> msgspec.msgpack.Decoder[Analysis]:
    return msgspec.msgpack.Decoder(Analysis, dec_hook=_from_plain)


def _to_plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        kind = value.dtype.newbyteorder("<").str
        if kind in _KINDS:
            plain = np.ascontiguousarray(value, dtype=kind)
            return _Array(kind, value.shape, plain.tobytes())
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, complex):
        return value.real, value.imag
    raise TypeError(f"A value of type {type(value).__name__} cannot be kept.")


def _from_plain(kind: type, value: Any) -> Any:
    if kind is complex:
        return complex(*value)
    array = msgspec.convert(value, _Array)
    if array.kind not in _KINDS:
        raise ValueError(f"an array of kind {array.kind}")
    plain = np.frombuffer(array.data, dtype=array.kind).reshape(array.shape)
    return plain.astype(plain.dtype.newbyteorder("="), copy=True)
