"""``loopback unpack``: a folder again from what somebody sent."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.folders import folder_name, free_folder, pasted
from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import screen_of


@click.command(
    "unpack",
    cls=Verb,
    examples=("loopback unpack harbour-bell.zip", "loopback unpack harbour-bell.zip from-anna"),
)
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path), required=False)
@common
@click.pass_context
def command(context: click.Context, file: Path, folder: Path | None) -> None:
    """Unpack FILE into FOLDER, by default one with the file's name, here.

    Every file is checked against the list in the package before the folder gets its name. Nothing
    that exists is overwritten, and nothing is left behind when something does not fit.
    """
    screen = screen_of(context)
    target = free_folder(Path(folder_name(file.stem))) if folder is None else folder
    from loopback.examination.unpack import unpack

    with progress(screen, "Unpacking") as step:
        step("Unpacking and checking")
        done = unpack(file, target)
    screen.note(
        f"{pasted(target)}: {done.files} files, {done.recordings} of them recordings, "
        "each as it was packed."
    )
    if done.private:
        screen.note("Private fields came along: look before you publish.")
    screen.note(f"Next  loopback show {pasted(target)}")
    if (done.path / "published.json").is_file():
        screen.note(f"      loopback verify {pasted(target)}")
