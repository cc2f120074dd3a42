"""``loopback plot``: the pictures of one pedal."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import screen_of
from loopback.cli.show import analysed
from loopback.errors import FolderError


@click.command(
    "plot",
    cls=Verb,
    examples=(
        "loopback plot harbour-bell",
        "loopback plot harbour-bell --into pictures",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--into", type=click.Path(path_type=Path), help="Folder for the pictures.  [FOLDER/plots]"
)
@click.option("--replace", is_flag=True, help="Replace pictures of the same name.")
@common
@click.pass_context
def command(context: click.Context, folder: Path, into: Path | None, replace: bool) -> None:
    """Draw the pictures, each as PNG and as SVG.

    insertion: every run against the cable, with bands and the setup's own floor. zoom: the same
    within 1 dB. noise: spectra of the silences, with every tone in them. harmonics: what the
    path adds to a tone. Axes are the same for every pedal.
    """
    screen = screen_of(context)
    target = folder / "plots" if into is None else into
    with progress(screen, "Loading what drawing needs") as step:
        step("Loading what drawing needs")
        from loopback.report.pictures import picture_paths, write_pictures
    taken = [path for path in picture_paths(target) if path.exists()]
    if taken and not replace:
        raise FolderError(
            f'"{taken[0]}" exists already.',
            "Pictures are not overwritten unless you say so.",
            "Add --replace, or name another folder with --into.",
        )
    analysis = analysed(screen, folder)
    with progress(screen, "Drawing") as step:
        step("Drawing")
        written = write_pictures(analysis, target)
    for path in written:
        screen.note(str(path))
