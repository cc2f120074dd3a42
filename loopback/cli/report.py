"""``loopback report``: one page to publish, and a form for a ticket."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.folders import pasted
from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import screen_of
from loopback.cli.show import analysed, expected_of
from loopback.errors import FolderError


@click.command(
    "report",
    cls=Verb,
    examples=(
        "loopback report harbour-bell",
        "loopback report harbour-bell --into publish --replace",
        "loopback report harbour-bell --ticket",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--into", type=click.Path(path_type=Path), help="Folder for the page.  [FOLDER/report]"
)
@click.option(
    "--public/--private", default=True, help="Leave private notes out, or show them.  [public]"
)
@click.option("--ticket", is_flag=True, help="Half a page to file with a repair, no pictures.")
@click.option(
    "--expect",
    type=click.Path(path_type=Path),
    help="What it should be, as TOML.  [expectation.toml in FOLDER]",
)
@click.option("--replace", is_flag=True, help="Replace files of the same name.")
@common
@click.pass_context
def command(
    context: click.Context,
    folder: Path,
    into: Path | None,
    public: bool,
    ticket: bool,
    expect: Path | None,
    replace: bool,
) -> None:
    """Write the result as one page that stands by itself, and its pictures beside it.

    The page needs nothing else: no script, no network; light and dark, for screen and for print.
    The pictures are in it and lie beside it as PNG and SVG. Private notes stay out unless
    --private is given. FOLDER/published.json keeps what was published, for loopback verify.
    """
    screen = screen_of(context)
    target = folder / "report" if into is None else into
    with progress(screen, "Loading what a report needs") as step:
        step("Loading what a report needs")
        from loopback.examination.incoming import now_text
        from loopback.report.item_words import not_noted
        from loopback.report.report_files import report_paths, write_report
    paths = report_paths(target, private=not public, ticket=ticket, pictures=not ticket)
    taken = [path for path in paths if path.exists()]
    if taken and not replace:
        raise FolderError(
            f'"{taken[0]}" exists already.',
            "A report is not overwritten unless you say so.",
            "Add --replace, or name another folder with --into.",
        )
    held_to = expected_of(folder, expect)
    analysis = analysed(screen, folder, held_to)
    with progress(screen, "Writing the report") as step:
        step("Writing the report")
        written = write_report(
            analysis,
            folder,
            target,
            issued=now_text(),
            private=not public,
            ticket=ticket,
            pictures=not ticket,
            expectation=held_to,
        )
    screen.result(str(written[0]))
    for path in written[1:]:
        screen.note(str(path))
    if not public:
        screen.note("This page holds private notes; it is not for publication.")
    if missing := not_noted(analysis.examination, pasted(folder)):
        screen.note(f"\n{missing}")
