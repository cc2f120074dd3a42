"""Signs that a console may not have, and what is written in their place."""

from __future__ import annotations

import unicodedata

_PLAIN = {
    "\u03a9": "ohm",
    "\u2126": "ohm",
    "±": "+/-",
    "\u00b5": "u",
    "\u03bc": "u",
    "−": "-",
    "–": "-",
    "—": "-",
    "‐": "-",
    "…": "...",
    "×": "x",
    "·": "-",
    "→": "->",
    "←": "<-",
    "≤": "at most ",
    "≥": "at least ",
    "≈": "about ",
    "°": " deg",
    "√": "sqrt ",
    "∥": "||",
    "²": "^2",
    "∞": "inf",
    "‘": "'",
    "’": "'",
    "“": '"',
    "”": '"',
    "\u00a0": " ",
    "\u202f": " ",
}
_PROBE = "Ω±µ→·−"


def shows_signs(encoding: str | None) -> bool:
    """Whether a console encoding has all the signs that this program writes.

    Parameters
    ----------
    encoding : str or None
        Name of the encoding; None: not known, taken as having none.

    Returns
    -------
    bool
        False means that every sign is written out, so that a line never mixes both manners.
    """
    if not encoding:
        return False
    try:
        _PROBE.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def plain_signs(text: str) -> str:
    """Write every sign out: ``Ω`` is ``ohm``, ``±`` is ``+/-``, ``µ`` is ``u``.

    Parameters
    ----------
    text : str
        Anything.

    Returns
    -------
    str
        Without the program's own signs; letters with accents, as in a pedal's name, stay.
    """
    return "".join(_PLAIN.get(character, character) for character in text.replace(" °", "°"))


def encodable(text: str, encoding: str | None) -> str:
    """Make a text that the encoding can write, letter by letter.

    Parameters
    ----------
    text : str
        Anything, such as a pedal's name from another keyboard.
    encoding : str or None
        Name of the encoding; None or unknown: ASCII.

    Returns
    -------
    str
        Accents are dropped where the encoding lacks them; what is left over becomes ``?``.
    """
    codec = encoding or "ascii"
    try:
        text.encode(codec)
    except LookupError:
        codec = "ascii"
    except UnicodeEncodeError:
        pass
    else:
        return text
    return "".join(_nearest(character, codec) for character in text)


def _nearest(character: str, codec: str) -> str:
    for attempt in (character, _PLAIN.get(character, ""), _without_accent(character)):
        if not attempt:
            continue
        try:
            attempt.encode(codec)
        except UnicodeEncodeError:
            continue
        return attempt
    return "?"


def _without_accent(character: str) -> str:
    parts = unicodedata.normalize("NFKD", character)
    return "".join(part for part in parts if not unicodedata.combining(part))
