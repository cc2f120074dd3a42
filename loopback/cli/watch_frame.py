"""The frame of `press` and `tap`: their common options, the rig, and what Ctrl-C leaves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from loopback.cli.folders import pasted
from loopback.cli.options import common
from loopback.cli.progress import progress
from loopback.cli.screen import STOPPED, Screen, screen_of
from loopback.cli.watching import Table, open_table, refuse_unanswered

F = TypeVar("F", bound=Callable[..., Any])

_COMMON = (
    click.option("--device", metavar="WORDS", help="Another interface than in setup.toml."),
    click.option(
        "--simulate", metavar="NAME", help="Simulated pedal, or the path of a pedal file."
    ),
    click.option("--seed", type=int, default=1, show_default=True, help="Of the simulated chance."),
    click.option("--yes", is_flag=True, help="Ask nothing; begin at once."),
    common,
    click.pass_context,
)


def watch_options(function: F) -> F:
    """Give a command the options that every watching has.

    Parameters
    ----------
    function : callable
        The command's function.

    Returns
    -------
    callable
        It, with the options.
    """
    for option in reversed(_COMMON):
        function = option(function)
    return function


def attended(
    context: click.Context,
    folder: Path,
    said: dict[str, Any],
    work: Callable[[Screen, Table, dict[str, Any], bool], None],
) -> Screen:
    """Open folder and rig, watch, and say what stays when somebody stops it.

    Parameters
    ----------
    context : click.Context
        Of the command, whose name is the verb.
    folder : Path
        Of the pedal.
    said : dict
        Options.
    work : callable
        Records: screen, table, options, and whether questions can be asked.

    Returns
    -------
    Screen
        To show the result on; the program has ended when it was stopped.

    Raises
    ------
    LoopbackError
        If there is no such folder, no interface, or no such simulated pedal.
    """
    screen, verb = screen_of(context), context.info_name
    asks = refuse_unanswered(screen, said)
    with progress(screen, f"Loading what {verb} needs") as step:
        step(f"Loading what {verb} needs")
        table = open_table(screen, folder, said)
    try:
        work(screen, table, said, asks)
    except (KeyboardInterrupt, click.Abort):
        screen.complain(
            "Stopped.",
            "Recordings that were complete are kept; the folder is as valid as before.",
            f"Begin again:  loopback {verb} {pasted(folder)}",
        )
        context.exit(STOPPED)
    return screen
