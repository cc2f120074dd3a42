"""A document as it may be shown: every text in it made harmless, everything else as it is."""

from __future__ import annotations

from typing import Any

import msgspec

from loopback.examination.records import Examination
from loopback.texts import one_line, some_lines

_LINES = ("note", "private_note", "conditions")
"""Texts that may have lines of their own."""


def shown(document: Examination) -> Examination:
    """Make every text of a document harmless.

    Parameters
    ----------
    document : Examination
        As read; anybody may have written it.

    Returns
    -------
    Examination
        The same object where nothing had to be changed. Not to be stored: the document on the
        disk keeps what was typed.
    """
    plain = msgspec.to_builtins(document)
    harmless = _shown("", plain)
    return document if harmless == plain else msgspec.convert(harmless, Examination)


def _shown(name: str, value: Any) -> Any:
    if isinstance(value, str):
        return some_lines(value) if name in _LINES else one_line(value)
    if isinstance(value, dict):
        return {key: _shown(key, item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_shown(name, item) for item in value]
    return value
