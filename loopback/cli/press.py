"""``loopback press``: what the footswitch puts on the line."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

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

if TYPE_CHECKING:
    from loopback.plan.runs import Lamp
    from loopback.signal.watch import Watch

_LAMPS: dict[str, Lamp] = {"l": "lit", "d": "dark", "n": "none"}


@click.command(
    "press",
    cls=Verb,
    examples=(
        "loopback press quarry-lamp",
        "loopback press quarry-lamp --presses 40 --rest 60",
        "loopback press quarry-lamp --simulate quarry-lamp",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option(
    "--presses",
    type=click.IntRange(4, 200),
    default=20,
    show_default=True,
    help="In silence, both ways.",
)
@click.option(
    "--tone-presses",
    type=click.IntRange(0, 200),
    default=10,
    show_default=True,
    help="With a tone.",
)
@click.option(
    "--rest", type=click.FloatRange(2, 300), default=10.0, show_default=True, help="Seconds."
)
@click.option(
    "--lamp", type=click.Choice(["lit", "dark", "none"]), help="At the beginning, if not asked."
)
@click.option(
    "--corner",
    type=click.FloatRange(0.05, 20),
    help="High-pass of the interface's input, Hz; without it, no DC step.",
)
@watch_options
def command(context: click.Context, /, folder: Path, **said: Any) -> None:
    """Press the footswitch on the beat, in silence and with a tone; see what it puts on the line.

    FOLDER is that of a pedal that was measured. The recordings are added to it, and nothing there
    changes. Peaks, energy and DC steps come from the presses in silence, gap and bounce from
    those with a tone; only what exceeds the silence around it is called a pop.
    """
    show_presses(attended(context, folder, said, _press), folder)


def _press(screen: Screen, table: Table, said: dict[str, Any], asks: bool) -> None:
    from loopback.signal.watch import Watch

    name = one_line(table.folder.document.pedal.name)
    level = max(-80.0, table.folder.document.signal.level_dbfs - TONE_BELOW_DB)
    corner = said["corner"] if said["corner"] is not None else table.rig.facts().corner_hz
    silent = Watch(
        steady=False,
        level_dbfs=level,
        presses=said["presses"],
        rest_s=said["rest"],
        corner_hz=corner,
    )
    tone = Watch(
        steady=True,
        level_dbfs=level,
        presses=said["tone_presses"],
        rest_s=2.0,
        corner_hz=corner,
    )
    first = label_of(table.folder, None)
    minutes = (silent.seconds + (tone.seconds if tone.presses else 0)) / 60
    screen.note(f"{name}: {silent.presses} presses in silence, {tone.presses} with a tone.")
    if not table.simulated:
        screen.note(f"About {minutes:.1f} minutes; one press for each line that appears.")
        screen.note("\n" + "\n".join(CAUTION))
        screen.note("\n1/2   The pedal with power on, volume and gain as for playing.")
        screen.note(drawing(first, name))
    lamp: Lamp | None = said["lamp"]
    if asks and lamp is None:
        lamp = _LAMPS[ask(asks, "      Is its lamp lit? [l]it [d]ark [n]o lamp", "ldn", "n")]
    label = label_of(table.folder, lamp)
    ask(asks, f"      Hands off for {silent.rest_s:.0f} s first. [Enter] starts", "", "")
    run_id = watched(table, label, silent, [] if table.simulated else _prompts(silent))
    if not tone.presses:
        return
    if not table.simulated:
        screen.note("\n2/2   The same with a tone that sounds all the time. Nothing else changes.")
    ask(asks, "      [Enter] starts", "", "")
    watched(table, label, tone, [] if table.simulated else _prompts(tone), run_id)


def _prompts(watch: Watch) -> list[tuple[float, str]]:
    from loopback.signal.watch import MARK_S, press_times

    times = press_times(watch)
    count = len(times)
    lines = [(MARK_S, f"      hands off, {watch.rest_s:.0f} s")]
    for number, at in enumerate(times, start=1):
        if number > 1 and at - times[number - 2] > 2 * watch.interval_s:
            lines.append(
                (
                    float(times[number - 2]) + 0.9 * watch.interval_s,
                    f"      hands off, {watch.rest_s:.0f} s",
                )
            )
        lines.append((float(at), f"      press  {number}/{count}"))
    return lines


def show_presses(screen: Screen, folder: Path) -> None:
    """Write what the footswitch does, from the latest run of presses in a folder."""
    with progress(screen, "Analysing") as step:
        step("Loading what the analysis needs")
        from loopback.analysis import analyse
        from loopback.examination.stored import StoredExamination
        from loopback.report.press_lines import press_screen
        from loopback.report.run_names import fed_words
        from loopback.switching.recorded import press_run

        step(f"Reading the recordings of {folder.name}")
        analysis = analyse(folder)
        run = press_run(StoredExamination.open(folder))
    if analysis.footswitch is None or run is None:
        screen.complain(
            "No press could be read.",
            "The recordings are kept, but hold no complete run of presses in silence.",
            f"Begin again:  loopback press {pasted(folder)}",
        )
        return
    screen.result(
        press_screen(
            analysis.footswitch,
            analysis.examination.pedal.name,
            run.recordings[0].made,
            fed_words(run.label),
            next_lines(folder, "tap {}", "show {} --json"),
            signs=screen.signs,
        )
    )
