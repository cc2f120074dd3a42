"""What `press` and `tap` share: the rig, the question, the recording, the prompts meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from loopback.cli.folders import pasted
from loopback.cli.level_meter import LevelMeter
from loopback.cli.screen import Screen
from loopback.errors import RigError

if TYPE_CHECKING:
    from loopback.examination.folder import ExaminationFolder
    from loopback.plan.runs import Lamp, RunLabel
    from loopback.rig.protocol import Rig
    from loopback.signal.watch import Watch

CAUTION = (
    "CAUTION",
    "      Headphones off and unplugged, loudspeakers unplugged: a pop or a drop-out",
    "      is sudden, and through an amplifier far louder than the music.",
    "      Never a speaker output into an interface or pedal. Mains-powered and valve",
    "      pedals stay closed; tap the outside only.",
)
TONE_BELOW_DB = 8.0
"""The steady tone is this much below the peak of the sweeps: the effect amplifies it."""


@dataclass(slots=True)
class Table:
    """Folder and rig of one sitting.

    Parameters
    ----------
    folder : ExaminationFolder
        Gets the recordings.
    rig : Rig
        Plays.
    prompter : Prompter
        Says what to do while it plays.
    simulated : bool
        Nobody needs to do anything.
    """

    folder: ExaminationFolder
    rig: Rig
    prompter: Prompter
    simulated: bool


class Prompter:
    """Says what to do now while a stream runs; between prompts, the level moves.

    Parameters
    ----------
    screen : Screen
        Where to.
    """

    def __init__(self, screen: Screen) -> None:
        self._screen = screen
        self._meter = LevelMeter(screen)
        self._moments: list[tuple[float, str]] = []
        self._length_s = 0.0

    def prepare(self, moments: list[tuple[float, str]], length_s: float) -> None:
        """Take the prompts of one recording.

        Parameters
        ----------
        moments : list of (float, str)
            Seconds from the start of the stream, and what to say then.
        length_s : float
            Length of the stream.
        """
        self._moments, self._length_s = list(moments), length_s

    def __call__(self, done: float, peak: float) -> None:
        """Hear from the rig how far it is."""
        while self._moments and done * self._length_s >= self._moments[0][0]:
            self._meter.close()
            self._screen.note(self._moments.pop(0)[1])
        self._meter(done, peak)


def open_table(screen: Screen, path: Path, said: dict[str, Any]) -> Table:
    """Open folder and rig.

    Parameters
    ----------
    screen : Screen
        For prompts.
    path : Path
        Folder of the examination.
    said : dict
        Options: `simulate`, `seed`, `device`.

    Returns
    -------
    Table
        Ready.

    Raises
    ------
    LoopbackError
        If there is no such folder, no interface, or no such simulated pedal.
    """
    from loopback.examination.folder import ExaminationFolder

    folder = ExaminationFolder.open(path)
    prompter = Prompter(screen)
    if said["simulate"] is not None:
        from loopback.cli.rigs import Simulated

        played = len(folder.document.runs)
        return Table(
            folder, Simulated(said["simulate"], said["seed"]).rig(played=played), prompter, True
        )
    return Table(folder, _device(said["device"], prompter), prompter, False)


def watched(
    table: Table, label: RunLabel, watch: Watch, moments: list[tuple[float, str]], run_id: str = ""
) -> str:
    """Play, and keep what was recorded.

    Parameters
    ----------
    table : Table
        Folder and rig.
    label : RunLabel
        What is connected.
    watch : Watch
        What is played.
    moments : list of (float, str)
        What is said when, seconds from the beginning of the recording.
    run_id : str
        Run that it is added to; empty: a new one.

    Returns
    -------
    str
        Id of the run.
    """
    from loopback.examination.lock import writer_lock
    from loopback.rig.protocol import RunRequest
    from loopback.rig.tape import GAP_S, SETTLE_S

    with writer_lock(table.folder.path):
        pass  # a folder that cannot be written to is told before anybody presses, not after
    facts = table.rig.facts()
    channels = (facts.path_channel, facts.check_channel)
    table.prompter.prepare(
        [(SETTLE_S + at, text) for at, text in moments], SETTLE_S + watch.seconds + GAP_S
    )
    request = RunRequest(label, table.folder.document.signal, takes=0, watch=watch)
    for recorded in table.rig.play(request):
        if run_id:
            table.folder.append_recording(run_id, recorded, "", *channels)
        else:
            run_id, _ = table.folder.append_run_with(label, recorded, "", *channels)
    return run_id


def label_of(folder: ExaminationFolder, lamp: Lamp | None) -> RunLabel:
    """Label a run of watching: the pedal with power, fed as a guitar would feed it.

    Parameters
    ----------
    folder : ExaminationFolder
        Says whether there is a resistor lead.
    lamp : {"lit", "dark", "none"} or None
        What was seen.

    Returns
    -------
    RunLabel
        Its position is the one as found.
    """
    from loopback.plan.runs import RunLabel

    setup = folder.document.setup
    return RunLabel(
        "pedal",
        "plain" if setup.resistor_ohm is None else "resistor",
        "on",
        "a",
        lamp,
        setup.resistor_ohm,
        setup.resistor_tolerance,
    )


def drawing(label: RunLabel, pedal: str) -> str:
    """Draw how it is connected."""
    from loopback.plan.drawing import draw

    return f"      {draw(label, pedal)}"


def ask(asks: bool, question: str, answers: str, default: str) -> str:
    """Ask for one letter.

    Parameters
    ----------
    asks : bool
        False: nobody is there; the default is taken.
    question : str
        With the answers in brackets.
    answers : str
        Letters that are accepted.
    default : str
        What Enter gives.

    Returns
    -------
    str
        One letter, or the default.
    """
    if not asks:
        return default
    for _ in range(100):
        typed: str = click.prompt(
            question, default="", show_default=False, prompt_suffix=" ", err=True
        )
        letter = typed.strip().casefold()[:1]
        if letter == "" or letter in answers:
            return letter or default
    return default


def refuse_unanswered(screen: Screen, said: dict[str, Any]) -> bool:
    """Tell whether questions can be asked.

    Parameters
    ----------
    screen : Screen
        Whether somebody is there.
    said : dict
        Options: `yes`, `simulate`.

    Returns
    -------
    bool
        True: ask.

    Raises
    ------
    click.UsageError
        If nobody is there and nothing allows to go on without.
    """
    asks = screen.asks and not said["yes"] and said["simulate"] is None
    if not (asks or said["yes"] or said["simulate"]):
        raise click.UsageError("Nobody can answer here; add --yes.")
    return asks


def _device(words: str | None, progress: Callable[[float, float], None]) -> Rig:
    from loopback.examination.setup_record import SETUP_FILE, read_setup
    from loopback.rig.device import DeviceRig
    from loopback.rig.device_settings import DeviceSettings

    path = Path(SETUP_FILE)
    if not path.exists() and words is None:
        raise RigError(
            f"There is no {SETUP_FILE} in this folder.",
            "Interface and sockets are not known.",
            "First: loopback setup. Without an interface: add --simulate and a pedal's name.",
        )
    if not path.exists():
        return DeviceRig(DeviceSettings(words or ""), progress)
    record = read_setup(path)
    settings = DeviceSettings(
        words or record.device,
        record.driver,
        record.output,
        record.input,
        record.check_output,
        record.check_input,
        record.ceiling_dbfs,
        full_scale_dbu=record.full_scale_dbu,
    )
    return DeviceRig(settings, progress)


def next_lines(folder: Path, *commands: str) -> str:
    """Write commands that make sense next, to be pasted; {} is the folder."""
    return "\n".join(f"loopback {command.format(pasted(folder))}" for command in commands)
