"""Words about the item and the conditions: which there are, and a document with others.

No number is computed from any of them, so that they may be noted late and mended at any time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import msgspec

from loopback.errors import ArgumentError
from loopback.examination.incoming import valid_text
from loopback.examination.records import Examination

PEDAL_WORDS: Final = (
    "maker",
    "model",
    "serial",
    "revision",
    "mode",
    "jacks",
    "supply",
    "claim",
    "note",
    "private_note",
)
"""Those of `Pedal`; its name is not one of them, since folders are found by it."""
WORDS: Final = (*PEDAL_WORDS, "conditions")
MOST_LETTERS = 4000
"""As many as a page shows."""


@dataclass(frozen=True, slots=True)
class Reworded:
    """One field that says something else now.

    Parameters
    ----------
    name : str
        One of `WORDS`.
    before, after : str
        As stored; empty: nothing was, or is, noted.
    """

    name: str
    before: str
    after: str


def words_of(document: Examination) -> dict[str, str]:
    """Return what is noted about the item and the conditions.

    Parameters
    ----------
    document : Examination
        Of a folder.

    Returns
    -------
    dict of str to str
        Every one of `WORDS`, in that order; empty texts too.
    """
    pedal = {name: getattr(document.pedal, name) for name in PEDAL_WORDS}
    return {**pedal, "conditions": document.conditions}


def with_words(document: Examination, words: Mapping[str, str]) -> Examination:
    """Return the document with other words.

    Parameters
    ----------
    document : Examination
        Of a folder.
    words : mapping of str to str
        Some of `WORDS`; an empty text clears a field. White space at either end is dropped.

    Returns
    -------
    Examination
        Everything else as it was.

    Raises
    ------
    ArgumentError
        If there is no such field, or a text is longer than `MOST_LETTERS`.
    """
    texts: dict[str, str] = {}
    for name, text in words.items():
        if name not in WORDS:
            raise ArgumentError(f'There is no field "{name}".', f"There are: {', '.join(WORDS)}.")
        texts[name] = valid_text(text).strip()
        if len(texts[name]) > MOST_LETTERS:
            raise ArgumentError(
                f"The text for {name} has {len(texts[name])} letters.",
                f"A report shows {MOST_LETTERS} of them.",
                "Shorten it, or keep it in a file of its own beside the recordings.",
            )
    conditions = texts.pop("conditions", document.conditions)
    pedal = msgspec.structs.replace(document.pedal, **texts)
    return msgspec.structs.replace(document, pedal=pedal, conditions=conditions)


def reworded(before: Examination, after: Examination) -> tuple[Reworded, ...]:
    """List the fields in which two documents differ.

    Parameters
    ----------
    before, after : Examination
        The same examination, earlier and later.

    Returns
    -------
    tuple of Reworded
        In the order of `WORDS`.
    """
    new = words_of(after)
    return tuple(
        Reworded(name, old, new[name]) for name, old in words_of(before).items() if old != new[name]
    )
