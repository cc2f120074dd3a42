"""What people typed, made fit for a page: nothing in it can turn the text around it over."""

from __future__ import annotations

import unicodedata

_REPLACEMENT = "\ufffd"
_KEPT = {"\u200c", "\u200d"}
"""Joiners, which several scripts and joined pictographs need."""


def one_line(text: str, most: int | None = None) -> str:
    """Make one line of a text.

    Parameters
    ----------
    text : str
        As typed.
    most : int or None
        Longest that it may be; None: as long as it is.

    Returns
    -------
    str
        Without control characters and without the marks that turn the direction of writing over,
        since those could make a page read otherwise than it is; line ends are spaces.
    """
    line = " ".join(_clean(text).split())
    return line if most is None or len(line) <= most else line[: most - 1].rstrip() + "…"


def paragraphs(text: str) -> tuple[str, ...]:
    """Split a text into its lines.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    tuple of str
        Each as from `one_line`; empty ones are left out.
    """
    return tuple(line for part in text.splitlines() if (line := one_line(part)))


def _clean(text: str) -> str:
    return "".join(_shown(character) for character in text)


def _shown(character: str) -> str:
    kind = unicodedata.category(character)
    if kind == "Cf":  # directions, invisible marks
        return character if character in _KEPT else ""
    if kind == "Cs" or ord(character) & 0xFFFE == 0xFFFE:  # what no page may hold
        return _REPLACEMENT
    return " " if kind in ("Cc", "Zl", "Zp") else character
