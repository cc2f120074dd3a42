"""``loopback meter``: live reading of a lead, capacitor, switch or pedal."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from loopback.cli.keys import NextKey, single_keys
from loopback.cli.learned_here import learned_here
from loopback.cli.options import OHM, RATE, TOLERANCE, Verb, common
from loopback.cli.screen import Screen, screen_of
from loopback.errors import FolderError, RigError

if TYPE_CHECKING:
    from loopback.meter.reading import Reading, Zero
    from loopback.meter.session import Bench
    from loopback.meter.steadiness import Watch

_WIDTH = 79
_UNASKED = 20
"""Readings of a simulated part where nobody can press a key and no number was given."""
_KEYS = "[Enter] zero  [h] hold  [q] quit"


@click.command(
    "meter",
    cls=Verb,
    examples=(
        "loopback meter",
        "loopback meter --simulate lead:3m",
        "loopback meter --simulate wiggle --count 20 --log wiggle.csv",
        "loopback meter --simulate quarry-lamp --count 3",
    ),
)
@click.option(
    "--simulate",
    metavar="WHAT",
    help="100p, 1M, 1M+100p, lead:3m, switch, wiggle, or a simulated pedal.",
)
@click.option("--device", metavar="WORDS", help="Interface.  [setup.toml]")
@click.option("--pedal", is_flag=True, help="It stands in the place of the coupler.")
@click.option("--no-plain", is_flag=True, help="No plain lead: a common doubt of 20 % stays.")
@click.option("--input", "input_ohm", type=OHM, help="Known input resistance, instead of it.")
@click.option("--count", type=click.IntRange(1), help="So many readings, then stop.")
@click.option("--log", type=click.Path(path_type=Path), help="Write every reading to a CSV file.")
@click.option("--rate", type=RATE, help="Sample rate.  [setup.toml, else 48k]")
@click.option("--level", type=float, help="Peak, dBFS.  [setup.toml, else -12]")
@click.option("--resistor", type=OHM, help="Resistor lead.  [setup.toml, else 100k]")
@click.option("--tolerance", type=TOLERANCE, help="Of it.  [setup.toml, else 1%]")
@click.option("--seed", type=int, default=1, help="Of the simulated noise.  [1]")
@common
@click.pass_context
def command(context: click.Context, /, **said: Any) -> None:
    """Read pF and Mohm live: of a lead, a loose capacitor, an open switch, a pedal in bypass.

    Zero is taken on the coupler through the resistor lead; what is plugged across the coupler
    after that is read twice a second. A pedal takes the coupler's place (--pedal). Keys: Enter
    takes zero again, H holds a reading, Q quits. Piped, each reading is a line.
    """
    screen = screen_of(context)
    at_hand = said["simulate"] is None and screen.asks
    if said["simulate"] is None and not screen.asks:
        raise click.UsageError("Nobody can plug anything here; add --simulate.", context)
    bench = _bench(said)
    if said["simulate"] is None:
        screen.note("CAUTION  Headphones off, loudspeakers unplugged: the sweeps are loud.")
    if not said["no_plain"] and bench.input_ohm is None:
        _wait(screen, "Plain lead and return lead on the coupler, then [Enter]", at_hand)
        bench.take_plain()
    _wait(screen, "Resistor lead and return lead on the coupler, then [Enter] for zero", at_hand)
    zero = _zero(screen, bench)
    watched = screen.asks and not screen.quiet and said["count"] is None
    count = said["count"] or (None if watched or said["simulate"] is None else _UNASKED)
    with _log(said["log"]) as log, single_keys(watched) as key:
        if watched:
            screen.note(_KEYS)
        pace_s = bench.step_s if said["simulate"] is not None else 0.0
        closing = _live(screen, bench, zero, key if watched else None, pace_s, count, log)
    if closing:
        screen.note(closing)


def _live(
    screen: Screen,
    bench: Bench,
    zero: Zero,
    key: NextKey | None,
    pace_s: float,
    count: int | None,
    log: Callable[[Reading, Watch], None],
) -> str:
    """Show readings until there are enough, or somebody quits; return what is left to say."""
    from loopback.meter.lines import closing_line, held_line, reading_line
    from loopback.meter.steadiness import Watch, holding, watched

    watch = Watch()
    readings = bench.readings(zero)
    for number, reading in enumerate(readings, start=1):
        watch = watched(watch, reading)
        log(reading, watch)
        text = held_line(watch.held) if watch.held else reading_line(reading, watch)
        if key is None:
            screen.result(f"{reading.at_s:7.1f} s   {text}")
        else:
            screen.live(text, _WIDTH)
        if count is not None and number >= count:
            break
        pressed = key(pace_s) if key is not None else ""
        if pressed == "q":
            break
        if pressed == "h":
            watch = holding(watch)
        if pressed == "\n":
            readings.close()
            screen.live("", _WIDTH)
            return _live(screen, bench, _zero(screen, bench), key, pace_s, count, log)
    if key is not None:
        screen.note("")
    return closing_line(watch)


def _zero(screen: Screen, bench: Bench) -> Zero:
    from loopback.meter.lines import zero_line

    zero = bench.take_zero()
    screen.note(zero_line(zero))
    return zero


def _wait(screen: Screen, text: str, at_hand: bool) -> None:
    if at_hand:
        click.prompt(text, default="", show_default=False, prompt_suffix=" ", err=True)
    else:
        screen.note(f"{text}: simulated.")


def _bench(said: dict[str, Any]) -> Bench:
    from loopback.examination.setup_record import SETUP_FILE, read_setup
    from loopback.meter.session import Bench
    from loopback.rig.simulated import is_loose_part, simulated_part, simulated_rig
    from loopback.signal.take import short_signal

    simulate: str | None = said["simulate"]
    path = Path(SETUP_FILE)
    record = read_setup(path) if simulate is None and path.exists() else None
    known: dict[str, Any] = {"rate": 48_000, "level": -12.0, "resistor": 100e3, "tolerance": 0.01}
    if record is not None:
        known = {
            "rate": record.rate_hz,
            "level": record.level_dbfs,
            "resistor": record.resistor_ohm or known["resistor"],
            "tolerance": record.resistor_tolerance or known["tolerance"],
            "input_ohm": record.input_ohm,
        }
    value = {**known, **{name: given for name, given in said.items() if given is not None}}
    rig: Any
    if simulate is not None:
        part = is_loose_part(simulate)
        rig = (simulated_part if part else simulated_rig)(simulate, said["seed"])
    else:
        rig, part = _device(said["device"], record), True
    return Bench(
        rig,
        short_signal(round(value["rate"]), value["level"]),
        value["resistor"],
        value["tolerance"],
        value.get("input_ohm"),
        said["pedal"] or not part,
        None if simulate is not None else learned_here(),
    )


def _device(words: str | None, record: Any) -> Any:
    from loopback.rig.device import DeviceRig
    from loopback.rig.device_settings import DeviceSettings

    if record is None and words is None:
        raise RigError(
            "There is no setup.toml of an interface in this folder.",
            "Which interface to play through is not known.",
            "First: loopback setup. Or name it with --device, or try --simulate lead:3m.",
        )
    if record is None or words is not None:
        return DeviceRig(DeviceSettings(words or ""))
    return DeviceRig(
        DeviceSettings(
            record.device,
            record.driver,
            record.output,
            record.input,
            ceiling_dbfs=record.ceiling_dbfs,
            full_scale_dbu=record.full_scale_dbu,
        )
    )


@contextmanager
def _log(path: Path | None) -> Iterator[Callable[[Reading, Watch], None]]:
    """Open the table; an existing file is refused."""
    if path is None:
        yield lambda _reading, _watch: None
        return
    from loopback.meter.lines import LOG_HEADER, log_row

    try:
        file = path.open("x", encoding="utf-8", newline="")
    except FileExistsError as error:
        raise FolderError(
            f'"{path}" exists already.', "It is not overwritten.", "Name another file with --log."
        ) from error
    with file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(LOG_HEADER)

        def write(reading: Reading, watch: Watch) -> None:
            writer.writerow(log_row(reading, watch))
            file.flush()

        yield write
