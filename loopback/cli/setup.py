"""``loopback setup``: choose the interface, check leads, level and resistor."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from loopback.cli.folders import free_folder, pasted
from loopback.cli.learned_here import learned_here
from loopback.cli.options import RATE, VOLT, Verb, common
from loopback.cli.progress import progress
from loopback.cli.rigs import (
    Simulated,
    box_list,
    device_rig,
    rates_of,
    read_check_cable,
    with_spare_input,
)
from loopback.cli.screen import Screen, screen_of

if TYPE_CHECKING:
    from loopback.cli.hands import TerminalHands
    from loopback.examination.setup_record import SetupRecord
    from loopback.guided.setting_up import RigFor
    from loopback.guided.setup_asked import SetupOutcome, Wishes
    from loopback.rig.device_settings import DeviceSettings
    from loopback.rig.protocol import Rig

RECORDINGS = "setup-unplugged"


@click.command(
    "setup",
    cls=Verb,
    examples=(
        "loopback setup",
        'loopback setup --device kestrel --resistor "99.6k 0.5%"',
        "loopback setup --simulate quarry-lamp --check-plug 1n:0.1% --yes",
        "loopback setup --simulate quarry-lamp --yes",
    ),
)
@click.option("--device", default="", metavar="WORDS", help="Number, or words of its name.")
@click.option("--driver", default="", metavar="WORDS", help="Part of a driver's name.")
@click.option("--all", "everything", is_flag=True, help="List every driver entry, and stop.")
@click.option("--rate", type=RATE, help="Sample rate.  [96k where it is honest]")
@click.option("--out", "output", type=click.IntRange(1), default=1, help="Output socket.  [1]")
@click.option("--in", "socket", type=click.IntRange(1), default=1, help="Input socket.  [1]")
@click.option("--check-cable", metavar="OUT:IN", help='Spare sockets, such as "2:2", or "no".')
@click.option("--resistor", metavar="VALUE", help='Such as "99.6k 0.5%".  [asks]')
@click.option(
    "--resistor-end",
    type=click.Choice(["pedal", "interface"]),
    default="pedal",
    show_default=True,
    help="Where it sits.",
)
@click.option("--no-resistor", is_flag=True, help="There is no resistor lead.")
@click.option("--check-plug", metavar="PART", help='Known part to check it with: "1n:1%".')
@click.option("--ceiling", type=float, default=-12.0, show_default=True, help="Highest level.")
@click.option("--seconds", type=float, default=4.0, show_default=True, help="Of each sweep.")
@click.option("--meter", is_flag=True, help="Play a tone for a meter: levels in volts.")
@click.option("--meter-reading", type=VOLT, metavar="VOLTS", help="What it showed: 0.245V.")
@click.option("--simulate", metavar="NAME", help="Simulated pedal instead of an interface.")
@click.option("--mistake", multiple=True, help="What the simulated hands do wrong.")
@click.option("--seed", type=int, default=1, help="Of the simulated noise.  [1]")
@click.option("--yes", is_flag=True, help="Ask nothing; take every default.")
@common
@click.pass_context
def command(context: click.Context, /, **said: Any) -> None:
    """Find a safe level, look at leads and resistor, and write setup.toml here.

    Nothing is played above the ceiling. An earlier setup.toml is kept under another name.
    """
    screen = screen_of(context)
    if said["everything"] and said["simulate"] is None:
        _list_everything(screen)
        return
    if said["no_resistor"] and said["resistor"] is not None:
        raise click.UsageError("--no-resistor and --resistor exclude each other.", context)
    if said["no_resistor"] and said["check_plug"] is not None:
        raise click.UsageError("--no-resistor and --check-plug exclude each other.", context)
    with progress(screen, "Loading what setting up needs") as step:
        step("Loading what setting up needs")
        from loopback.cli.hands import TerminalHands
        from loopback.examination.records import Setup
        from loopback.examination.reference_record import FILE_NAME
        from loopback.examination.setup_record import SETUP_FILE, write_setup
        from loopback.guided.setting_up import carry_out, keep_unplugged
        from loopback.guided.setup_steps import set_up
        from loopback.meter.check_lines import remark
        from loopback.meter.lines import learned_text
        from loopback.signal.take import plan_signal

        plan_signal(48_000, said["seconds"], said["ceiling"], said["ceiling"])  # or it is refused
    simulate: str | None = said["simulate"]
    hands = TerminalHands(screen, screen.asks and not said["yes"])
    if simulate is None and not hands.asks and not said["yes"]:
        raise click.UsageError("Nobody can answer here; add --yes and what it needs.", context)
    settings: DeviceSettings | None = None
    if simulate is None:
        settings, wishes, rig_for = _device(screen, hands, said)
    else:
        wishes, rig_for = _simulated(simulate, said)
    wishes = _with_learned(wishes)
    plug_rig = None if settings is not None else _simulated_plug(wishes, said["seed"])
    outcome = carry_out(set_up(wishes), rig_for, hands, said["seconds"], plug_rig)
    place = free_folder(Path(RECORDINGS))
    setup = Setup("simulator" if settings is None else "device", wishes.name)
    kept = keep_unplugged(place, outcome, setup, said["seconds"])
    record = _record(wishes, settings, outcome, str(place) if kept else "", said["seconds"])
    note = "" if outcome.checked is None else remark(outcome.checked)
    screen.note(learned_text(wishes.learned))
    earlier = write_setup(Path(SETUP_FILE), record, {"resistor_ohm": note} if note else {})
    if earlier is not None:
        screen.note(f"The earlier one is now {earlier}")
        references = Path(FILE_NAME)
        if references.exists() and _other_box(earlier, record):
            aside = references.rename(earlier.with_name(f"{earlier.stem}-references.json"))
            screen.note(f"What references on that interface showed is now {aside}")
    follow = f" --simulate {pasted(Path(simulate))}" if simulate is not None else ""
    screen.note(f'\nSaved: {SETUP_FILE}\nNext:  loopback measure "NAME OF THE PEDAL"{follow}')


def _with_learned(wishes: Wishes) -> Wishes:
    """Add what references showed, if those in this folder are of the same interface."""
    from loopback.examination.setup_record import SETUP_FILE

    path = Path(SETUP_FILE)
    if not path.exists() or _is_of(path, wishes.name):
        return replace(wishes, learned=learned_here())
    return wishes


def _simulated_plug(wishes: Wishes, seed: int) -> Callable[[], Rig] | None:
    """Make the bench on which the check plug has exactly its stated value."""
    from loopback.rig.simulated import simulated_part

    part = wishes.check_plug
    return None if part is None else lambda: simulated_part(f"{part.value:.9g}", seed)


def _other_box(earlier: Path, record: SetupRecord) -> bool:
    """Tell whether a setup file is of another interface than the one now set up."""
    return not _is_of(earlier, record.device)


def _is_of(path: Path, device: str) -> bool:
    """Tell whether a setup file is of that interface."""
    from loopback.errors import LoopbackError
    from loopback.examination.setup_record import read_setup

    try:
        return read_setup(path).device == device
    except LoopbackError:
        return False  # nobody can tell what a damaged file was of


def _list_everything(screen: Screen) -> None:
    from loopback.rig.device import find_boxes

    box_list(screen, find_boxes(), everything=True)


def _wishes(said: dict[str, Any], name: str, rates_hz: tuple[int, ...]) -> Wishes:
    from loopback.guided.setup_asked import Wishes
    from loopback.guided.setup_values import read_resistor
    from loopback.meter.check_plug import read_known_part

    cable = read_check_cable(said["check_cable"])
    ohm, tolerance = (None, None) if said["resistor"] is None else read_resistor(said["resistor"])
    return Wishes(
        name,
        rates_hz,
        said["output"],
        said["socket"],
        None if cable is None else cable[0],
        None if cable is None else cable[1],
        None if said["check_cable"] is None else cable is not None,
        said["ceiling"],
        ohm,
        tolerance,
        said["resistor_end"],
        not said["no_resistor"],
        said["meter"],
        said["meter_reading"],
        None if said["check_plug"] is None else read_known_part(said["check_plug"]),
    )


def _simulated(simulate: str, said: dict[str, Any]) -> tuple[Wishes, RigFor]:
    standing = Simulated(simulate, said["seed"], tuple(said["mistake"]))
    standing.rig()  # or it is refused
    rate = round(said["rate"] or 96_000)
    wishes = _wishes(said, "Simulated interface", (rate,))
    if wishes.check is None:
        wishes = replace(wishes, check_output=2, check_input=2)
    return wishes, lambda check: standing.rig(check_cable=check)


def _device(
    screen: Screen, hands: TerminalHands, said: dict[str, Any]
) -> tuple[DeviceSettings, Wishes, RigFor]:
    """Choose the interface, and make its rig with the check cable or without."""
    from loopback.cli.level_meter import LevelMeter
    from loopback.guided.setup_asked import AskText
    from loopback.rig.device import find_boxes
    from loopback.rig.device_settings import DeviceSettings, choose_route
    from loopback.rig.hosts import choose_box

    boxes = find_boxes()
    words: str = said["device"]
    if not words:
        choose_box(boxes)  # or there is none
        box_list(screen, boxes, everything=False)
        words = hands.ask_text(AskText("Use which?", "1"))
    box = choose_box(boxes, words)
    settings = DeviceSettings(
        box.name, said["driver"], said["output"], said["socket"], ceiling_dbfs=said["ceiling"]
    )
    route = choose_route(box, settings)
    rates = rates_of(settings) if said["rate"] is None else (round(said["rate"]),)
    wishes = _wishes(said, box.name, rates)
    if wishes.check is None and route.source.inputs > 1 and route.sink.outputs > 1:
        wishes = replace(
            wishes,
            check_output=2 if wishes.output == 1 else 1,
            check_input=2 if wishes.input == 1 else 1,
        )
    meter = LevelMeter(screen)
    checked = replace(settings, check_output=wishes.check_output, check_input=wishes.check_input)
    alone = with_spare_input(settings, route.source.inputs)
    return settings, wishes, lambda check: device_rig(checked if check else alone, meter)


def _record(
    wishes: Wishes,
    settings: DeviceSettings | None,
    outcome: SetupOutcome,
    recordings: str,
    seconds: float,
) -> SetupRecord:
    from loopback.examination.incoming import now_text
    from loopback.examination.setup_record import SetupRecord

    noise = outcome.unplugged.noise
    node, load = outcome.node_farad, outcome.input_ohm
    leak = outcome.unplugged.leak_db
    if leak is not None and outcome.plain.gain_db is not None:
        leak -= outcome.plain.gain_db
    hum = outcome.plain.noise
    return SetupRecord(
        device=wishes.name if settings is None else settings.device,
        driver="" if settings is None else settings.driver,
        rate_hz=outcome.rate_hz,
        output=wishes.output,
        input=wishes.input,
        check_output=wishes.check_output if outcome.check else None,
        check_input=wishes.check_input if outcome.check else None,
        level_dbfs=outcome.level_dbfs,
        ceiling_dbfs=wishes.ceiling_dbfs,
        sweep_s=seconds,
        full_scale_dbu=outcome.full_scale_dbu,
        resistor_ohm=outcome.resistor_ohm if wishes.with_resistor else None,
        resistor_tolerance=outcome.resistor_tolerance if wishes.with_resistor else None,
        resistor_end=wishes.resistor_end,
        node_farad=None if node is None else float(f"{node:.4g}"),
        input_ohm=None if load is None else float(f"{load:.4g}"),
        floor_dbfs_a=None if noise is None else round(noise.a_weighted_dbfs.value, 1),
        leak_db=None if leak is None else round(leak, 1),
        mains_hz=None if hum is None else hum.mains_hz,
        made=now_text(),
        recordings=recordings,
    )
