"""``loopback add``: put a recording made elsewhere into a pedal's folder."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from loopback.cli.folders import pasted
from loopback.cli.options import OHM, TOLERANCE, Verb, common
from loopback.cli.screen import Screen, screen_of
from loopback.errors import ArgumentError
from loopback.texts import one_line

if TYPE_CHECKING:
    from loopback.examination.folder import ExaminationFolder
    from loopback.plan.runs import RunLabel
    from loopback.signal.take import Signal
    from loopback.signal.watch import Watch, WatchKind

_ASKED: dict[str, tuple[str, tuple[str, ...]]] = {
    "path": ("What joined the two leads?", ("pedal", "coupler", "unplugged")),
    "power": ("Had the pedal power?", ("on", "off")),
    "position": ("Footswitch: a as found, b pressed once more, none there?", ("a", "b", "none")),
    "feed": ("Which lead fed it?", ("plain", "resistor")),
}


@dataclass(frozen=True, slots=True)
class _Said:
    """What the command line says about the hook-up; None: nothing."""

    path: str | None
    power: str | None
    position: str | None
    feed: str | None
    resistor: float | None
    tolerance: float | None
    note: str


@click.command(
    "add",
    cls=Verb,
    examples=(
        "loopback add lamp coupler-resistor.wav --like --resistor 100k",
        "loopback add lamp pedal-on-a-resistor.wav --like",
        "loopback add lamp take7.wav --path pedal --power off --position b --feed plain",
        "loopback add lamp pedal-on-a-resistor.wav --like --press",
    ),
)
@click.argument("folder", type=click.Path(path_type=Path))
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--like", is_flag=True, help="Read the hook-up from FILE's name.")
@click.option("--path", type=click.Choice(_ASKED["path"][1]), help="What joined the leads.")
@click.option("--power", type=click.Choice(_ASKED["power"][1]), help="Of the pedal.")
@click.option(
    "--position",
    type=click.Choice(_ASKED["position"][1]),
    help="Footswitch: a as found, b pressed once more, none there is none.",
)
@click.option("--feed", type=click.Choice(_ASKED["feed"][1]), help="Which lead fed it.")
@click.option("--resistor", type=OHM, help="Of the resistor lead, such as 100k.")
@click.option("--tolerance", type=TOLERANCE, help="Of that resistor, such as 1%.")
@click.option("--channel", type=click.IntRange(1), help="Which channel has it, from 1.  [found]")
@click.option("--check-channel", type=click.IntRange(1), help="Channel of a check cable, from 1.")
@click.option("--silence", is_flag=True, help="Nothing was played: a long silence.")
@click.option("--press", "kind", flag_value="presses", help="The footswitch was pressed meanwhile.")
@click.option("--tap", "kind", flag_value="tap", help="It was tapped and bent meanwhile.")
@click.option("--run", "run_id", metavar="RUN", help="One more recording of a run there is.")
@click.option("--again", metavar="RUN", help="It takes the place of that run, which is kept.")
@click.option(
    "--signal", "signal_file", type=click.Path(path_type=Path), help="What was played.  [found]"
)
@click.option("--pedal", "pedal_name", help="The pedal's name.  [from FOLDER]")
@click.option("--note", default="", help="Anything worth remembering about this run.")
@common
@click.pass_context
def command(
    context: click.Context,
    /,
    folder: Path,
    file: Path,
    like: bool,
    channel: int | None,
    check_channel: int | None,
    silence: bool,
    kind: WatchKind | None,
    run_id: str | None,
    again: str | None,
    signal_file: Path | None,
    pedal_name: str | None,
    **said: Any,
) -> None:
    """Copy FILE into FOLDER, and note what was connected when it was made.

    FOLDER is made if it is new. Nothing in it is ever overwritten, and FILE stays where it is.
    """
    from loopback.examination.folder import ExaminationFolder
    from loopback.examination.stored import DOCUMENT
    from loopback.examination.wav import read_header
    from loopback.rig.protocol import Recorded

    screen = screen_of(context)
    header = read_header(file)
    _refuse_channel(channel, header.channels, file)
    _refuse_channel(check_channel, header.channels, file)
    there = ExaminationFolder.open(folder) if (folder / DOCUMENT).exists() else None
    if run_id is None:
        label, named_silence = _label(screen, context, _Said(**said), file if like else None, there)
        silence = silence or named_silence
    elif there is None:
        raise click.UsageError(f'--run {run_id}: "{folder}" has no runs yet.', context)
    else:
        there.document.run(run_id)
    if there is None and kind is not None:
        raise click.UsageError(
            f'"{folder}" is no pedal\'s folder yet: presses and taps go to one that was measured.',
            context,
        )
    if there is None:
        signal = _signal(signal_file, folder, file)
        there = _new_folder(folder, pedal_name, signal, said["resistor"], said["tolerance"])
        screen.note(f'{folder}: a new folder for "{one_line(there.document.pedal.name)}".')
    watch = None if kind is None else _watch(kind, signal_file, folder, file)
    recorded = Recorded(
        kind or ("silence" if silence else "sweep"), header.rate_hz, None, file, watch=watch
    )
    channels = (
        None if channel is None else channel - 1,
        None if check_channel is None else check_channel - 1,
    )
    if again is not None and run_id is None:
        there.document.run(again)
        run_id = there.append_run(label, again)
    if run_id is None:
        run_id, recording = there.append_run_with(label, recorded, "", *channels)
    else:
        recording = there.append_recording(run_id, recorded, "", *channels)
    from loopback.report.run_names import run_name

    run = there.document.run(run_id)
    seconds = recording.frames / recording.rate_hz
    screen.note(
        f"{run_name(run)}: {file.name}, {seconds:.1f} s, {recording.rate_hz} Hz, "
        f"{recording.channels} channel{'s' if recording.channels > 1 else ''}."
    )
    screen.note(f"Next  loopback show {pasted(folder)}")
    if kind == "presses":
        screen.note("More recordings of these presses, with a tone:  --run " + run_id)


def _refuse_channel(channel: int | None, channels: int, file: Path) -> None:
    if channel is not None and channel > channels:
        raise ArgumentError(
            f'Channel {channel} was asked for; "{file.name}" has {channels}.',
            "",
            "Count channels from 1, or leave it out: the right one is found.",
        )


def _label(
    screen: Screen,
    context: click.Context,
    said: _Said,
    named: Path | None,
    there: ExaminationFolder | None,
) -> tuple[RunLabel, bool]:
    """Put the hook-up together from the file's name, the options and, last, by asking."""
    import msgspec

    from loopback.plan.naming import read_name
    from loopback.plan.runs import RunLabel

    known: dict[str, Any] = {}
    silence = False
    if named is not None:
        read = read_name(named.name)
        known = msgspec.structs.asdict(read.label)
        silence = read.silence
    given = {
        "path": said.path,
        "power": said.power,
        "position": said.position,
        "feed": said.feed,
        "resistor_ohm": said.resistor,
        "resistor_tolerance": said.tolerance,
        "note": said.note or None,
    }
    known |= {field: value for field, value in given.items() if value is not None}
    needed = ["path", "feed"]
    if known.get("path") is None and screen.asks:
        known["path"] = _ask("path")
    if known.get("path") == "pedal":
        needed = ["path", "power", "position", "feed"]
    missing = [field for field in needed if known.get(field) is None]
    if missing and not screen.asks:
        raise click.UsageError(
            f"Not said: {', '.join(f'--{field}' for field in missing)}. "
            "A file name that says it all, with --like, does as well.",
            context,
        )
    known |= {field: _ask(field) for field in missing}
    if known["path"] != "pedal":
        known |= {"power": None, "position": None}
    if known["feed"] == "plain":
        known |= {"resistor_ohm": None, "resistor_tolerance": None}
    elif known.get("resistor_ohm") is None:
        known |= _resistor(screen, context, there)
    return RunLabel(**known), silence


def _resistor(
    screen: Screen, context: click.Context, there: ExaminationFolder | None
) -> dict[str, float | None]:
    """Take the resistor from the folder's setup or its latest run, else ask."""
    if there is not None:
        if there.document.setup.resistor_ohm is not None:
            return {}
        for run in reversed(there.document.runs):
            if run.label.resistor_ohm is not None:
                return {
                    "resistor_ohm": run.label.resistor_ohm,
                    "resistor_tolerance": run.label.resistor_tolerance,
                }
    if not screen.asks:
        raise click.UsageError(
            "Not said: --resistor, the value of the resistor lead, such as --resistor 100k. "
            "It is the standard that everything is measured with; once per folder is enough.",
            context,
        )
    return {"resistor_ohm": click.prompt("Resistor value, such as 100k", value_proc=OHM, err=True)}


def _ask(field: str) -> str:
    question, answers = _ASKED[field]
    answer: str = click.prompt(question, type=click.Choice(answers), err=True)
    return answer


def _signal(named: Path | None, folder: Path, file: Path) -> Signal:
    """Find what was played: the named sheet, else the only one beside the recording or here."""
    from loopback.examination.played_signal import find_signal
    from loopback.examination.signal_file import read_sheet

    if named is not None:
        return read_sheet(named).signal
    return find_signal((file.parent, Path(), folder.parent))


def _watch(kind: WatchKind, named: Path | None, folder: Path, file: Path) -> Watch:
    """Find what was played meanwhile: the named document, else the only one beside or here."""
    from loopback.examination.watch_file import find_watch, read_watch_sheet

    if named is None:
        return find_watch((file.parent, Path(), folder.parent), kind)
    watch = read_watch_sheet(named).watch
    if watch.kind != kind:
        raise ArgumentError(
            f'"{named.name}" is for {watch.kind}, not for {kind}.', "", "Name the other one."
        )
    return watch


def _new_folder(
    folder: Path, name: str | None, signal: Signal, resistor: float | None, tolerance: float | None
) -> ExaminationFolder:
    from loopback.examination.folder import ExaminationFolder
    from loopback.examination.records import Pedal, Setup

    called = name or folder.resolve().name.replace("-", " ").replace("_", " ").strip().capitalize()
    setup = Setup("files", resistor_ohm=resistor, resistor_tolerance=tolerance)
    return ExaminationFolder.create(folder, Pedal(called), setup, signal)
