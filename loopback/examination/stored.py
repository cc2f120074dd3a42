"""An examination on disk, to be read: what the analysis sees."""

from __future__ import annotations

from pathlib import Path
from typing import Self

from loopback.errors import FolderError
from loopback.examination.atomic import is_hidden, sha256_of
from loopback.examination.document import RECORDINGS, decode_examination
from loopback.examination.records import Examination, Recording

DOCUMENT = "examination.json"


class StoredExamination:
    """One examination on disk; use `open`. Reading needs no lock.

    Parameters
    ----------
    path : Path
        Its folder, absolute.
    document : Examination
        As read from it.
    """

    def __init__(self, path: Path, document: Examination) -> None:
        self._path = path
        self._document = document

    @classmethod
    def open(cls, path: str | Path) -> Self:
        """Open an existing examination.

        Parameters
        ----------
        path : str or Path
            Its folder.

        Returns
        -------
        StoredExamination
            With every recording that was completed; see `strays` and `missing`.

        Raises
        ------
        FolderError
            If there is none.
        DocumentError
            If its document is damaged or newer than this program.
        """
        root = absolute(path)
        return cls(root, load_document(root))

    def __repr__(self) -> str:
        document = self._document
        counted = f"{len(document.runs)} runs, {len(document.recordings())} recordings"
        return f"<{type(self).__name__} of {document.pedal.name!r}: {counted}>"

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
        listed = {recording.file for recording in self._document.recordings()}
        folder = self._path / RECORDINGS
        present = (f for f in folder.iterdir() if not is_hidden(f)) if folder.is_dir() else ()
        return tuple(sorted({f"{RECORDINGS}/{f.name}" for f in present} - listed))

    @property
    def missing(self) -> tuple[str, ...]:
        """Listed recordings whose file is gone."""
        recordings = self._document.recordings()
        return tuple(r.file for r in recordings if not self.path_of(r).is_file())

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


def absolute(path: str | Path) -> Path:
    """Return a path that stays right when the working folder changes.

    Parameters
    ----------
    path : str or Path
        Relative, absolute, or beginning with ``~``.

    Returns
    -------
    Path
        Absolute; links are kept as they are.
    """
    return Path(path).expanduser().absolute()


def load_document(root: Path) -> Examination:
    """Read the document of an examination.

    Parameters
    ----------
    root : Path
        Its folder.

    Returns
    -------
    Examination
        Checked.

    Raises
    ------
    FolderError
        If there is none.
    DocumentError
        If it is damaged or newer than this program.
    """
    try:
        data = (root / DOCUMENT).read_bytes()
    except OSError as error:
        raise FolderError(
            f'"{root}" holds no {DOCUMENT} that can be read ({error.strerror or error}).',
            "It is not the folder of a pedal.",
            "Unpack it first:  loopback unpack"
            if root.suffix.lower() == ".zip" and root.is_file()
            else "Check the name; `loopback measure` and `loopback add` make such a folder.",
        ) from error
    return decode_examination(data, DOCUMENT)
