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
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import msgspec

from loopback.errors import ArgumentError, FolderError
from loopback.examination.atomic import (
    is_hidden,
    sha256_of,
    sha256_of_chunks,
    write_new,
    write_over,
)
from loopback.examination.document import RECORDINGS, decode_examination, encode_examination
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
from loopback.examination.signal_file import signal_files
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded
from loopback.signal.take import Signal

DOCUMENT = "examination.json"
SIGNAL_FILE = "signal.wav"


class ExaminationFolder:
    """One examination on disk; use `create` or `open`.

    Reading needs no lock. A writing method takes the lock, reads the document again, and leaves
    the changed one behind before it returns.
    """

    def __init__(self, path: Path, document: Examination) -> None:
        self._path = path
        self._document = document

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
        root = _absolute(path)
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
            _place_signal(root, signal)
            write_new(root / DOCUMENT, [data])
        return cls(root, document)

    @classmethod
    def open(cls, path: Path) -> ExaminationFolder:
        """Open an existing examination.

        Parameters
        ----------
        path : Path
            Its folder.

        Returns
        -------
        ExaminationFolder
            With every recording that was completed; see `strays` and `missing`.

        Raises
        ------
        FolderError
            If there is none.
        DocumentError
            If its document is damaged or newer than this program.
        """
        root = _absolute(path)
        return cls(root, _load(root))

    @property
    def path(self) -> Path:
        """The folder, absolute."""
        return self._path

    @property
    def document(self) -> Examination:
        """The document as last read or written."""
        return self._document

    @property
    def strays(self) -> tuple[str, ...]:
        """Complete files in the recordings folder that no run lists, as after a power failure."""
        listed = {recording.file for run in self._document.runs for recording in run.recordings}
        folder = self._path / RECORDINGS
        present = (f for f in folder.iterdir() if not is_hidden(f)) if folder.is_dir() else ()
        return tuple(sorted({f"{RECORDINGS}/{f.name}" for f in present} - listed))

    @property
    def missing(self) -> tuple[str, ...]:
        """Listed recordings whose file is gone."""
        return tuple(
            recording.file
            for run in self._document.runs
            for recording in run.recordings
            if not self.path_of(recording).is_file()
        )

    def path_of(self, recording: Recording) -> Path:
        """Return where the file of a recording lies."""
        return self._path / recording.file

    def check_hash(self, recording: Recording) -> bool:
        """Whether a recording's file is, byte for byte, the one that was listed.

        Parameters
        ----------
        recording : Recording
            Of this examination.

        Returns
        -------
        bool
            False when it was changed, is gone or cannot be read.
        """
        try:
            return sha256_of(self.path_of(recording)) == recording.sha256
        except OSError:
            return False

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
        for run in self._document.runs:
            if run.id == run_id:
                return run
        ids = ", ".join(run.id for run in self._document.runs) or "none"
        raise ArgumentError(f'There is no run "{run_id}".', f"Runs so far: {ids}.")

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
            if repeats:
                self.run(repeats)
            run_id = self._next_run_id()
            self._store(self._with_run(Run(run_id, label, (), repeats)))
        return run_id

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
            run = self.run(run_id)
            incoming = incoming_of(recorded)
            draft = Recording(
                file=self._free_name(run_id, incoming.suffix),
                sha256="0" * 64,
                rate_hz=incoming.rate_hz,
                channels=incoming.channels,
                frames=incoming.frames,
                kind=recorded.kind,
                made=incoming.made,
                path_channel=path_channel,
                check_channel=check_channel,
                expected_start=recorded.expected_start,
                flags=tuple(recorded.flags),
                origin=valid_text(origin or incoming.origin),
            )
            encode_examination(self._with_recording(run, draft))  # refuse before a file exists
            sha256 = write_new(self.path_of(draft), incoming.chunks)
            recording = msgspec.structs.replace(draft, sha256=sha256)
            self._store(self._with_recording(run, recording))
        return recording

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
        source = other.run(run_id)
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
            new_id = self._next_run_id()
            copies: list[Recording] = []
            for recording in source.recordings:
                file = self._free_name(new_id, Path(recording.file).suffix)
                sha256 = write_new(self._path / file, source_chunks(other.path_of(recording)))
                if sha256 != recording.sha256:
                    raise FolderError(
                        f'"{recording.file}" in "{other.path}" has changed since it was recorded.',
                        "A reference must be the one that was measured.",
                        "Restore it from a copy, or record the reference anew.",
                    )
                origin = valid_text(f"{other.path.name}/{recording.file}")
                copies.append(msgspec.structs.replace(recording, file=file, origin=origin))
            self._store(self._with_run(Run(new_id, source.label, tuple(copies))))
        return new_id

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with writer_lock(self._path):
            self._document = _load(self._path)
            (self._path / RECORDINGS).mkdir(exist_ok=True)
            yield

    def _next_run_id(self) -> str:
        return f"{max((int(run.id) for run in self._document.runs), default=0) + 1:02d}"

    def _free_name(self, run_id: str, suffix: str) -> str:
        """Return the next number of a run that neither a listed nor a stray file has."""
        listed = [recording.file for run in self._document.runs for recording in run.recordings]
        names = [Path(file).name for file in listed]
        names += [entry.name for entry in (self._path / RECORDINGS).iterdir()]
        matches = (re.match(rf"{run_id}-([0-9]+)\.", name) for name in names)
        highest = max((int(match[1]) for match in matches if match), default=0)
        return f"{RECORDINGS}/{run_id}-{highest + 1}{suffix}"

    def _with_run(self, run: Run) -> Examination:
        return msgspec.structs.replace(self._document, runs=(*self._document.runs, run))

    def _with_recording(self, run: Run, recording: Recording) -> Examination:
        grown = msgspec.structs.replace(run, recordings=(*run.recordings, recording))
        runs = tuple(grown if r.id == run.id else r for r in self._document.runs)
        return msgspec.structs.replace(self._document, runs=runs)

    def _store(self, document: Examination) -> None:
        write_over(self._path / DOCUMENT, [encode_examination(document)])
        self._document = document


def _absolute(path: Path) -> Path:
    return path.expanduser().absolute()


def _load(root: Path) -> Examination:
    try:
        data = (root / DOCUMENT).read_bytes()
    except OSError as error:
        raise FolderError(
            f'"{root}" holds no {DOCUMENT} that can be read ({error.strerror or error}).',
            "It is not the folder of a pedal.",
            "Check the name.",
        ) from error
    return decode_examination(data, DOCUMENT)


def _place_signal(root: Path, signal: Signal) -> None:
    """Write the signal, or accept the very same bytes from an interrupted beginning."""
    target = root / SIGNAL_FILE
    for path, chunks in signal_files(target, signal):
        if not path.exists():
            write_new(path, chunks)
        elif sha256_of(path) != sha256_of_chunks(chunks):
            raise FolderError(
                f'"{root}" holds a {path.name} that is not this signal.',
                "It is not overwritten.",
                "Choose another folder, or move that file.",
            )
