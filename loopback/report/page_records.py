"""What the templates of the pages are filled with: words and drawings, nothing to be computed."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.report.layout import Row

_NARROW = 8
"""Letters in a cell of a table of many columns that fits a telephone all the same."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table.

    Parameters
    ----------
    caption : str
        What it shows.
    head : tuple of str
        Names of the columns.
    lines : tuple of tuple of str
        The first entry of each names the line.
    """

    caption: str
    head: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]

    def without_empty_columns(self) -> Table:
        """Return the table without columns in which nothing stands, but for the first."""
        kept = [
            number
            for number in range(len(self.head))
            if number == 0 or any(line[number] for line in self.lines)
        ]
        return Table(
            self.caption,
            tuple(self.head[number] for number in kept),
            tuple(tuple(line[number] for number in kept) for line in self.lines),
        )

    @staticmethod
    def is_hash(cell: str) -> bool:
        """Whether a cell holds a SHA-256 in hexadecimal digits, and not a name of that length."""
        return len(cell) == 64 and set(cell) <= set("0123456789abcdef")

    def stacks(self) -> bool:
        """Whether its lines are too wide for a telephone, where they become blocks."""
        if len(self.head) < 5:
            return False
        return any(max(map(len, line[1:])) > _NARROW for line in self.lines)


@dataclass(frozen=True, slots=True)
class Answer:
    """One of the three lines.

    Parameters
    ----------
    question, sentence, certainty : str
        What is asked, the answer, and how sure it is.
    """

    question: str
    sentence: str
    certainty: str


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture inside a page.

    Parameters
    ----------
    anchor : str
        Its place.
    svg : str
        One element that follows the page into the dark and says what it shows.
    """

    anchor: str
    svg: str


@dataclass(frozen=True, slots=True)
class Section:
    """Rows, tables and pictures under one heading.

    Parameters
    ----------
    anchor, title : str
        Its place and its heading.
    lead : tuple of str
        Paragraphs before everything else.
    tables : tuple of Table
        Set one after the other.
    pictures : tuple of Picture
        After the tables.
    rows : tuple of Row
        Last; each line of a text is set on its own.
    missing : str
        Said where all of these are empty.
    folded : str
        Where it is not empty: on a screen all of it is folded under these words.
    on_paper : str
        What stands on paper in the place of what is folded.
    """

    anchor: str
    title: str
    lead: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()
    rows: tuple[Row, ...] = ()
    missing: str = ""
    folded: str = ""
    on_paper: str = ""
