"""``loopback show``: the result on one screen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopback.cli.folders import pasted
from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import Screen, screen_of

if TYPE_CHECKING:
    from loopback.facts import Analysis


@click.command(
    "show",
    cls=Verb,
    examples=(
        "loopback show harbour-bell",
        "loopback show harbour-bell --all",
        "loopback show harbour-bell --json > harbour-bell.json",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--all", "all_numbers", is_flag=True, help="Every number of every run.")
@click.option("--json", "as_json", is_flag=True, help="The same facts for machines.")
@common
@click.pass_context
def command(context: click.Context, folder: Path, all_numbers: bool, as_json: bool) -> None:
    """Say what this pedal does to the line when it is off, and how sure that is.

    Everything is computed from the recordings in FOLDER. What stands after +/- covers 95 %.
    """
    screen = screen_of(context)
    if not as_json:
        show_result(screen, folder, all_numbers=all_numbers)
        return
    analysis = analysed(screen, folder)
    from loopback.report.document import facts_json

    screen.result(facts_json(analysis))


def show_result(screen: Screen, folder: Path, *, all_numbers: bool = False) -> None:
    """Write the result screen of a folder, and every number where that is wanted."""
    analysis = analysed(screen, folder)
    from loopback.report.text import all_evidence, result_screen

    screen.result(result_screen(analysis, pasted(folder), signs=screen.signs))
    if all_numbers:
        from loopback.report.numbers import every_number

        screen.result("\n" + all_evidence(analysis, signs=screen.signs))
        screen.result("\n" + every_number(analysis, signs=screen.signs))


def analysed(screen: Screen, folder: Path) -> Analysis:
    """Analyse a folder, with a sign of life."""
    with progress(screen, "Analysing") as step:
        step("Loading what the analysis needs")
        from loopback.analysis import analyse

        step(f"Reading the recordings of {folder.name}")
        return analyse(folder)
