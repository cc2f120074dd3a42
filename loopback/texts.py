"""Text that somebody else wrote, made fit to be shown: names, notes and whatever a document holds.

A name may hold line breaks that forge a line of a screen, escape sequences that a terminal obeys,
marks that turn the direction of writing, and characters that XML does not know. Documents keep
what was typed; what is shown goes through here first.
"""

from __future__ import annotations

import re
import unicodedata

MOST_LINE = 200
MOST_TEXT = 4000
SHOWN_INSTEAD = "\ufffd"
"""Stands for a character that is no letter, sign or space."""
_SPACES = "\t\n\v\f\r\x1c\x1d\x1e\x1f\x85\u2028\u2029"
_JOINERS = "\u200c\u200d"
_MOST_MARKS = 4
_OBEYED = re.compile(
    "[\x00-\x09\x0b-\x1a\x1c-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]"
    r"|\x1b(?!\[[01]m)"
)


def one_line(text: str, most: int = MOST_LINE) -> str:
    """Make one line of a text.

    Parameters
    ----------
    text : str
        Anything.
    most : int
        Characters; what is longer is cut and ends in three points.

    Returns
    -------
    str
        Printable characters and single spaces only.
    """
    return _cut(" ".join(_printable(text[: 8 * most]).split()), most, len(text) > 8 * most)


def some_lines(text: str, most: int = MOST_TEXT) -> str:
    """Make a text with its own line breaks harmless.

    Parameters
    ----------
    text : str
        Anything.
    most : int
        Characters; what is longer is cut and ends in three points.

    Returns
    -------
    str
        Printable characters, spaces and line feeds only.
    """
    lines = text[: 8 * most].replace("\r\n", "\n").replace("\r", "\n").split("\n")
    whole = "\n".join(_printable(line) for line in lines).strip()
    return _cut(whole, most, len(text) > 8 * most)


def for_terminal(text: str) -> str:
    """Take out of a whole screen what a terminal would obey, whoever wrote it.

    Parameters
    ----------
    text : str
        Lines as laid out; bold, and the end of bold, are this program's own and stay.

    Returns
    -------
    str
        Without other control characters and without marks that turn the direction of writing.
    """
    return _OBEYED.sub(SHOWN_INSTEAD, text)


def _cut(text: str, most: int, cut: bool) -> str:
    return text if len(text) <= most and not cut else text[: most - 1].rstrip() + "…"


def _printable(text: str) -> str:
    shown: list[str] = []
    marks = 0
    for letter in text:
        kind = unicodedata.category(letter)
        marks = marks + 1 if kind in ("Mn", "Me") else 0
        if marks > _MOST_MARKS:  # stacked over and under many lines of a screen
            continue
        if letter in _SPACES:
            shown.append(" ")
        elif letter in _JOINERS:  # some scripts cannot be written without them
            shown.append(letter)
        elif kind in ("Cc", "Cf", "Cs") or ord(letter) & 0xFFFE == 0xFFFE or _is_nothing(letter):
            shown.append(SHOWN_INSTEAD)
        else:
            shown.append(letter)
    return "".join(shown)


def _is_nothing(letter: str) -> bool:
    """Whether a code point is set apart for no use at all."""
    return "\ufdd0" <= letter <= "\ufdef"
