"""The report on disk: one page, its pictures beside it, and what was published."""

from __future__ import annotations

from pathlib import Path

from loopback.facts import Analysis
from loopback.report.pictures import picture_paths, pictures_of, write_pictures
from loopback.report.published import write_published
from loopback.report.report_page import report_page, ticket_page

PAGE, PRIVATE_PAGE, TICKET, PRIVATE_TICKET = (
    "report.html",
    "report-private.html",
    "ticket.html",
    "ticket-private.html",
)
"""Names never hold anything that a user wrote, and a private page never takes a public one's."""


def page_name(*, private: bool, ticket: bool) -> str:
    """Name the file of a page.

    Parameters
    ----------
    private : bool
        Whether it shows private fields.
    ticket : bool
        Whether it is the form for a ticket.

    Returns
    -------
    str
        Without a folder.
    """
    if ticket:
        return PRIVATE_TICKET if private else TICKET
    return PRIVATE_PAGE if private else PAGE


def report_paths(into: Path, *, private: bool, ticket: bool, pictures: bool) -> tuple[Path, ...]:
    """Name every file that may be written, the page first.

    Parameters
    ----------
    into : Path
        Folder of the report.
    private, ticket : bool
        See `page_name`.
    pictures : bool
        Whether pictures are written beside it.

    Returns
    -------
    tuple of Path
        Files that may exist already.
    """
    page = into / page_name(private=private, ticket=ticket)
    return (page, *(picture_paths(into) if pictures else ()))


def write_report(
    analysis: Analysis,
    folder: Path,
    into: Path,
    *,
    issued: str,
    private: bool = False,
    ticket: bool = False,
    pictures: bool = True,
    expectation: Path | None = None,
) -> tuple[Path, ...]:
    """Write a page, its pictures, and what was published; whoever calls asks before replacing.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    folder : Path
        Its folder, where ``published.json`` is kept.
    into : Path
        Folder of the report; made where it does not exist.
    issued : str
        When the page is made, ISO 8601; a ticket says only when it was measured.
    private, ticket : bool
        See `page_name`.
    pictures : bool
        Whether pictures are written beside it.
    expectation : Path or None
        What the result was held to; None: the one in the folder, if anything was expected.

    Returns
    -------
    tuple of Path
        What was written, the page first.

    Raises
    ------
    FolderError
        If the disk refuses.
    DocumentError
        If ``published.json`` is damaged or newer than this program.
    """
    text = (
        ticket_page(analysis, private=private)
        if ticket
        else report_page(analysis, issued=issued, private=private)
    )
    into.mkdir(parents=True, exist_ok=True)
    page = into / page_name(private=private, ticket=ticket)
    page.write_text(text, encoding="utf-8", newline="\n")
    drawn = write_pictures(analysis, into, pictures_of(analysis)) if pictures else ()
    write_published(analysis, folder, pages=(page,), private=private, expectation=expectation)
    return (page, *drawn)
