"""``loopback verify``: whether the published numbers follow from the recordings."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.folders import pasted
from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import screen_of

FOLLOWS_NOT = 4
"""Exit status: checked, and the published numbers do not follow, or something was changed."""
NOTHING_TO_COMPARE = 1


@click.command(
    "verify",
    cls=Verb,
    examples=(
        "loopback verify harbour-bell",
        "loopback verify harbour-bell --all",
        "loopback verify harbour-bell --json > proof.json",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--all", "everything", is_flag=True, help="List every difference.")
@click.option("--json", "as_json", is_flag=True, help="The same for machines.")
@click.option(
    "--publication", type=int, metavar="NUMBER", help="Which one, counted from 1.  [the last]"
)
@common
@click.pass_context
def command(
    context: click.Context, folder: Path, everything: bool, as_json: bool, publication: int | None
) -> None:
    """Compute everything again and compare it with what was published.

    Checks the hash of every recording, document and page in FOLDER, then computes all numbers
    from the recordings. With the version that published them, on the same kind of machine, they
    must agree to the last bit; otherwise within a hundredth of each standard uncertainty. Words
    about the pedal that were changed since are listed apart: no number follows from them.

    Exit status: 0 they follow, 4 they do not or something was changed, 1 nothing to compare. It
    shows changes; who made a folder, and whether its recordings are honest, no file can show.
    """
    screen = screen_of(context)
    with progress(screen, "Verifying") as step:
        step("Loading what the analysis needs")
        from loopback.proof.verify import verify

        found = verify(folder, publication, step)
    from loopback.proof.told import verification_json, verification_screen

    if as_json:
        screen.result(verification_json(found))
    else:
        shown = pasted(folder)
        screen.result(verification_screen(found, shown, everything=everything, signs=screen.signs))
    if found.publication is None and not found.problems:
        context.exit(NOTHING_TO_COMPARE)
    context.exit(0 if found.follows else FOLLOWS_NOT)
