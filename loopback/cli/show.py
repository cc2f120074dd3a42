"""``loopback show``: the result on one screen."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopback.cli.folders import pasted
from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import Screen, screen_of
from loopback.errors import ArgumentError

if TYPE_CHECKING:
    from loopback.facts import Analysis

EXPECTATION = "expectation.toml"
"""In a pedal's folder: what it should be."""
OUTSIDE = 3
"""Exit status: done, and outside the expectation."""


@click.command(
    "show",
    cls=Verb,
    examples=(
        "loopback show harbour-bell",
        "loopback show harbour-bell --all",
        "loopback show harbour-bell --expect build-sheet.toml",
        "loopback show harbour-bell --line",
        "loopback show harbour-bell --json > harbour-bell.json",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--all", "all_numbers", is_flag=True, help="Every number of every run.")
@click.option("--line", "form", flag_value="line", help="One line, at most 280 characters.")
@click.option("--short", "form", flag_value="short", help="A few lines for a forum or a ticket.")
@click.option("--json", "form", flag_value="json", help="The same facts for machines.")
@click.option(
    "--expect",
    type=click.Path(path_type=Path),
    help="What it should be, as TOML.  [expectation.toml in FOLDER]",
)
@common
@click.pass_context
def command(
    context: click.Context, folder: Path, all_numbers: bool, form: str | None, expect: Path | None
) -> None:
    """Say what this pedal does to the line when it is off, and how sure that is.

    Everything is computed from the recordings in FOLDER. What stands after +/- covers 95 %. With
    an expectation that is surely not met the exit status is 3.
    """
    screen = screen_of(context)
    if form is not None:
        analysis = analysed(screen, folder, expected_of(folder, expect))
        screen.result(_written(form, analysis))
    else:
        analysis = show_result(screen, folder, all_numbers=all_numbers, expect=expect)
    context.exit(status_of(analysis))


def _written(form: str, analysis: Analysis) -> str:
    """Write an analysis in one of the forms that are no screen."""
    if form == "json":
        from loopback.report.document import facts_json

        return facts_json(analysis)
    from loopback.report.short import line_form, short_form_text

    return line_form(analysis) if form == "line" else short_form_text(analysis)


def status_of(analysis: Analysis) -> int:
    """Exit status of an analysis: 3 when an expectation is surely not met, else 0."""
    from loopback.verdict.expected import surely_not_met

    return OUTSIDE if surely_not_met(analysis.expected) else 0


def show_result(
    screen: Screen, folder: Path, *, all_numbers: bool = False, expect: Path | None = None
) -> Analysis:
    """Write the result screen of a folder, and every number where that is wanted."""
    analysis = analysed(screen, folder, expected_of(folder, expect))
    from loopback.report.text import all_evidence, result_screen

    screen.result(result_screen(analysis, pasted(folder), signs=screen.signs))
    if all_numbers:
        from loopback.report.numbers import every_number

        screen.result("\n" + all_evidence(analysis, signs=screen.signs))
        screen.result("\n" + every_number(analysis, signs=screen.signs))
    return analysis


def check_expectation(file: Path) -> None:
    """Complain about a mistake in an expectation before any work is done."""
    from loopback.verdict.expectation import read_expectation

    read_expectation(file)


def keep_expectation(file: Path, folder: Path) -> None:
    """Copy an expectation into a pedal's folder, where no other one is overwritten."""
    from loopback.examination.atomic import write_new

    data, target = file.read_bytes(), folder / EXPECTATION
    if not target.is_file():
        write_new(target, [data])
    elif target.read_bytes() != data:
        raise ArgumentError(
            f"{pasted(folder)} holds another expectation.",
            "It is never overwritten.",
            f"Leave --expect out, or take {EXPECTATION} out of that folder.",
        )


def expected_of(folder: Path, expect: Path | None) -> Path | None:
    """Return the file named, or else the one that lies in the folder."""
    stored = folder / EXPECTATION
    return stored if expect is None and stored.is_file() else expect


def analysed(screen: Screen, folder: Path, expect: Path | None = None) -> Analysis:
    """Analyse a folder, with a sign of life, and hold it to what was expected, if anything was."""
    expectation = None
    if expect is not None:  # a mistake in that file is told before the long work
        from loopback.verdict.expectation import read_expectation

        expectation = read_expectation(expect)
    with progress(screen, "Analysing") as step:
        step("Loading what the analysis needs")
        from loopback.cache.cached import cached_analysis

        step(f"Reading the recordings of {folder.name}")
        return cached_analysis(folder, expectation)
