"""``loopback guide``: short pages to read at the table."""

from __future__ import annotations

import re
from difflib import get_close_matches
from importlib import resources

import click

from loopback.cli.options import Verb, common
from loopback.cli.screen import Screen, screen_of
from loopback.report.symbols import plain_signs

TOPICS = (
    ("needs", "interface, leads, coupler, plugs; every hook-up drawn"),
    ("resistor-lead", "how to make the lead that the ohms rest on, and check it"),
    ("five-minutes", "from the plugged lead to the result"),
    ("reading", "the result and the report, line by line"),
    ("faults", "symptom, cause, where to look"),
    ("limits", "what can be told and what cannot, in numbers"),
    ("arithmetic", "from two recordings to ohms and picofarads, with sources"),
    ("simulated-pedals", "pedals as text files, and what they may sound like"),
    ("cautions", "ears, loudspeakers, mains, high voltage"),
)
"""Every page in the order in which one would read them, and what it is about."""
WIDTH = 80
_HEADING = re.compile(r"^##.*$", re.MULTILINE)
_LINES = str.maketrans({"─": "-", "━": "-", "•": "*", "▌": "|"})
"""What the layout draws with, for a console that has no such letters."""


@click.command(
    "guide",
    cls=Verb,
    examples=("loopback guide", "loopback guide needs", "loopback guide faults > faults.txt"),
)
@click.argument("topic", required=False)
@common
@click.pass_context
def command(context: click.Context, topic: str | None) -> None:
    """Read a page of the guide; without TOPIC, list them.

    Pages are as wide as a small console, and plain text where they are piped into a file.
    """
    screen = screen_of(context)
    if topic is None:
        screen.result(_list())
        return
    names = tuple(name for name, _ in TOPICS)
    if topic not in names:
        near = get_close_matches(topic, names, n=1, cutoff=0.4)
        maybe = f' Near to it: "{near[0]}".' if near else ""
        raise click.UsageError(f'There is no page "{topic}".{maybe} There are: {", ".join(names)}.')
    screen.result(_drawn(screen, page(topic)))


def page(topic: str) -> str:
    """Return the Markdown of one page."""
    file = resources.files("loopback") / "guide" / f"{topic}.md"
    return file.read_text(encoding="utf-8")


def _list() -> str:
    lines = ["Pages of the guide:  loopback guide TOPIC", ""]
    lines += [f"  {name:<18}  {about}" for name, about in TOPICS]
    return "\n".join(lines)


def _drawn(screen: Screen, text: str) -> str:
    """Lay a page out, never wider than a page; in bold and plain on a terminal, else as text."""
    from rich.console import Console

    from loopback.cli.markdown import STYLES, Page

    console = Console(highlight=False, theme=STYLES)
    width = min(WIDTH, console.width) if console.is_terminal else WIDTH
    shown = text if screen.signs else plain_signs(text)
    if screen.plain or not console.is_terminal:
        shown = _HEADING.sub(lambda match: match[0].upper(), shown)  # where nothing is bold
    with console.capture() as capture:
        console.print(Page(shown, hyperlinks=False), width=width)
    drawn = click.unstyle(capture.get()) if screen.plain else capture.get()
    if not screen.signs:
        drawn = drawn.translate(_LINES)
    return _closed_up(drawn)


def _closed_up(drawn: str) -> str:
    """Leave one empty line where the layout leaves several."""
    lines: list[str] = []
    for line in drawn.splitlines():
        if click.unstyle(line).strip():
            lines.append(line.rstrip())
        elif lines and lines[-1]:
            lines.append("")
    return "\n".join(lines).rstrip()
