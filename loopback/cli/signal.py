"""``loopback signal``: write what is to be played."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.options import RATE, Verb, common
from loopback.cli.screen import screen_of


@click.command(
    "signal",
    cls=Verb,
    examples=(
        "loopback signal sweep.wav",
        "loopback signal quiet.wav --rate 48k --level -24",
    ),
)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--rate", type=RATE, default="96k", show_default=True, help="Sample rate.")
@click.option("--seconds", type=float, default=4.0, show_default=True, help="Of each sweep.")
@click.option("--level", type=float, default=-12.0, show_default=True, help="Peak, dBFS.")
@click.option(
    "--ceiling",
    type=float,
    default=-12.0,
    show_default=True,
    help="The level may not exceed this. Raise it only if you know the volts.",
)
@click.option("--takes", type=click.IntRange(1, 20), default=2, show_default=True, help="How many.")
@common
@click.pass_context
def command(
    context: click.Context,
    file: Path,
    rate: float,
    seconds: float,
    level: float,
    ceiling: float,
    takes: int,
) -> None:
    """Write the signal as a 24-bit WAV file, and its document beside it.

    Play the file from any recorder or workstation, at full scale and without effects, and record
    what comes back. Existing files are never overwritten.
    """
    from loopback.examination.signal_file import sheet_path, write_signal_file
    from loopback.signal.take import layout_of, plan_signal

    signal = plan_signal(round(rate), seconds, level, ceiling)
    write_signal_file(file, signal, takes)
    screen = screen_of(context)
    length_s = layout_of(signal).length * takes / signal.rate_hz
    screen.note(
        f"{file}: {takes} takes, {length_s:.0f} s, {signal.rate_hz} Hz, "
        f"{signal.f1_hz:g} Hz to {signal.f2_hz / 1000:.1f} kHz, {signal.level_dbfs:g} dBFS peak."
        if takes > 1
        else f"{file}: one take, {length_s:.0f} s, {signal.rate_hz} Hz, "
        f"{signal.f1_hz:g} Hz to {signal.f2_hz / 1000:.1f} kHz, {signal.level_dbfs:g} dBFS peak."
    )
    screen.note(f"{sheet_path(file)}: keep it beside the signal.")
    screen.note("CAUTION  Headphones off, loudspeakers unplugged before you play it: it is sudden.")
