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
    set_lines = []
    for line in shown:
        name = fitted(line[1], widths[1])
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
