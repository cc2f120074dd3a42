"""``loopback compare``: several examinations beside each other, or before and after a repair."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import Screen, screen_of
from loopback.errors import FolderError, LoopbackError

if TYPE_CHECKING:
    from loopback.comparing.comparison import Given, LeftOut, Order
    from loopback.comparing.setups import Assumed

READ_ALL_UP_TO = 10
"""So few folders are read whole; of more, recordings are recognised by size and times."""


@click.command(
    "compare",
    cls=Verb,
    examples=(
        "loopback compare harbour-bell quarry-lamp tidal-clock",
        "loopback compare shelf/* --sort name --page shelf.html",
        "loopback compare before-repair after-repair --repair",
    ),
)
@click.argument(
    "folders", nargs=-1, required=True, metavar="FOLDER...", type=click.Path(path_type=Path)
)
@click.option("--repair", is_flag=True, help="Two folders: before and after, what changed.")
@click.option("--repeats", is_flag=True, help="All are examinations of one pedal.")
@click.option(
    "--sort",
    "order",
    type=click.Choice(("load", "given", "name", "date")),
    default="load",
    show_default=True,
    help="How they are listed.",
)
@click.option(
    "--setups",
    "assumed",
    type=click.Choice(("look", "one", "several")),
    default="look",
    show_default=True,
    help="Whether leads and resistor were the same; look: as noted.",
)
@click.option("--all", "every", is_flag=True, help="Differences of all, however many.")
@click.option("--check", is_flag=True, help="Read every recording again, however many.")
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
@click.option("--page", type=click.Path(path_type=Path), help="Write an HTML page too.")
@click.option("--replace", is_flag=True, help="Replace a page of the same name.")
@common
@click.pass_context
def command(
    context: click.Context,
    folders: tuple[Path, ...],
    repair: bool,
    repeats: bool,
    order: Order,
    assumed: Assumed,
    every: bool,
    check: bool,
    as_json: bool,
    page: Path | None,
    replace: bool,
) -> None:
    """Hold several examinations against each other; differences are to number 1 of the list.

    What stands after +/- covers 95 %. Results are kept in each folder, in cache, so that the
    next time is quick; that folder may be deleted.
    """
    screen = screen_of(context)
    if repair and len(folders) != 2:
        raise click.UsageError("--repair takes two folders: before, then after.")
    given, left_out, all_read = _gathered(screen, folders, check=check)
    if repair and len(given) != 2:
        raise FolderError(left_out[0].reason, "Before and after are both needed.", "")
    from loopback.comparing.changes import changes_of
    from loopback.comparing.comparison import comparison_of

    comparison = comparison_of(
        given, left_out, order="given" if repair else order, assumed=assumed,
        one_pedal=repeats,
    )  # fmt: skip
    changes = None
    if repair:
        changes = changes_of(given[0].summary, given[1].summary, assumed)
    if as_json:
        from loopback.report.compare_document import comparison_json

        screen.result(comparison_json(comparison, changes))
    else:
        from loopback.report.compare_lines import changes_screen, comparison_screen

        if changes is not None:
            screen.result(changes_screen(comparison, changes, signs=screen.signs))
        else:
            screen.result(
                comparison_screen(comparison, signs=screen.signs, order=order, every=every)
            )
        if not all_read:
            screen.note(
                "Recordings were recognised by size and times; --check reads every one of them."
            )
    if page is not None:
        from loopback.cache.cached import cached_analysis
        from loopback.report.compare_page import drawn_of, named, write_page

        drawn = [(named(e), cached_analysis(e.folder)) for e in drawn_of(comparison)]
        write_page(page, comparison, drawn, changes, replace=replace)
        if not as_json:
            screen.note(str(page))
    if not given:
        context.exit(1)


def _gathered(
    screen: Screen, folders: tuple[Path, ...], *, check: bool
) -> tuple[list[Given], list[LeftOut], bool]:
    """Summarise each folder once; what cannot be read is listed and stops nothing."""
    from loopback.cache.cached import cached_summary
    from loopback.comparing.comparison import Given, LeftOut

    own = list({folder.resolve(): folder for folder in folders}.values())
    thorough = check or len(own) <= READ_ALL_UP_TO
    given: list[Given] = []
    left_out: list[LeftOut] = []
    all_read = True
    with progress(screen, "Reading", len(own)) as step:
        for folder in own:
            step(f"Reading {folder.name}")
            try:
                found = cached_summary(folder, thorough=thorough)
            except LoopbackError as error:
                left_out.append(LeftOut(folder, error.found))
                continue
            except OSError as error:
                left_out.append(LeftOut(folder, f"It cannot be read: {error.strerror or error}."))
                continue
            all_read = all_read and found.read
            given.append(Given(folder, found.summary, found.changed))
    return given, left_out, all_read
