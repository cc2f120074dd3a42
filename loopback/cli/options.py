"""Options that every command has, and values read the way people write them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import click

from loopback.cli.screen import screen_of
from loopback.errors import ArgumentError
from loopback.quantity import parse_value


def _set_plain(context: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        screen_of(context).plain = True


def _set_quiet(context: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        screen_of(context).quiet = True


def common(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add ``--plain`` and ``--quiet``."""
    quiet = click.option(
        "--quiet",
        is_flag=True,
        expose_value=False,
        callback=_set_quiet,
        help="No notes, no progress.",
    )
    plain = click.option(
        "--plain",
        is_flag=True,
        expose_value=False,
        callback=_set_plain,
        help="No colour; ohm and +/- instead of signs.",
    )
    return plain(quiet(command))


class Verb(click.Command):
    """A command whose help ends in lines that can be pasted."""

    def __init__(self, *args: Any, examples: tuple[str, ...] = (), **more: Any) -> None:
        super().__init__(*args, **more)
        self._examples = examples

    def format_epilog(self, _: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the examples as they are, never broken."""
        if self._examples:
            formatter.write("\n" + "".join(f"  {line}\n" for line in self._examples))


def _number(unit: str, low: float, high: float, example: str) -> Callable[[str], float]:
    """Make a reader of numbers with a prefix: ``100k``, ``0.1M``, ``96k``, ``1%``."""

    def number(text: str) -> float:
        try:
            value = parse_value(str(text), unit)
        except ArgumentError as error:
            raise click.BadParameter(str(error)) from error
        if not low <= value <= high:
            raise click.BadParameter(f'"{text}" is outside what can be; write it like {example}.')
        return value

    return number


RATE = _number("Hz", 1.0, 1e7, "96k")
OHM = _number("ohm", 1.0, 1e9, "100k")
VOLT = _number("V", 1e-6, 100.0, "0.245V")
TOLERANCE = _number("per cent", 0.0, 0.5, "1%")
"""A share, 0 to 0.5, written as a per cent."""
