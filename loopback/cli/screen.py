"""What is written where: results, notes and complaints, in signs that the console has."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from typing import TextIO

import click

from loopback.errors import LoopbackError
from loopback.report.symbols import encodable, plain_signs, shows_signs
from loopback.texts import for_terminal

STOPPED = 130
"""Exit status after Ctrl-C: 128 and the number of the signal, as shells have it."""


@dataclass(slots=True)
class Screen:
    """Standard output and standard error of one call of the program.

    Parameters
    ----------
    plain : bool
        Write signs out (``ohm``, ``+/-``) and use no colour, whatever the console can do.
    quiet : bool
        Leave out notes and progress; results and complaints stay.
    """

    plain: bool = False
    quiet: bool = False

    @property
    def signs(self) -> bool:
        """Whether Ω, ± and µ can be written to standard output."""
        return not self.plain and shows_signs(sys.stdout.encoding)

    @property
    def shows_progress(self) -> bool:
        """Whether somebody watches standard error."""
        return not self.quiet and sys.stderr.isatty()

    @property
    def asks(self) -> bool:
        """Whether there is somebody to answer a question."""
        return sys.stdin.isatty() and sys.stderr.isatty()

    def result(self, text: str) -> None:
        """Write what was asked for to standard output."""
        self._write(text, sys.stdout)

    def note(self, text: str) -> None:
        """Write what is good to know to standard output, unless quiet."""
        if not self.quiet:
            self._write(text, sys.stdout)

    def live(self, text: str, width: int) -> None:
        """Write a line over the one written before, on a terminal."""
        shown = text if self.signs else plain_signs(text)
        self._write(shown.ljust(width), sys.stdout, end="\r")

    def complain(self, found: str, *more: str) -> None:
        """Write to standard error what was found, and below it what it means and what to do."""
        lines = [f"! {found}", *(f"  {line}" for line in more if line)]
        self._write("\n".join(lines), sys.stderr)

    def heading(self, text: str) -> str:
        """Make a text bold where that is wanted and can be seen."""
        coloured = not self.plain and "NO_COLOR" not in os.environ and sys.stdout.isatty()
        return click.style(text, bold=True) if coloured else text

    def _write(self, text: str, stream: TextIO, end: str = "\n") -> None:
        encoding, text = stream.encoding, for_terminal(text)
        if self.plain or not shows_signs(encoding):
            text = plain_signs(text)
        try:
            click.echo(encodable(text, encoding) + end, file=stream, nl=False)
            stream.flush()
        except BrokenPipeError:
            # Whoever read has left, as `head` does. Python must not try to flush again at the end.
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
            raise click.exceptions.Exit(0) from None


def screen_of(context: click.Context) -> Screen:
    """Return the one screen of this call."""
    return context.find_root().ensure_object(Screen)


def complain_about(screen: Screen, error: LoopbackError) -> None:
    """Write an error of this package: found, means, action, one line each."""
    screen.complain(error.found, error.means, error.action)
