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
        "loopback export --schema > facts.schema.json",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path), required=False)
@click.option(
    "--into", type=click.Path(path_type=Path), help="Folder for the files.  [FOLDER/curves]"
)
@click.option("--replace", is_flag=True, help="Replace files of the same name.")
@click.option("--schema", is_flag=True, help="Print the JSON Schema of the facts, no FOLDER.")
@common
@click.pass_context
def command(
    context: click.Context, folder: Path | None, into: Path | None, replace: bool, schema: bool
) -> None:
    """Write every curve as CSV, all facts as JSON, and the chain matrix as Touchstone too.

    contents.csv says what each file is. insertion-RUN.csv: level against the cable with its
    doubt. noise-RUN.csv: noise density; noise-bands-RUN.csv: as drawn; tones-RUN.csv: single
    tones. harmonics-RUN.csv: with what the noise hides. player-PICKUP.csv: computed; presses.csv.
    matrix.csv and matrix.s2p: A, B, C, D of the pedal, where two loads were used (--plan full).
    facts.json: as from show --json.
    """
    screen = screen_of(context)
    if schema:
        from loopback.report.facts_schema import shipped_schema

        screen.result(shipped_schema().rstrip())
        return
    if folder is None:
        raise click.UsageError("Missing argument 'FOLDER'.", context)
    analysis = analysed(screen, folder)
    from loopback.report.exports import export_texts, write_exports

    texts = export_texts(analysis)
    target = folder / "curves" if into is None else into
    for path in write_exports(texts, target, replace=replace):
        screen.note(str(path))
    if analysis.matrix is None:
        screen.note("No chain matrix: it takes both leads and a load plug (--plan full).")
