"""Recordings made elsewhere, behind the same protocol as a device."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from loopback.errors import ArgumentError, RigError
from loopback.plan.naming import NamedRecording, name_from_label, read_name
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded, RecordingKind, RigFacts, RunRequest
from loopback.signal.take import Signal


@dataclass(frozen=True, slots=True)
class FiledRun:
    """The files of one run.

    Parameters
    ----------
    label : RunLabel
        What was connected.
    sweeps : tuple of Path
        Recordings of takes, in order; one file may hold several takes.
    silences : tuple of Path
        Recordings of nothing.
    """

    label: RunLabel
    sweeps: tuple[Path, ...]
    silences: tuple[Path, ...] = ()


class FileRig:
    """Hands over recorded files for the runs that are asked for.

    A hook-up that is asked for again gets its next run. What is not known about a label (lamp,
    resistor value, note, how often it was plugged) does not count in the comparison.

    Parameters
    ----------
    runs : iterable of FiledRun, or Path
        The files; a folder is read with `runs_in_folder`.
    signal : Signal
        What was played.
    name : str
        What stood on the table; by default the folder's name.

    Raises
    ------
    ArgumentError
        If a file in the folder has a name that says nothing.
    RigError
        If the folder cannot be read.
    """

    def __init__(self, runs: Iterable[FiledRun] | Path, signal: Signal, name: str = "") -> None:
        if isinstance(runs, Path):
            name = name or runs.name
            runs = runs_in_folder(runs)
        self._runs = list(runs)
        self._signal = signal
        self._name = name or "recorded files"
        self._used: set[int] = set()

    def facts(self) -> RigFacts:
        """Return what is known of the table: nothing but a name.

        Returns
        -------
        RigFacts
            The channel of the path is to be found in the data.
        """
        return RigFacts("files", self._name, path_channel=None)

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Hand over the files of the next run with that hook-up; silences only where asked for.

        The number of takes is what the files hold. The rate handed over is that of the signal; what
        the file itself says comes to light when it is read.

        Parameters
        ----------
        request : RunRequest
            What is asked for.

        Yields
        ------
        Recorded
            Sweeps first, then silences.

        Raises
        ------
        RigError
            If there is no such run any more, a file is gone, another signal is asked for, or
            something that a file cannot do: somebody pressing or tapping.
        """
        if request.watch is not None:
            raise RigError(
                "Pressing and tapping need an interface, or the simulator.",
                "Recorded files hold sweeps and silences.",
                "Connect the interface and call it without the files.",
            )
        signal = request.signal
        if (signal.rate_hz, signal.f1_hz, signal.f2_hz, signal.cycles) != (
            self._signal.rate_hz,
            self._signal.f1_hz,
            self._signal.f2_hz,
            self._signal.cycles,
        ):
            raise RigError(
                "The files were recorded with another signal than this run plays.",
                "Their sweeps would not fit.",
                "Give the signal document that was played.",
            )
        run = self._next_run(request.label)
        silences = run.silences if request.silence_s > 0 else ()
        for number, file in enumerate((*run.sweeps, *silences)):
            if not file.is_file():
                raise RigError(f'"{file}" is not there any more.', "", "Bring it back.")
            kind: RecordingKind = "sweep" if number < len(run.sweeps) else "silence"
            yield Recorded(kind, signal.rate_hz, None, file)

    def _next_run(self, label: RunLabel) -> FiledRun:
        fitting = [i for i, run in enumerate(self._runs) if _same_hookup(run.label, label)]
        for index in fitting:
            if index not in self._used:
                self._used.add(index)
                return self._runs[index]
        name = name_from_label(label)
        count = f"{len(fitting)} run(s), all handed over" if fitting else "no recording"
        raise RigError(
            f"There is {count} of {name}.",
            "The plan asks for one more than there are files.",
            f"Record it and call the file {name}.wav, or leave this run out.",
        )


def runs_in_folder(folder: Path) -> tuple[FiledRun, ...]:
    """Group the recordings of a folder into runs by their names.

    Parameters
    ----------
    folder : Path
        Holds files named as `loopback.plan.naming` describes; other kinds of file are left alone.

    Returns
    -------
    tuple of FiledRun
        Runs of the same hook-up in the order of their numbers.

    Raises
    ------
    ArgumentError
        If a sound file's name says nothing, or two files say the same.
    RigError
        If the folder cannot be read.
    """
    try:
        files = sorted(f for f in folder.iterdir() if _is_sound_file(f))
    except OSError as error:
        raise RigError(
            f'The folder "{folder}" cannot be read: {error.strerror or error}.',
            "",
            "Check its name.",
        ) from error
    named: dict[NamedRecording, Path] = {}
    for file in files:
        key = read_name(file.name)
        if key in named:
            raise ArgumentError(
                f'"{named[key].name}" and "{file.name}" say the same.',
                "It is not clear which was first.",
                "Add a number to one: 2 for a second run, take2 for a second take.",
            )
        named[key] = file
    runs: dict[tuple[str, int], list[tuple[NamedRecording, Path]]] = {}
    for key, file in named.items():
        runs.setdefault((name_from_label(key.label), key.number), []).append((key, file))
    grouped = []
    for _, members in sorted(runs.items()):
        members.sort(key=lambda member: member[0].take)
        grouped.append(
            FiledRun(
                members[0][0].label,
                tuple(file for key, file in members if not key.silence),
                tuple(file for key, file in members if key.silence),
            )
        )
    return tuple(grouped)


def _is_sound_file(file: Path) -> bool:
    return (
        not file.name.startswith(".")
        and file.suffix.casefold() in (".wav", ".flac", ".aif", ".aiff", ".caf", ".w64")
        and file.is_file()
    )


def _same_hookup(one: RunLabel, other: RunLabel) -> bool:
    fields = ("path", "feed", "power", "position", "load", "direction", "level_db")
    return all(getattr(one, field) == getattr(other, field) for field in fields)
