"""The guide's words on a terminal, and the answers typed there."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from dataclasses import dataclass, field

import click

from loopback.cli.screen import Screen
from loopback.guided.setup_asked import AskText
from loopback.plan.events import Ask, Key, Mark, Show, Tell

WIDTH = 80
_INDENT = 6
_MARK_AT = 76
_BAR = "########"
_MARKS: dict[Mark, str] = {"good": "good", "look": "look", "bad": "", "": ""}

ReadLine = Callable[[str], str]
"""Shows a question and returns what was typed, without the end of the line."""


def read_line(question: str) -> str:
    """Ask on standard error and read one line.

    Parameters
    ----------
    question : str
        Shown before the cursor.

    Returns
    -------
    str
        What was typed; Ctrl-C and the end of the input stop the program.
    """
    typed: str = click.prompt(question, default="", show_default=False, prompt_suffix=" ", err=True)
    return typed


@dataclass(slots=True)
class TerminalHands:
    """Whoever sits before the terminal; where nobody does, every default is taken.

    Parameters
    ----------
    screen : Screen
        Where it is written.
    asks : bool
        Whether somebody answers.
    read : callable
        See `ReadLine`.
    """

    screen: Screen
    asks: bool
    read: ReadLine = read_line
    _takes: list[str] = field(default_factory=list)

    def show(self, show: Show) -> None:
        """Write cautions, what to do, and the drawing."""
        self._end_takes()
        lines: list[str] = []
        if show.cautions:
            lines += ["CAUTION", *(line for text in show.cautions for line in _wrapped(text))]
        head = f"{show.number}/{show.total}" if show.number else ""
        body = _wrapped(show.text, head)
        self.screen.note("\n" + "\n".join([*lines, *body]))
        if show.drawing:
            self.screen.note(" " * _INDENT + show.drawing)

    def ask(self, ask: Ask) -> Key:
        """Ask until one of the choices is typed."""
        self._end_takes()
        if not self.asks:
            return ask.default
        by_letter: dict[str, Key] = {choice.letter: choice.key for choice in ask.choices}
        words = " ".join(choice.word for choice in ask.choices)
        question = f"{ask.question} {words}" if ask.question else words
        for _ in range(100):
            typed = self.read("\n".join(_wrapped(question))).strip().casefold()
            if typed == "" and "" not in by_letter:
                return ask.default
            if typed[:1] in by_letter:
                return by_letter[typed[:1]]
        return ask.default

    def ask_text(self, ask: AskText) -> str:
        """Ask for a value."""
        self._end_takes()
        if not self.asks:
            return ask.default
        shown = f"{ask.question} [{ask.default}]" if ask.default else ask.question
        return self.read("\n".join(_wrapped(shown))).strip() or ask.default

    def tell(self, tell: Tell) -> None:
        """Write a finding, its mark at the right end, what it means below."""
        text = f"! {tell.text}" if tell.mark == "bad" else tell.text
        taken = "  ".join(self._takes)
        mark = _MARKS[tell.mark]
        room = _MARK_AT - _INDENT
        if taken and len(taken) + 3 + len(text) < room and tell.mark != "bad":
            text = f"{taken}   {text}"
            self._takes.clear()
        self._end_takes()
        lines = _wrapped(text, width=_MARK_AT - 1 if mark else WIDTH)
        lines[-1] = f"{lines[-1]:<{_MARK_AT}}{mark}".rstrip()
        for more in tell.more:
            lines += _wrapped(more, indent=_INDENT + 2)
        self.screen.note("\n".join(lines))

    def take(self, number: int) -> None:
        """Note that a take, or the silence, was kept."""
        self._takes.append(f"take {number} {_BAR}" if number else f"silence {_BAR}")

    def _end_takes(self) -> None:
        if self._takes:
            self.screen.note(" " * _INDENT + "  ".join(self._takes))
            self._takes.clear()


def _wrapped(text: str, head: str = "", width: int = WIDTH, indent: int = _INDENT) -> list[str]:
    lines = textwrap.wrap(
        text,
        width,
        initial_indent=f"{head:<{indent}}",
        subsequent_indent=" " * indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return lines or [head]
