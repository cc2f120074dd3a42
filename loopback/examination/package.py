"""One file that holds a whole examination: what is in it, and what names may be.

A package is an ordinary ZIP file with one folder in it, so that any program opens it and finds the
recordings byte for byte. ``package.json`` in that folder lists every other file with size and
SHA-256. Recordings in 24 bits shrink to about 75 % (deflate); FLAC would reach 40 % (measured on
simulated recordings), and would have to be turned back before a hash fits. Openness was preferred.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import PurePosixPath
from typing import Literal

import msgspec

MANIFEST = "package.json"
PACKAGE_VERSION: Literal[1] = 1
MOST_FILES = 2000
MOST_BYTES = 4 << 30
"""Of all files together: an hour of three channels at 96 kHz is 3 GB."""
MOST_MANIFEST_BYTES = 1 << 20
MOST_LEVELS = 4
MOST_NAME = 100
_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.+-]*")
_DEVICE = re.compile(r"(?:con|prn|aux|nul|com[0-9]|lpt[0-9]|conin\$|conout\$)(?:\.|$)")
"""Names that Windows keeps for devices, with any ending."""


class PackedFile(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One file of a package.

    Attributes
    ----------
    file : str
        Path inside the folder, with forward slashes.
    size : int
        Bytes.
    sha256 : str
        Of its bytes, lower-case hexadecimal.
    """

    file: str
    size: int
    sha256: str


class Manifest(
    msgspec.Struct,
    frozen=True,
    forbid_unknown_fields=True,
    tag_field="format",
    tag="loopback-package",
):
    """What a package holds.

    Attributes
    ----------
    version : {1}
        Of the format.
    program : str
        Version that packed it.
    private : bool
        Whether private fields are in it.
    files : tuple of PackedFile
        All files but this one, in order of their names.
    """

    version: Literal[1]
    program: str
    private: bool
    files: tuple[PackedFile, ...]


def manifest_bytes(manifest: Manifest) -> bytes:
    """Write a manifest as indented JSON.

    Parameters
    ----------
    manifest : Manifest
        Of a package.

    Returns
    -------
    bytes
        UTF-8.
    """
    return msgspec.json.format(msgspec.json.encode(manifest), indent=1) + b"\n"


def name_problem(name: str) -> str:
    """Say what is wrong with the name of a file in a package.

    Only letters, digits and ``_ . + -`` of ASCII are taken, so that a name means the same
    on every system: no drive, no device, no other folder, and one way to write it.

    Parameters
    ----------
    name : str
        With forward slashes, from the folder of the examination.

    Returns
    -------
    str
        Empty: it is sound.
    """
    parts = name.split("/")
    if len(parts) > MOST_LEVELS or len(name) > MOST_NAME:
        return "is too long, or too deep"
    for part in parts:
        if part in ("", ".", ".."):
            return "leads out of its folder"
        if not _NAME.fullmatch(part) or part.endswith("."):
            return "has signs that a file name in a package cannot have"
        if _DEVICE.match(part.lower()):
            return "is the name of a device on some systems"
    return ""


def clashes(names: Iterable[str]) -> Iterator[str]:
    """Find names that are the same file on some system, or a file and a folder at once.

    Parameters
    ----------
    names : iterable of str
        Sound ones, with forward slashes.

    Yields
    ------
    str
        The second of each pair.
    """
    files: set[str] = set()
    folders: set[str] = set()
    for name in names:
        folded = name.lower()
        above = {str(parent) for parent in PurePosixPath(folded).parents}
        if folded in files or folded in folders or above & files:
            yield name
        files.add(folded)
        folders |= above
