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
        "loopback plot harbour-bell --theme dark --size slide",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--into", type=click.Path(path_type=Path), help="Folder for the pictures.  [FOLDER/plots]"
)
@click.option(
    "--theme",
    type=click.Choice(["light", "dark", "both"]),
    default="light",
    show_default=True,
    help="Paper and inks.",
)
@click.option(
    "--size",
    type=click.Choice(["web", "slide", "both"]),
    default="web",
    show_default=True,
    help="For a page, 1600 pixels wide, or 16:9 with 1920 by 1080.",
)
@click.option("--replace", is_flag=True, help="Replace pictures of the same name.")
@common
@click.pass_context
def command(
    context: click.Context, folder: Path, into: Path | None, theme: str, size: str, replace: bool
) -> None:
    """Draw the pictures, each as PNG and as SVG.

    insertion: every run against the cable, with bands and the setup's own floor. zoom: the same
    within 1 dB. noise: spectra of the silences, with every tone in them. harmonics: what the
    path adds to a tone. presses: what the footswitch puts on the line. player: what a guitar
    loses. Pictures without anything to show are not made. Axes are the same for every pedal.
    """
    screen = screen_of(context)
    target = folder / "plots" if into is None else into
    with progress(screen, "Loading what drawing needs") as step:
        step("Loading what drawing needs")
        from loopback.report.pictures import (
            SIZES,
            THEMES,
            picture_paths,
            pictures_of,
            write_pictures,
        )
    themes = tuple(name for name in THEMES if theme in (name, "both"))
    sizes = tuple(name for name in SIZES if size in (name, "both"))
    analysis = analysed(screen, folder)
    shown = pictures_of(analysis)
    taken = [
        path for path in picture_paths(target, shown, themes=themes, sizes=sizes) if path.exists()
    ]
    if taken and not replace:
        raise FolderError(
            f'"{taken[0]}" exists already.',
            "Pictures are not overwritten unless you say so.",
            "Add --replace, or name another folder with --into.",
        )
    with progress(screen, "Drawing") as step:
        step("Drawing")
        written = write_pictures(analysis, target, shown, themes=themes, sizes=sizes)
    for path in written:
        screen.note(str(path))
