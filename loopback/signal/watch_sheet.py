"""The document beside a file that is played elsewhere while somebody presses or taps."""

from __future__ import annotations

from typing import Literal

import msgspec

from loopback.errors import DocumentError
from loopback.signal.watch import Watch, watch_problem

WATCH_SHEET_VERSION: Literal[1] = 1


class WatchSheet(
    msgspec.Struct,
    frozen=True,
    forbid_unknown_fields=True,
    tag_field="format",
    tag="loopback-watch",
):
    """What such a file plays.

    Attributes
    ----------
    version : int
        Of this format.
    watch : Watch
        Marks, tone, presses.
    rate_hz : int
        Sample rate of the file.
    """

    version: Literal[1]
    watch: Watch
    rate_hz: int


def decode_watch_sheet(data: bytes, name: str) -> WatchSheet:
    """Read the document.

    Parameters
    ----------
    data : bytes
        JSON in UTF-8.
    name : str
        File name, for the message.

    Returns
    -------
    WatchSheet
        Checked: it can be played.

    Raises
    ------
    DocumentError
        If it is not such a document; the message names the path inside it.
    """
    try:
        sheet = msgspec.json.decode(data, type=WatchSheet)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise _damaged(name, str(error)) from error
    if problem := watch_problem(sheet.watch):
        raise _damaged(name, f"{problem[1]} - at `$.watch.{problem[0]}`")
    if not 44_100 <= sheet.rate_hz <= 192_000:
        raise _damaged(name, f"A sample rate of {sheet.rate_hz} Hz - at `$.rate_hz`")
    return sheet


def _damaged(name: str, what: str) -> DocumentError:
    return DocumentError(
        f'"{name}": {what}.',
        "This is not the document that goes with a file for presses or taps, or it was changed.",
        "Write the file again: loopback signal FILE.wav --presses 20",
    )
