"""``loopback describe``: which unit it was, how it was set and fed, and in what room."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from loopback.cli.folders import pasted
from loopback.cli.options import Verb, common
from loopback.cli.screen import screen_of

_OPTIONS = (
    ("maker", "Who made it."),
    ("model", "What it is called on its label."),
    ("serial", "Serial number, or any mark that tells this unit from others."),
    ("revision", "Of the circuit or the board."),
    ("mode", "How its knobs and switches are set."),
    ("jacks", "Which pair of jacks was used."),
    ("supply", "What fed it."),
    ("claim", "What is said about its bypass; only compared."),
    ("note", "Anything worth remembering."),
    ("private-note", "The same for you alone; not on a public page."),
    ("conditions", "Temperature, humidity, place."),
)


def _texts(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add one option for each field."""
    for name, about in reversed(_OPTIONS):
        command = click.option(f"--{name}", metavar="TEXT", default=None, help=about)(command)
    return command


@click.command(
    "describe",
    cls=Verb,
    examples=(
        "loopback describe harbour-bell",
        'loopback describe harbour-bell --serial "0042" --conditions "21 C, 45 % RH"',
        'loopback describe harbour-bell --note ""',
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@_texts
@common
@click.pass_context
def command(context: click.Context, /, folder: Path, **texts: str | None) -> None:
    """Note which unit was measured and in what conditions; show what is noted.

    Without options: every field, and the call that fills the empty ones. An empty text clears a
    field. No number depends on these words; a page that was published keeps those it has.
    """
    screen = screen_of(context)
    from loopback.examination.folder import ExaminationFolder
    from loopback.report.item_words import described_screen, reworded_screen

    there = ExaminationFolder.open(folder)
    words = {name: text for name, text in texts.items() if text is not None}
    if not words:
        screen.result(described_screen(there.document, pasted(folder), signs=screen.signs))
        return
    changes = there.describe(words)
    screen.result(reworded_screen(changes, signs=screen.signs))
    if any(change.name != "private_note" for change in changes) and _published(there.path):
        screen.note(
            "\nWhat was published keeps its words. To publish these:"
            f"\n  loopback report {pasted(folder)} --replace"
        )


def _published(folder: Path) -> bool:
    from loopback.report.published import PUBLISHED

    return (folder / PUBLISHED).exists()
