"""A table as wide as the screen, for names of any script and length."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from loopback.report.layout import WIDTH
from loopback.report.symbols import plain_signs

_LEAST_NAME = 10


def set_table(lines: Sequence[Sequence[str]], *, signs: bool) -> str:
    """Set a table: the first column to the right, the second cut so that the line fits.

    Parameters
    ----------
    lines : sequence of sequence of str
        Of equal length, three entries or more; the head first.
    signs : bool
        False writes Ω, ± and µ out.

    Returns
    -------
    str
        Lines of at most `WIDTH` columns where the other columns leave the second enough room.
    """
    shown = [[entry if signs else plain_signs(entry) for entry in line] for line in lines]
    widths = [max(columns_of(line[i]) for line in shown) for i in range(len(shown[0]))]
    room = WIDTH - sum(widths) - 2 * (len(widths) - 1) + widths[1]
    widths[1] = min(widths[1], max(_LEAST_NAME, room))
    names = told_apart([line[1] for line in shown], widths[1])
    set_lines = []
    for line, name in zip(shown, names, strict=True):
        rest = [
            entry + " " * (w - columns_of(entry)) for entry, w in zip(line, widths, strict=True)
        ]
        set_lines.append("  ".join([line[0].rjust(widths[0]), name, *rest[2:]]).rstrip())
    return "\n".join(set_lines)


def columns_of(text: str) -> int:
    """Count the columns that a text takes on a terminal.

    Parameters
    ----------
    text : str
        One line.

    Returns
    -------
    int
        Wide characters of East Asia count twice, marks that combine not at all.
    """
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
        for c in text
    )


def told_apart(names: Sequence[str], width: int) -> list[str]:
    """Cut or fill names to a number of columns so that different names stay different.

    Parameters
    ----------
    names : sequence of str
        One line each.
    width : int
        Columns; `_LEAST_NAME` or more.

    Returns
    -------
    list of str
        Where names begin alike, two points stand for what they have in common in the middle.
    """
    cut = [fitted(name, width) for name in names]
    for _ in names:  # each round splits every group that is still alike
        for shown in {text for text in cut if cut.count(text) > 1}:
            alike = [number for number, text in enumerate(cut) if text == shown]
            common = _common([names[number] for number in alike])
            for number in alike:
                if columns_of(names[number]) > width:
                    cut[number] = _without_middle(names[number], common, width)
    return cut


def _without_middle(name: str, common: int, width: int) -> str:
    """Cut a name so that what follows the letters it shares with others is seen."""
    tail = fitted(name[common:], width // 2).rstrip()
    head = fitted(name, width - columns_of(tail) - 1).rstrip().rstrip(".")
    joined = f"{head}..{tail}"
    return joined + " " * (width - columns_of(joined))


def _common(texts: Sequence[str]) -> int:
    """Count the letters with which all texts begin."""
    count = 0
    for letters in zip(*texts, strict=False):  # as far as the shortest goes
        if len(set(letters)) > 1:
            break
        count += 1
    return count


def fitted(text: str, width: int) -> str:
    """Cut or fill a text to a number of columns.

    Parameters
    ----------
    text : str
        One line.
    width : int
        Columns; two or more.

    Returns
    -------
    str
        Ends in a point where something was cut.
    """
    if columns_of(text) > width:
        while columns_of(text) > width - 1:
            text = text[:-1]
        text = text.rstrip() + "."
    return text + " " * (width - columns_of(text))
