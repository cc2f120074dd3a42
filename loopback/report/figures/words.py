"""Words on paper: measured, broken into lines, cut; whatever letters a name is made of.

Widths are those of the font of the pictures, and generous for letters that it lacks: in an SVG a
reader's own font stands in for them, and in a PNG a sign for their script.
"""

from __future__ import annotations

import re
import unicodedata
import warnings
from functools import lru_cache

from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.textpath import TextToPath

from loopback.texts import one_line

FAMILY = "DejaVu Sans"
_POINTS_PER_IN = 72.0
_MEASURED_PT = 100.0
_MOST_LETTERS = 4000
_MISSING_EM, _PICTURE_EM = 1.05, 1.4
_TO_RIGHT = "\u200e"
"""Holds a line that begins with right-to-left letters to the left edge and its own order."""
_LEFTWARD = ("R", "AL", "AN")
_UNIT = re.compile(r"(?<=\d) (?=(?:[pnµmkM]?[ΩFsV]|k?Hz|dB|dBFS|%)(?!\w))")
"""Between a number and its unit no line ends."""


def width_in(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Measure a text in the font of the pictures.

    Parameters
    ----------
    text : str
        One line.
    size_pt : float
        Size of the font in points.
    bold : bool
        True for titles.

    Returns
    -------
    float
        Inches.
    """
    return sum(_advance_em(letter, bold) for letter in text) * size_pt / _POINTS_PER_IN


def shortened(text: str, size_pt: float, room_in: float, *, bold: bool = False) -> str:
    """Take the middle out of a text that is too wide: names differ at either end.

    Parameters
    ----------
    text : str
        One line.
    size_pt : float
        Size of the font in points.
    room_in : float
        Room in inches.
    bold : bool
        True for titles.

    Returns
    -------
    str
        The text itself where it fits, else with an ellipsis for what is left out.
    """
    if width_in(text, size_pt, bold=bold) <= room_in:
        return text
    begin = (len(text) + 1) // 2
    end = begin
    while begin > 0 or end < len(text):
        if begin >= len(text) - end:
            begin -= 1
        else:
            end += 1
        kept = f"{text[:begin].rstrip()}…{text[end:].lstrip()}"
        if width_in(kept, size_pt, bold=bold) <= room_in:
            return kept
    return "…"


def wrapped(
    text: str, size_pt: float, room_in: float, most: int | None = None, *, bold: bool = False
) -> list[str]:
    """Break a text into lines.

    Parameters
    ----------
    text : str
        One paragraph.
    size_pt : float
        Size of the font in points.
    room_in : float
        Width of the lines in inches.
    most : int or None
        Most lines; the last is shortened. None: as many as it takes.
    bold : bool
        True for titles.

    Returns
    -------
    list of str
        One line at least, of printable characters. Words wider than a line are broken between
        letters.
    """
    lines: list[str] = []
    line = ""
    for word in _pieces(one_line(text, _MOST_LETTERS), size_pt, room_in, bold):
        longer = f"{line} {word}" if line else word
        if line and width_in(longer, size_pt, bold=bold) > room_in:
            lines.append(line)
            line = word
        else:
            line = longer
    lines.append(line)
    if most is not None and len(lines) > most:
        rest = " ".join(lines[most - 1 :])
        lines = [*lines[: most - 1], shortened(rest, size_pt, room_in, bold=bold)]
    return lines


def drawable(line: str) -> str:
    """Make a line fit to be drawn.

    Parameters
    ----------
    line : str
        Printable characters.

    Returns
    -------
    str
        With marks around the letters of it that run to the left, so that the line still begins at
        the left and its parts keep their order.
    """
    leftward = [
        place for place, letter in enumerate(line) if unicodedata.bidirectional(letter) in _LEFTWARD
    ]
    if not leftward:
        return line
    # Behind the last of them, or a number that follows would be drawn into their run.
    after = leftward[-1] + 1
    return f"{_TO_RIGHT}{line[:after]}{_TO_RIGHT}{line[after:]}"


def _pieces(text: str, size_pt: float, room_in: float, bold: bool) -> list[str]:
    out: list[str] = []
    for word in _UNIT.sub("\u00a0", " ".join(text.split())).split(" "):
        piece = ""
        for letter in word:
            stays = unicodedata.combining(letter) or letter in "\u200c\u200d"
            if piece and not stays and width_in(piece + letter, size_pt, bold=bold) > room_in:
                out.append(piece)
                piece = ""
            piece += letter
        out.append(piece)
    return out


@lru_cache(maxsize=4096)
def _advance_em(letter: str, bold: bool) -> float:
    weight = "bold" if bold else "normal"
    font = FontProperties(family=[FAMILY], weight=weight, size=_MEASURED_PT)
    measure = TextToPath().get_text_width_height_descent
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        with_it = measure(f"|{letter}|", font, ismath=False)[0]
    found = max(0.0, float(with_it - measure("||", font, ismath=False)[0])) / _MEASURED_PT
    if ord(letter) in _letters(bold):
        return found
    # What the reader's own font takes for it.
    return max(found, _PICTURE_EM if unicodedata.category(letter) == "So" else _MISSING_EM)


@lru_cache(maxsize=2)
def _letters(bold: bool) -> frozenset[int]:
    font = FontProperties(family=[FAMILY], weight="bold" if bold else "normal")
    return frozenset(get_font(findfont(font)).get_charmap())
