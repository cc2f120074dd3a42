"""The folder of one examination: opened, extended, never rewritten.

::

    examination.json     the document, the only file that is ever replaced (in one instant)
    signal.wav .json     what was played, for whoever wants to measure again
    recordings/03-2.wav  second recording of run 03

A recording is listed only once its file is complete on the disk. Writers take turns through a
lock, and each first reads the document again, so that no writer undoes another's work.
"""

from __future__ import annotations

import re
from pathlib import Path

import msgspec

from loopback.errors import ArgumentError, FolderError
from loopback.examination.atomic import write_new
from loopback.examination.document import RECORDINGS, encode_examination
from loopback.examination.incoming import incoming_of, now_text, source_chunks, valid_text
from loopback.examination.lock import writer_lock
from loopback.examination.records import (
    FORMAT_VERSION,
    Examination,
    Pedal,
    Recording,
    Run,
    Setup,
)
from loopback.examination.signal_file import place_signal_files
from loopback.examination.stored import DOCUMENT, absolute
from loopback.examination.writable import WritableExamination
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded
from loopback.signal.take import Signal

SIGNAL_FILE = "signal.wav"


class ExaminationFolder(WritableExamination):
    """One examination on disk; use `create` or `open`.

    A writing method takes the lock, reads the document again, and leaves
    the changed one behind before it returns.
    """

    @classmethod
    def create(
        cls, path: Path, pedal: Pedal, setup: Setup, signal: Signal, conditions: str = ""
    ) -> ExaminationFolder:
        """Make a new examination; other files in the folder stay as they are.

        Parameters
        ----------
        path : Path
            Folder to make, or an existing one without an examination.
        pedal, setup : Pedal, Setup
            What is examined, and with what.
        signal : Signal
            What every take plays.
        conditions : str
            Temperature and the like, free text.

        Returns
        -------
        ExaminationFolder
            Open, without runs.

        Raises
        ------
        FolderError
            If there is an examination already, a signal file of another signal lies there, or the
            folder cannot be written to.
        ArgumentError
            If a value cannot be stored.
        """
        root = absolute(path)
        document = Examination(
            version=FORMAT_VERSION,
            created=now_text(),
            pedal=pedal,
            setup=setup,
            signal=signal,
            conditions=conditions,
        )
        data = encode_examination(document)
        try:
            (root / RECORDINGS).mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FolderError(
                f'The folder "{root}" cannot be made: {error.strerror or error}.',
                "",
                "Choose another place.",
            ) from error
        with writer_lock(root):
            if (root / DOCUMENT).exists():
                raise FolderError(
                    f'"{root}" already holds an examination.',
                    "It is not overwritten.",
                    "Choose another name, or add to it.",
                )
            place_signal_files(root / SIGNAL_FILE, signal)
            write_new(root / DOCUMENT, [data])
        return cls(root, document)

    def append_run(self, label: RunLabel, repeats: str = "") -> str:
        """Add a run without recordings.

        Parameters
        ----------
        label : RunLabel
            What is connected.
        repeats : str
            Id of the run that it takes the place of; that one stays in the folder.

        Returns
        -------
        str
            Id of the new run.

        Raises
        ------
        ArgumentError
            If the label cannot be stored, or `repeats` is no run or was repeated already.
        FolderError
            If the folder cannot be written to.
        """
        with self._writing():
            run_id = self._document.next_run_id()
            self._store(self._document.with_run(Run(run_id, label, (), repeats)))
        return run_id

    def append_run_with(
        self,
        label: RunLabel,
        recorded: Recorded,
        origin: str = "",
        path_channel: int | None = None,
        check_channel: int | None = None,
        *,
        repeats: str = "",
    ) -> tuple[str, Recording]:
        """Add a run with its first recording; both arrive together or not at all.

        Parameters
        ----------
        label : RunLabel
            What was connected.
        recorded, origin, path_channel, check_channel
            See `append_recording`, also for what it raises.
        repeats : str
            See `append_run`.

        Returns
        -------
        run_id : str
            Id of the new run.
        recording : Recording
            As listed.
        """
        with self._writing():
            run_id = self._document.next_run_id()
            grown = self._document.with_run(Run(run_id, label, (), repeats))
            return run_id, self._record(
                grown, run_id, recorded, origin, path_channel, check_channel
            )

    def append_recording(
        self,
        run_id: str,
        recorded: Recorded,
        origin: str = "",
        path_channel: int | None = None,
        check_channel: int | None = None,
    ) -> Recording:
        """Add one recording to a run: samples as a 24-bit WAV file, a file byte for byte.

        Parameters
        ----------
        run_id : str
            The run.
        recorded : Recorded
            What the rig handed over. The rate of a file is what its header says.
        origin : str
            Name under which it was imported; by default the name of `recorded.file`.
        path_channel, check_channel : int or None
            Channels from 0; None: find it from the data, there is none.

        Returns
        -------
        Recording
            As listed; `made` is now, for a file the time it was last changed.

        Raises
        ------
        ArgumentError
            If there is no such run, no such channel, or the samples cannot be stored.
        RecordingError
            If the file holds no audio that can be read.
        FolderError
            If the folder cannot be written to.
        """
        with self._writing():
            return self._record(
                self._document, run_id, recorded, origin, path_channel, check_channel
            )

    def copy_run_from(self, other: ExaminationFolder, run_id: str) -> str:
        """Share a reference or unplugged run of another examination by copying it in.

        Parameters
        ----------
        other : ExaminationFolder
            Measured with the same setup and signal.
        run_id : str
            The run there.

        Returns
        -------
        str
            Id of the run here; all its recordings arrive together.

        Raises
        ------
        ArgumentError
            If it is a pedal run, or the other examination plays another signal.
        FolderError
            If a recording there is no longer what was recorded, or this folder cannot be written.
        """
        source = other.document.run(run_id)
        if source.label.path == "pedal":
            raise ArgumentError(
                f"Run {run_id} was made with a pedal.", "Only references can be shared."
            )
        if other.document.signal != self._document.signal:
            raise ArgumentError(
                f'"{other.path.name}" plays another signal.',
                "Its references do not fit these runs.",
                "Record the references anew.",
            )
        with self._writing():
            new_id = self._document.next_run_id()
            copies: list[Recording] = []
            for recording in source.recordings:
                file = self._free_name(new_id, Path(recording.file).suffix)
                chunks = source_chunks(other.path_of(recording))
                write_new(self._path / file, chunks, recording.sha256)
                origin = valid_text(f"{other.path.name}/{recording.file}")
                copies.append(msgspec.structs.replace(recording, file=file, origin=origin))
            self._store(self._document.with_run(Run(new_id, source.label, tuple(copies))))
        return new_id

    def _record(
        self,
        document: Examination,
        run_id: str,
        recorded: Recorded,
        origin: str,
        path_channel: int | None,
        check_channel: int | None,
    ) -> Recording:
        document.run(run_id)
        incoming = incoming_of(recorded)
        draft = msgspec.structs.replace(
            incoming.draft,
            file=self._free_name(run_id, incoming.suffix),
            path_channel=path_channel,
            check_channel=check_channel,
            origin=valid_text(origin or incoming.draft.origin),
        )
        encode_examination(document.with_recording(run_id, draft))  # refuse before a file exists
        sha256 = write_new(self.path_of(draft), incoming.chunks)
        recording = msgspec.structs.replace(draft, sha256=sha256)
        self._store(document.with_recording(run_id, recording))
        return recording

    def _free_name(self, run_id: str, suffix: str) -> str:
        """Return the next number of a run that neither a listed nor a stray file has."""
        names = [Path(recording.file).name for recording in self._document.recordings()]
        names += [entry.name for entry in (self._path / RECORDINGS).iterdir()]
        matches = (re.match(rf"{run_id}-([0-9]+)\.", name) for name in names)
        highest = max((int(match[1]) for match in matches if match), default=0)
        return f"{RECORDINGS}/{run_id}-{highest + 1}{suffix}"
