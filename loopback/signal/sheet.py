"""The document beside a signal file: everything needed to know what the file plays."""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from loopback.errors import DocumentError
from loopback.signal.take import HIGHEST_HZ, Signal, layout_of

SHEET_VERSION: Literal[1] = 1
TAKES_PER_FILE = 2
_LONGEST_SWEEP_S = 60.0


class SignalSheet(
    msgspec.Struct,
    frozen=True,
    forbid_unknown_fields=True,
    tag_field="format",
    tag="loopback-signal",
):
    """What a signal file plays.

    Attributes
    ----------
    version : int
        Of this format.
    signal : Signal
        The parameters of one take.
    takes : int
        How often the take follows itself in the file.
    take_frames : int
        Length of one take in samples; it also shows whether this program lays the take out as the
        one that wrote the document did.
    """

    version: Literal[1]
    signal: Signal
    takes: int
    take_frames: int


def sheet_of(signal: Signal, takes: int = TAKES_PER_FILE) -> SignalSheet:
    """Describe a signal file.

    Parameters
    ----------
    signal : Signal
        What one take plays.
    takes : int
        How many takes the file holds.

    Returns
    -------
    SignalSheet
        To be written beside it.
    """
    return SignalSheet(SHEET_VERSION, signal, takes, layout_of(signal).length)


def encode_sheet(sheet: msgspec.Struct) -> bytes:
    """Write the document beside a file that is played.

    Parameters
    ----------
    sheet : SignalSheet or loopback.signal.watch_sheet.WatchSheet
        What the file plays.

    Returns
    -------
    bytes
        Indented JSON in UTF-8.
    """
    return msgspec.json.format(msgspec.json.encode(sheet), indent=2) + b"\n"


def decode_sheet(data: bytes, name: str) -> SignalSheet:
    """Read the document.

    Parameters
    ----------
    data : bytes
        JSON in UTF-8.
    name : str
        File name, for the message.

    Returns
    -------
    SignalSheet
        Checked: its signal can be played.

    Raises
    ------
    DocumentError
        If it is not such a document; the message names the path inside it.
    """
    try:
        sheet = msgspec.json.decode(data, type=SignalSheet)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise _damaged(name, str(error)) from error
    problem = signal_problem(sheet.signal)
    if problem:
        raise _damaged(name, f"{problem[1]} - at `$.signal.{problem[0]}`")
    if not 1 <= sheet.takes <= 1000:
        raise _damaged(name, f"{sheet.takes} takes - at `$.takes`")
    length = layout_of(sheet.signal).length
    if sheet.take_frames != length:
        raise DocumentError(
            f'"{name}": a take of {sheet.take_frames} samples, where this signal has {length}'
            " - at `$.take_frames`.",
            "Another version of the program, with another layout of the take, wrote it.",
            "Write the signal again and record again.",
        )
    return sheet


def signal_problem(signal: Signal) -> tuple[str, str] | None:
    """Say which parameter makes a signal unplayable.

    Parameters
    ----------
    signal : Signal
        As read from a document.

    Returns
    -------
    tuple of str, or None
        Field and what is wrong with it; None when the signal can be played.
    """
    nyquist_hz = signal.rate_hz / 2
    if not 44_100 <= signal.rate_hz <= 192_000:
        return "rate_hz", f"A sample rate of {signal.rate_hz} Hz, outside 44100 to 192000"
    if not 1.0 <= signal.f1_hz <= 1000.0:
        return "f1_hz", f"A lowest frequency of {signal.f1_hz:g} Hz, outside 1 to 1000"
    if not 2 * signal.f1_hz <= signal.f2_hz <= min(HIGHEST_HZ, nyquist_hz):
        return "f2_hz", f"A highest frequency of {signal.f2_hz:g} Hz at {signal.rate_hz} Hz"
    if not -120.0 <= signal.level_dbfs <= 0.0:
        return "level_dbfs", f"A level of {signal.level_dbfs:g} dBFS, outside -120 to 0"
    if signal.short:
        return "short", "A sweep for live readings, which no file holds"
    longest = _LONGEST_SWEEP_S * signal.f1_hz / math.log(signal.f2_hz / signal.f1_hz)
    if not 1 <= signal.cycles <= longest:
        return "cycles", f"A sweep of {signal.cycles} cycles, outside 1 to {longest:.0f}"
    return None


def _damaged(name: str, what: str) -> DocumentError:
    return DocumentError(
        f'"{name}": {what}.',
        "This is not the document that goes with a signal file, or it was changed.",
        "Write the signal again.",
    )
