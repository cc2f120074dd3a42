"""Markdown laid out for a console: text in columns, what is typed and drawn as it stands."""

from __future__ import annotations

from textwrap import indent
from typing import ClassVar

from rich.console import Console, ConsoleOptions, RenderResult
from rich.markdown import CodeBlock, Markdown
from rich.text import Text
from rich.theme import Theme

STYLES = Theme(
    {
        "markdown.h1": "bold",
        "markdown.h2": "bold",
        "markdown.code": "bold",
        "markdown.block_quote": "bold",
        "markdown.item.bullet": "bold",
        "markdown.item.number": "bold",
        "markdown.table.header": "bold",
        "markdown.table.border": "none",
    }
)
"""Nothing but bold: no colour that a light or a dark terminal would swallow."""


class AsItStands(CodeBlock):
    """A fenced block, such as the output of a command: no frame, margin or breaks of its own."""

    margin = ""

    def __rich_console__(self, _: Console, __: ConsoleOptions) -> RenderResult:
        text = indent(str(self.text).rstrip(), self.margin)
        yield Text(text, no_wrap=True, overflow="ignore")


class SetIn(AsItStands):
    """An indented block, such as a drawing or a line to type: as far in as in the source."""

    margin = "    "


class Page(Markdown):
    """A page of the guide."""

    elements: ClassVar = {**Markdown.elements, "fence": AsItStands, "code_block": SetIn}
