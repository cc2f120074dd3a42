"""A result as a notebook or an interpreter shows it when a cell ends in it."""

from __future__ import annotations

from html import escape

from loopback.texts import one_line
from loopback.verdict.result import Result
from loopback.verdict.sentences import (
    meter_lines,
    not_tested_line,
    result_sentences,
    short_form,
    size_line,
    would_tell_lines,
)

_MOST_NAME = 60


def result_line(result: Result, name: str) -> str:
    """Give the result in one line without line breaks, whatever the name holds.

    Parameters
    ----------
    result : Result
        The answer.
    name : str
        The pedal, as somebody typed it.

    Returns
    -------
    str
        As `loopback.verdict.sentences.short_form`.
    """
    return short_form(result, one_line(name, _MOST_NAME))


def html_table(result: Result, name: str) -> str:
    """Give the three lines and the numbers as a table in HTML, everything escaped.

    Parameters
    ----------
    result : Result
        The answer.
    name : str
        The pedal, as somebody typed it.

    Returns
    -------
    str
        One ``table`` element without styles of its own.
    """
    rows = [
        ("Result", " ".join(result_sentences(result))),
        ("Size", size_line(result)),
        *((line.what, _with_limit(line.value, line.limit, line.outcome))
          for line in meter_lines(result)),
        ("Not tested", not_tested_line(result)),
        ("Would tell", "; ".join(would_tell_lines(result))),
    ]  # fmt: skip
    cells = "".join(
        f'<tr><th style="text-align:left">{escape(heading)}</th>'
        f'<td style="text-align:left">{escape(text)}</td></tr>'
        for heading, text in rows
        if text
    )
    head = f"<caption><bdi>{escape(one_line(name, _MOST_NAME))}</bdi> in bypass</caption>"
    return f"<table>{head}<tbody>{cells}</tbody></table>"


def _with_limit(value: str, limit: str, outcome: str) -> str:
    return f"{value}   limit {limit}: {outcome}" if limit else value
