"""The document `examination.json`: versioned, strict, plain Python numbers only."""

from __future__ import annotations

from typing import Literal

import msgspec
from msgspec import UNSET, UnsetType

from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RecordingKind
from loopback.signal.take import Signal
from loopback.signal.watch import Watch

FORMAT_VERSION: Literal[1] = 1


class _Record(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Base of everything on disk: frozen, and unknown fields are refused."""


class Pedal(_Record, frozen=True):
    """What was examined, in the user's words; an empty field was not filled in.

    Attributes
    ----------
    name : str
        What it is called in results.
    maker, model, serial, revision : str
        As printed on it.
    mode, jacks, supply : str
        How it was set, which pair of jacks was used, and what fed it.
    claim : str
        What its maker or owner says about its bypass; compared, never used as evidence.
    note, private_note : str
        Free text; the private one never leaves the folder unless asked for.
    """

    name: str
    maker: str = ""
    model: str = ""
    serial: str = ""
    revision: str = ""
    mode: str = ""
    jacks: str = ""
    supply: str = ""
    claim: str = ""
    note: str = ""
    private_note: str = ""


class Setup(_Record, frozen=True):
    """Interface, leads and resistor as connected.

    Attributes
    ----------
    rig : {"device", "files", "simulator"}
        Where the recordings come from.
    name : str
        Name of the interface.
    resistor_ohm, resistor_tolerance : float or None
        Of the resistor lead; a run's own label, where it says so, counts more.
    full_scale_dbu : float or None
        Level of a full-scale sine at the input; None: everything stays relative.
    note : str
        Free text.
    """

    rig: Literal["device", "files", "simulator"]
    name: str = ""
    resistor_ohm: float | None = None
    resistor_tolerance: float | None = None
    full_scale_dbu: float | None = None
    note: str = ""


class Recording(_Record, frozen=True):
    """One file in the folder.

    Attributes
    ----------
    file : str
        Path inside the folder, with forward slashes.
    sha256 : str
        Of the file's bytes, lower-case hexadecimal.
    rate_hz, channels, frames : int
        As the file's header says.
    kind : {"sweep", "silence", "presses", "tap"}
        What was played, or done.
    made : str
        ISO 8601 with offset.
    path_channel : int or None
        Channel from 0 of the pedal path; None: find it from the data.
    check_channel : int or None
        Channel of the check cable; None: there is none.
    expected_start : int or None
        See `loopback.rig.protocol.Recorded`; None: search the whole file.
    flags : tuple of str
        What the rig noticed.
    origin : str
        File name it was imported under; empty when the rig recorded it.
    watch : Watch
        What was played while somebody pressed or tapped; left out for every other kind.
    """

    file: str
    sha256: str
    rate_hz: int
    channels: int
    frames: int
    kind: RecordingKind
    made: str
    path_channel: int | None = None
    check_channel: int | None = None
    expected_start: int | None = None
    flags: tuple[str, ...] = ()
    origin: str = ""
    watch: Watch | UnsetType = UNSET


class Run(_Record, frozen=True):
    """One hook-up with its recordings.

    Attributes
    ----------
    id : str
        ``"01"``, ``"02"`` ... in the order in which they were made.
    label : RunLabel
        What was connected.
    recordings : tuple of Recording
        In the order in which they were made.
    repeats : str
        Id of the run that this one takes the place of; the earlier one is kept. Empty: none.
    """

    id: str
    label: RunLabel
    recordings: tuple[Recording, ...] = ()
    repeats: str = ""

    @property
    def watched(self) -> bool:
        """Whether it holds nothing but presses or taps."""
        kinds = {recording.kind for recording in self.recordings}
        return bool(kinds) and kinds <= {"presses", "tap"}


class Examination(_Record, frozen=True, tag_field="format", tag="loopback-examination"):
    """The whole document.

    Attributes
    ----------
    version : {1}
        Of the format.
    created : str
        ISO 8601 with offset.
    pedal, setup, signal : Pedal, Setup, Signal
        What was examined, with what, and what was played.
    runs : tuple of Run
        In the order in which they were made.
    conditions : str
        Temperature, mains, place: free text.
    """

    version: Literal[1]
    created: str
    pedal: Pedal
    setup: Setup
    signal: Signal
    runs: tuple[Run, ...] = ()
    conditions: str = ""

    def run(self, run_id: str) -> Run:
        """Return the run of that id.

        Parameters
        ----------
        run_id : str
            Such as ``"03"``.

        Returns
        -------
        Run
            With its recordings.

        Raises
        ------
        ArgumentError
            If there is none.
        """
        for run in self.runs:
            if run.id == run_id:
                return run
        ids = ", ".join(run.id for run in self.runs) or "none"
        raise ArgumentError(f'There is no run "{run_id}".', f"Runs so far: {ids}.")

    def recordings(self) -> tuple[Recording, ...]:
        """Return all recordings of all runs, in order."""
        return tuple(recording for run in self.runs for recording in run.recordings)

    def next_run_id(self) -> str:
        """Return the id that the next run will have."""
        return f"{max((int(run.id) for run in self.runs), default=0) + 1:02d}"

    def with_run(self, run: Run) -> Examination:
        """Return the document with one more run."""
        return msgspec.structs.replace(self, runs=(*self.runs, run))

    def with_recording(self, run_id: str, recording: Recording) -> Examination:
        """Return the document with one more recording in one of its runs; see `run`."""
        old = self.run(run_id)
        new = msgspec.structs.replace(old, recordings=(*old.recordings, recording))
        return msgspec.structs.replace(
            self, runs=tuple(new if run is old else run for run in self.runs)
        )

    def counting_runs(self) -> tuple[Run, ...]:
        """Return the runs with takes or silences that nobody repeated: those of the response."""
        return tuple(run for run in self._unrepeated() if not run.watched)

    def watched_runs(self) -> tuple[Run, ...]:
        """Return the runs in which somebody pressed or tapped, and that nobody repeated."""
        return tuple(run for run in self._unrepeated() if run.watched)

    def _unrepeated(self) -> tuple[Run, ...]:
        repeated = {run.repeats for run in self.runs if run.repeats}
        return tuple(run for run in self.runs if run.id not in repeated)
