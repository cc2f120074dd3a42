"""``loopback tap``: watch the line while somebody taps and bends."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from loopback.cli.folders import pasted
from loopback.cli.options import Verb
from loopback.cli.progress import progress
from loopback.cli.screen import Screen
from loopback.cli.watch_frame import attended, watch_options
from loopback.cli.watching import (
    CAUTION,
    TONE_BELOW_DB,
    Table,
    ask,
    drawing,
    label_of,
    next_lines,
    watched,
)
from loopback.texts import one_line


@click.command(
    "tap",
    cls=Verb,
    examples=(
        "loopback tap quarry-lamp",
        "loopback tap quarry-lamp --seconds 60",
        "loopback tap quarry-lamp --sweeps",
        "loopback tap quarry-lamp --simulate my-pedal.cir",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--seconds",
    type=click.FloatRange(2, 600),
    default=20.0,
    show_default=True,
    help="How long to watch.",
)
@click.option("--sweeps", is_flag=True, help="Short sweeps of 0.1 s in place of the tone.")
@watch_options
def command(context: click.Context, /, folder: Path, **said: Any) -> None:
    """Play a steady tone while you tap and bend: when the line lets go, and by how much.

    FOLDER is that of a pedal that was measured. The recording is added to it. Piped, each event
    is one line: moment, length, level, phase. With --sweeps each line also says at which
    frequency, from 500 Hz to 12 kHz; a drop-out is then timed to 5 ms in place of 1 ms.
    """
    _show(attended(context, folder, said, _tap), folder)


def _tap(screen: Screen, table: Table, said: dict[str, Any], asks: bool) -> None:
    import msgspec

    from loopback.signal.watch import MARK_S, SETTLE_S, Watch
    from loopback.signal.watch_sweeps import SWEEP_S

    name = one_line(table.folder.document.pedal.name)
    watch = Watch(
        steady=True,
        level_dbfs=max(-80.0, table.folder.document.signal.level_dbfs - TONE_BELOW_DB),
        presses=0,
        rest_s=said["seconds"],
        corner_hz=table.rig.facts().corner_hz,
        sweep_s=SWEEP_S if said["sweeps"] else msgspec.UNSET,
    )
    label = label_of(table.folder, None)
    moments: list[tuple[float, str]] = []
    if not table.simulated:
        screen.note("\n".join(CAUTION))
        sound = "Short sweeps" if said["sweeps"] else "A tone of 5 kHz"
        screen.note(f"\n{name}, in bypass, power on. {sound} will sound all the time.")
        screen.note(drawing(label, name))
        screen.note("      Tap jacks, switch and lid with something dry and light; bend each lead.")
        moments = [(MARK_S + SETTLE_S, f"      tap and bend now, {watch.rest_s:.0f} s")]
    ask(asks, "      [Enter] starts", "", "")
    watched(table, label, watch, moments)


def _show(screen: Screen, folder: Path) -> None:
    with progress(screen, "Analysing") as step:
        step("Reading the recording")
        from loopback.examination.stored import StoredExamination
        from loopback.report.tap_lines import tap_event_line, tap_screen
        from loopback.switching.recorded import taps_of

        stored = StoredExamination.open(folder)
        figures = taps_of(stored)
    if figures is None:
        screen.complain(
            "Nothing could be read.",
            "The recording is kept, but is not complete.",
            f"Begin again:  loopback tap {pasted(folder)}",
        )
        return
    if not sys.stdout.isatty():
        for event in figures.events:
            screen.result(tap_event_line(event))
        if not figures.events:
            screen.note("Steady: nothing moved while it was watched.")
        return
    name = one_line(stored.document.pedal.name)
    follow = next_lines(folder, "tap {}", "show {}")
    screen.result(tap_screen(figures, name, follow, signs=screen.signs))
