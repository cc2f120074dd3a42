"""``loopback signal``: write what is to be played."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.options import RATE, Verb, common
from loopback.cli.screen import Screen, screen_of


@click.command(
    "signal",
    cls=Verb,
    examples=(
        "loopback signal sweep.wav",
        "loopback signal quiet.wav --rate 48k --level -24",
        "loopback signal pressing.wav --rate 48k --presses 20",
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
@click.option("--presses", type=click.IntRange(4, 200), help="For pressing the footswitch instead.")
@click.option("--tone", is_flag=True, help="With --presses: a tone sounds all the time.")
@click.option("--tap", type=click.FloatRange(2, 600), help="For tapping so many seconds instead.")
@click.option("--rest", type=click.FloatRange(2, 300), default=10.0, help="Before presses.  [10]")
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
    presses: int | None,
    tone: bool,
    tap: float | None,
    rest: float,
) -> None:
    """Write the signal as a 24-bit WAV file, and its document beside it.

    Play the file from any recorder or workstation, at full scale and without effects, and record
    what comes back. Existing files are never overwritten. With --presses or --tap it is what
    sounds while the footswitch is pressed or joints are tapped: `loopback add --press`, `--tap`.
    """
    if presses is not None or tap is not None:
        _for_watching(screen_of(context), file, round(rate), level, (presses, tone, tap, rest))
        return
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


def _for_watching(
    screen: Screen,
    file: Path,
    rate_hz: int,
    level: float,
    asked: tuple[int | None, bool, float | None, float],
) -> None:
    """Write what is played while somebody presses or taps, and when to press."""
    from loopback.cli.watching import TONE_BELOW_DB
    from loopback.examination.signal_file import sheet_path
    from loopback.examination.watch_file import write_watch_file
    from loopback.signal.watch import Watch, press_times

    presses, tone, tap, rest = asked
    if presses is not None and tap is not None:
        raise click.UsageError("--presses and --tap are two files.")
    watch = Watch(
        steady=tone or presses is None,
        level_dbfs=max(-80.0, level - TONE_BELOW_DB),
        presses=presses or 0,
        rest_s=rest if tap is None else tap,
    )
    write_watch_file(file, watch, rate_hz)
    screen.note(f"{file}: {watch.seconds:.0f} s, {rate_hz} Hz, {watch.level_dbfs:g} dBFS.")
    if presses is not None:
        times = press_times(watch)
        half = next((n for n in range(1, presses) if times[n] - times[n - 1] > 2), presses)
        screen.note(
            f"Press every {watch.interval_s:g} s, {half} times from {times[0]:.1f} s on"
            + (
                f", then {presses - half} times from {times[half]:.1f} s on."
                if half < presses
                else "."
            )
        )
    screen.note(f"{sheet_path(file)}: keep it beside the signal.")
    screen.note("CAUTION  Headphones off, loudspeakers unplugged before you play it: it is sudden.")
