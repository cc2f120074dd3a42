"""What is noted about the item and the conditions, as headings, lines and calls to fill it in."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.examination.described import WORDS, Reworded, words_of
from loopback.examination.records import Examination
from loopback.report.layout import Row, lay_out, two_ends
from loopback.texts import one_line, some_lines

HEADINGS: dict[str, str] = {
    "name": "Pedal",
    "maker": "Maker",
    "model": "Model",
    "serial": "Serial number",
    "revision": "Revision",
    "mode": "Set to",
    "jacks": "Jacks",
    "supply": "Supply",
    "claim": "Said about its bypass",
    "note": "Note",
    "private_note": "Private note",
    "conditions": "Conditions",
}
_SHORT = {"claim": "Claim"}
_ASKED_FOR = ("serial", "maker", "supply", "conditions")
_IDENTIFYING = ("serial", "conditions")
"""Without these a report says neither which unit was measured nor in what room."""


def described_screen(document: Examination, folder: str, *, signs: bool) -> str:
    """Write every field with what is noted in it, and the call that fills those that are empty.

    Parameters
    ----------
    document : Examination
        As stored.
    folder : str
        As it can be pasted into a command.
    signs : bool
        False writes signs out.

    Returns
    -------
    str
        Lines of at most 80 columns, but for the call. The private note is among them.
    """
    words = words_of(document)
    name = one_line(document.pedal.name, 40).upper() or "NO NAME"
    rows = [
        Row(_heading(field), some_lines(text) or f"not noted  ({_option(field)} TEXT)")
        for field, text in words.items()
    ]
    parts = [
        two_ends(name, "what is noted about it", signs=signs) + "\n" + lay_out(rows, signs=signs)
    ]
    empty = [field for field in _ASKED_FOR if not words[field].strip()]
    if empty:
        parts.append(f"To note what a report should say:\n  {_call(folder, empty)}")
    return "\n\n".join(parts)


def reworded_screen(changes: Sequence[Reworded], *, signs: bool) -> str:
    """Write what was noted now, and in full what it takes the place of.

    Parameters
    ----------
    changes : sequence of Reworded
        As stored.
    signs : bool
        False writes signs out.

    Returns
    -------
    str
        One heading for each field.
    """
    rows = []
    for change in changes:
        old, new = some_lines(change.before), some_lines(change.after)
        text = "\n".join((new or "cleared", *([f"before: {old}"] if old else [])))
        rows.append(Row(_heading(change.name), text))
    if not rows:
        return "Nothing was changed: that is what is noted already."
    return lay_out(rows, signs=signs)


def not_noted(document: Examination, folder: str) -> str:
    """Say that a report will not identify the unit or the conditions, and how to note them.

    Parameters
    ----------
    document : Examination
        As stored.
    folder : str
        As it can be pasted into a command.

    Returns
    -------
    str
        Two lines; empty where both are noted, and for a simulated pedal, which has neither.
    """
    words = words_of(document)
    empty = [name for name in _IDENTIFYING if not words[name].strip()]
    if not empty or document.setup.rig == "simulator":
        return ""
    what = " and ".join(HEADINGS[name].lower() for name in empty)
    return f"Not noted: {what}. To note {'them' if len(empty) > 1 else 'it'}:\n  " + _call(
        folder, empty
    )


def _option(field: str) -> str:
    return f"--{field.replace('_', '-')}"


def _heading(field: str) -> str:
    return _SHORT.get(field, HEADINGS[field])


def _call(folder: str, fields: Sequence[str]) -> str:
    # no example of a value: pasted as it is, it would be a false record
    options = (f'{_option(field)} "..."' for field in WORDS if field in fields)
    return " ".join(("loopback describe", folder, *options))
