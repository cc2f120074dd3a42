"""``loopback export``: every curve as a file for other programs."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.options import Verb, common
from loopback.cli.screen import screen_of
from loopback.cli.show import analysed


@click.command(
    "export",
    cls=Verb,
    examples=(
        "loopback export harbour-bell --into curves",
        "loopback export harbour-bell --into curves --replace",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--into", type=click.Path(path_type=Path), help="Folder for the files.  [FOLDER/curves]"
)
@click.option("--replace", is_flag=True, help="Replace files of the same name.")
@common
@click.pass_context
def command(context: click.Context, folder: Path, into: Path | None, replace: bool) -> None:
    """Write every curve as CSV, and the chain matrix as Touchstone too.

    insertion-RUN.csv: level against the cable with its doubt. noise-RUN.csv: noise density.
    matrix.csv and matrix.s2p: A, B, C, D of the pedal, where two loads were used (--plan full).
    """
    screen = screen_of(context)
    analysis = analysed(screen, folder)
    from loopback.report.exports import export_texts, write_exports

    texts = export_texts(analysis)
    target = folder / "curves" if into is None else into
    for path in write_exports(texts, target, replace=replace):
        screen.note(str(path))
    if analysis.matrix is None:
        screen.note("No chain matrix: it takes both leads and a load plug (--plan full).")
