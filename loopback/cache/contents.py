"""What an examination consists of now, and the key under which its results are kept."""

from __future__ import annotations

import hashlib
import os
import platform
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import msgspec

from loopback import __version__
from loopback.cache.sealed import SCHEMA
from loopback.examination.atomic import sha256_of
from loopback.examination.records import Examination
from loopback.examination.reference_record import FILE_NAME
from loopback.examination.stored import StoredExamination, absolute, load_document

_NOT_COMPUTING = ("cli", "guide", "guided", "notebook", "proof", "report", "simulate")
"""Parts of the package that no number of an analysis passes through."""
_LIBRARIES = ("numpy", "scipy")


class SeenFile(msgspec.Struct, frozen=True, array_like=True):
    """One recording as it was at a look.

    Attributes
    ----------
    size, mtime_ns, ctime_ns : int
        As the system has them; -1 and zeros for a file that is gone.
    sha256 : str
        Of its bytes; empty for one that cannot be read.
    """

    size: int
    mtime_ns: int
    ctime_ns: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Contents:
    """An examination as it is now.

    Parameters
    ----------
    root : Path
        Its folder, absolute.
    document : Examination
        As stored.
    files : dict of str to SeenFile
        Every listed recording.
    read : bool
        True when every byte was read; False when some were recognised by size and times.
    key : str
        Under which its results are kept.
    """

    root: Path
    document: Examination
    files: dict[str, SeenFile]
    read: bool
    key: str

    @property
    def changed(self) -> tuple[str, ...]:
        """Recordings that are gone, or no longer what was listed."""
        return tuple(
            r.file for r in self.document.recordings() if self.files[r.file].sha256 != r.sha256
        )


def look_at(path: Path, known: Mapping[str, SeenFile], *, thorough: bool) -> Contents:
    """Look at everything that the results of an examination follow from.

    Parameters
    ----------
    path : Path
        Its folder.
    known : mapping of str to SeenFile
        From the last look; empty: there was none.
    thorough : bool
        True reads every recording, whatever is known.

    Returns
    -------
    Contents
        With a key that changes with any of it.

    Raises
    ------
    FolderError
        If there is no examination.
    DocumentError
        If its document is damaged or newer than this program.
    """
    root = absolute(path)
    stored = StoredExamination(root, load_document(root))
    files: dict[str, SeenFile] = {}
    read = True
    for recording in stored.document.recordings():
        files[recording.file], again = _seen(
            stored.path_of(recording), None if thorough else known.get(recording.file)
        )
        read = read and again
    digest = hashlib.sha256()
    learned = root / FILE_NAME
    for part in (
        f"{SCHEMA}\n{_program()}\n".encode(),
        msgspec.json.encode(stored.document),
        learned.read_bytes() if learned.is_file() else b"",
        msgspec.json.encode({name: file.sha256 for name, file in files.items()}),
        msgspec.json.encode([repr(name) for name in stored.strays]),
    ):
        digest.update(len(part).to_bytes(8, "big") + part)
    return Contents(root, stored.document, files, read, digest.hexdigest())


def _seen(path: Path, known: SeenFile | None) -> tuple[SeenFile, bool]:
    """Return a file as it is, and whether its bytes were read."""
    try:
        at = path.stat()
        if known is not None and _same(known, at):
            return known, False
        return SeenFile(at.st_size, at.st_mtime_ns, at.st_ctime_ns, sha256_of(path)), True
    except OSError:
        return SeenFile(-1, 0, 0, ""), True


def _same(known: SeenFile, at: os.stat_result) -> bool:
    now = (at.st_size, at.st_mtime_ns, at.st_ctime_ns)
    return now == (known.size, known.mtime_ns, known.ctime_ns)


@cache
def _program() -> str:
    """Name everything beside the folder that a number may follow from."""
    digest = hashlib.sha256()
    for data in _sources():
        digest.update(data)
    parts = (__version__, digest.hexdigest(), sys.version, platform.machine(), sys.byteorder)
    return "\n".join(parts)


def _sources() -> Iterator[bytes]:
    """Yield the source of the stages that compute, and what the numeric libraries call themselves.

    The version number of this program alone would not do: while it is being worked on, numbers
    change and the version does not.
    """
    root = Path(__file__).parent.parent
    for path in sorted(root.rglob("*.py")):
        inside = path.relative_to(root)
        if inside.parts[0] not in _NOT_COMPUTING:
            yield str(inside).encode()
            yield path.read_bytes()
    for name in _LIBRARIES:
        found = find_spec(name)
        version = None if found is None or found.origin is None else Path(found.origin)
        if version is not None and (file := version.with_name("version.py")).is_file():
            yield file.read_bytes()
