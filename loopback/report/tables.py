"""Curves as CSV tables, each column headed by what it is and its unit."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from io import StringIO

import numpy as np

from loopback.report.curve_columns import Columns
from loopback.texts import one_line

_FORMULA = ("=", "+", "-", "@")
"""What a spreadsheet takes for a calculation at the beginning of a cell (common practice)."""


def curve_table(columns: Columns) -> str:
    """Write a curve.

    Parameters
    ----------
    columns : dict
        Equally long columns by heading.

    Returns
    -------
    str
        Numbers with nine digits, ``nan`` where not measured; a line feed ends each line.
    """
    rows: Sequence[Sequence[float]] = np.stack(list(columns.values()), axis=1).tolist()
    return _csv(columns, ([f"{value:.9g}" for value in row] for row in rows))


def text_table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write a table of words; nothing in it is a formula to a spreadsheet.

    Parameters
    ----------
    heads : sequence of str
        Of the columns.
    rows : iterable of sequence of str
        As long as `heads`; whoever typed them.

    Returns
    -------
    str
        One line for each row, whatever stands in it.
    """
    return _csv(heads, ([_cell(text) for text in row] for row in rows))


def _csv(heads: Iterable[str], rows: Iterable[Sequence[str]]) -> str:
    out = StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows(rows)
    return out.getvalue()


def _cell(text: str) -> str:
    line = one_line(text)
    return f"'{line}" if line.startswith(_FORMULA) else line
