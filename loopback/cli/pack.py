"""``loopback pack``: one file to send to somebody."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.folders import pasted
from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import screen_of

SUFFIX = ".zip"


@click.command(
    "pack",
    cls=Verb,
    examples=(
        "loopback pack harbour-bell",
        "loopback pack harbour-bell for-the-review.zip",
        "loopback pack harbour-bell --private",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--private", is_flag=True, help="The private note and private pages too.")
@common
@click.pass_context
def command(context: click.Context, folder: Path, file: Path | None, private: bool) -> None:
    """Pack an examination into FILE, by default the folder's name with .zip, here.

    In it: the recordings, what was played, the document, what the result was held to, and what
    was published. Pictures and tables are left out, they can be made again. The private note
    stays out unless --private is given. Any program opens the file; `loopback unpack` checks it.
    """
    screen = screen_of(context)
    target = Path(f"{folder.absolute().name}{SUFFIX}") if file is None else file
    from loopback.examination.pack import pack
    from loopback.report.published import public_files

    with progress(screen, "Packing") as step:
        step("Checking and packing the recordings")
        more = public_files(folder, private=private)
        done = pack(folder, target, more=more, private=private)
    screen.note(
        f"{pasted(target)}: {done.files} files, {done.bytes_after / 1e6:.1f} MB "
        f"(unpacked {done.bytes_before / 1e6:.1f} MB)."
    )
    screen.note("The private note is in it." if private else "Private fields are not in it.")
    if done.foreign:
        screen.note(
            f"{done.foreign} of its recordings came from files of another folder. They are in it\n"
            "byte for byte, with whatever their recorder wrote into them beside the sound."
        )
    if not more:
        screen.note(f"Nothing was published yet; to do so first:  loopback report {pasted(folder)}")
    screen.note(f"Whoever gets it types:  loopback unpack {pasted(Path(target.name))}")
