"""The entrance: which commands there are, the help page, and how the program ends."""

from __future__ import annotations

import os
import sys
from importlib import import_module
from typing import NoReturn

import click

from loopback.cli.options import common
from loopback.cli.screen import STOPPED, Screen, complain_about
from loopback.errors import LoopbackError

_GROUPS: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...] = (
    (
        "Learn, without hardware",
        (
            ("demo", "", "a small workshop tests five kit pedals, simulated"),
            ("guide", "[TOPIC]", "hook-ups, resistor lead, reading the result, faults"),
        ),
    ),
    (
        "Measure",
        (
            ("setup", "", "choose the interface, check leads and level: setup.toml"),
            ("meter", "", "pF and Mohm live: a lead, a capacitor, a switch, a pedal"),
            ("measure", "PEDAL", "guided measurement of one pedal, run by run"),
            ("press", "FOLDER", "what the footswitch puts on the line"),
            ("tap", "FOLDER", "watch the line while you tap and bend"),
            ("describe", "FOLDER", "note which unit it was, and the conditions"),
        ),
    ),
    (
        "Recordings made elsewhere",
        (
            ("signal", "FILE.wav", "write the signal that you play through the pedal"),
            ("add", "FOLDER FILE", "put a recording into this pedal's folder"),
        ),
    ),
    (
        "What came out",
        (
            ("show", "FOLDER", "the result on one screen (--all: every number, --json)"),
            ("plot", "FOLDER", "pictures: level against the cable, a zoom of it, noise"),
            ("player", "FOLDER ...", "what it changes for a guitar; several: a whole board"),
            ("compare", "FOLDER ...", "several pedals, repeats, or before and after a repair"),
            ("export", "FOLDER", "every curve as CSV, the chain matrix as Touchstone"),
        ),
    ),
    (
        "Hand it on, and check it",
        (
            ("report", "FOLDER", "one page to publish or to file, with its pictures"),
            ("verify", "FOLDER", "compute it again: do the published numbers follow?"),
            ("pack", "FOLDER", "one file to send to somebody"),
            ("unpack", "FILE", "a folder again from what somebody sent"),
        ),
    ),
)
_COMMANDS = tuple(name for _, entries in _GROUPS for name, _, _ in entries)


class _Lazy(click.Group):
    """A group that loads a command's file when that command is called."""

    def list_commands(self, _: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, _: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        command: click.Command = import_module(f"loopback.cli.{cmd_name}").command
        return command

    def format_help(self, _: click.Context, formatter: click.HelpFormatter) -> None:
        formatter.write(_help_page())


def _help_page() -> str:
    lines = [
        "loopback COMMAND [WHAT] [OPTIONS]",
        "",
        "The bypass tester: what a guitar pedal does to the line when it is off,",
        "with evidence.",
    ]
    for title, entries in _GROUPS:
        lines += ["", title]
        lines += [f"  {f'{name} {what}':<18}  {about}" for name, what, about in entries]
    lines += [
        "",
        "Everywhere",
        "  COMMAND --help      what a command takes, with examples",
        "  --plain             no colour; ohm and +/- instead of signs",
        "  --quiet             no notes, no progress",
        "  --version           which version this is",
        "",
    ]
    return "\n".join(lines)


def _print_version(context: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        from loopback import __version__

        click.echo(f"loopback {__version__}")
        context.exit(0)


@click.group(
    cls=_Lazy,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
@click.option("--version", is_flag=True, expose_value=False, is_eager=True, callback=_print_version)
@common
@click.pass_context
def loopback(context: click.Context) -> None:
    """Show the help page when nothing else is asked for."""
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""The matrices of the fits are small: shared out over threads they take several times as long
(measured). Must stand before numpy is loaded."""


def main(arguments: list[str] | None = None) -> NoReturn:
    """Run one command and end the process with its status; never with a traceback of its own."""
    for name in ONE_THREAD:
        os.environ.setdefault(name, "1")
    screen = Screen()
    sys.exit(_status_of(screen, arguments))


def _status_of(screen: Screen, arguments: list[str] | None) -> int:
    try:
        status = loopback.main(arguments, prog_name="loopback", standalone_mode=False, obj=screen)
    except click.UsageError as error:
        called = error.ctx.command_path if error.ctx is not None else "loopback"
        screen.complain(error.format_message(), f"How it is called:  {called} --help")
        return 2
    except click.ClickException as error:
        screen.complain(error.format_message())
        return 1
    except LoopbackError as error:
        complain_about(screen, error)
        return error.exit_status
    except (KeyboardInterrupt, click.Abort):
        screen.complain("Stopped.", "Everything recorded until then is kept.")
        return STOPPED
    except OSError as error:
        name = f' "{error.filename}"' if error.filename else ""
        screen.complain(
            f"The system refused{name}: {error.strerror or error}.",
            "What was written before is kept.",
            "Check the place, its free space and its permissions, and call it again.",
        )
        return 1
    return status if isinstance(status, int) else 0
