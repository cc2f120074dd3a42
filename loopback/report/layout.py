"""Headings at the left, text beside them, 80 columns: the manner of every screen."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from loopback.report.symbols import plain_signs

WIDTH = 80
INDENT = 15
_KEPT_TOGETHER = re.compile(
    r" (?=(?:±|\+/-) )|(?<=±) |(?<=\+/-) "
    r"|(?<=\d) (?=(?:dB|dBFS|dBu|dBV|%|[kMGmµunp]?(?:Ω|ohm|Hz|F|S|V|s))(?:\W|$))"
)


@dataclass(frozen=True, slots=True)
class Row:
    """One heading with its text.

    Parameters
    ----------
    heading : str
        Short; a longer one than the margin gets a line of its own.
    text : str
        Broken between words; lines that are separated in it stay separated.
    """

    heading: str
    text: str


def lay_out(rows: Sequence[Row], *, signs: bool) -> str:
    """Lay rows out.

    Parameters
    ----------
    rows : sequence of Row
        Empty texts are left out.
    signs : bool
        False writes Ω, ± and µ out before lines are broken.

    Returns
    -------
    str
        Lines of at most `WIDTH` columns, but for words that are longer themselves.
    """
    lines: list[str] = []
    for row in rows:
        if not row.text:
            continue
        heading, text = _shown(row.heading, signs), _shown(row.text, signs)
        broken = [part for line in text.split("\n") for part in _broken(line)]
        if len(heading) >= INDENT:
            lines.append(heading)
        else:
            broken[0] = heading.ljust(INDENT) + broken[0][INDENT:]
        lines += broken
    return "\n".join(line.rstrip() for line in lines)


def columns(table: Sequence[Sequence[str]], *, signs: bool) -> str:
    """Set a table: columns as wide as their widest entry before another, two spaces between them.

    Parameters
    ----------
    table : sequence of sequences of str
        Lines of equal length. A line that gets too long loses its last entry to a line below.
    signs : bool
        See `lay_out`.

    Returns
    -------
    str
        To be the text of a row.
    """
    shown = [[_shown(entry, signs) for entry in line] for line in table]
    widths = [
        max(len(line[i]) if any(line[i + 1 :]) or i + 1 == len(line) else 0 for line in shown)
        for i in range(len(shown[0]) if shown else 0)
    ]
    lines: list[str] = []
    for entries in shown:
        fixed = [e.ljust(w) for e, w in zip(entries[:-1], widths[:-1], strict=True) if w or e]
        line = "  ".join(fixed).rstrip()
        attempts = ("  ".join([*fixed, entries[-1]]).rstrip(), f"{line}  {entries[-1]}")
        whole = next((a for a in attempts if len(a) <= WIDTH - INDENT), None)
        lines += [line, f"  {entries[-1]}"] if whole is None else [whole]
    return "\n".join(lines)


def two_ends(left: str, right: str, *, signs: bool) -> str:
    """Write one text at the left end of a line and one at the right, in two lines if need be.

    Parameters
    ----------
    left, right : str
        Texts.
    signs : bool
        See `lay_out`.

    Returns
    -------
    str
        One line, or several where both do not fit.
    """
    left, right = _shown(left, signs), _shown(right, signs)
    gap = WIDTH - len(left) - len(right)
    if gap >= 2:
        return left + " " * gap + right
    return "\n".join([*textwrap.wrap(left, WIDTH), right.rjust(WIDTH)])


def kept_together(text: str, joint: str) -> str:
    """Put something else than a space where a line must not be broken.

    Parameters
    ----------
    text : str
        With spaces.
    joint : str
        Put between a number and its unit, and around ±.

    Returns
    -------
    str
        As long as before.
    """
    return _KEPT_TOGETHER.sub(joint, text)


def _broken(line: str) -> list[str]:
    """Break a line between words, never between a number and its unit or its uncertainty."""
    margin = " " * INDENT
    kept = kept_together(line, "\0")
    wrapped = textwrap.wrap(
        kept,
        WIDTH,
        initial_indent=margin,
        subsequent_indent=margin + "  " if line.startswith("  ") else margin,
        break_long_words=False,
        break_on_hyphens=False,
        replace_whitespace=False,
        drop_whitespace=True,
    )
    return [part.replace("\0", " ") for part in wrapped] or [margin]


def _shown(text: str, signs: bool) -> str:
    return text if signs else plain_signs(text)
