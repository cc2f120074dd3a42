"""Files that are believed only whole: a line with kind, key and hash, then the contents."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from pathlib import Path

from loopback.errors import FolderError
from loopback.examination.atomic import write_over

FOLDER = "cache"
SCHEMA = 1
"""Of the line and of what is kept; a change of it makes everything older worthless."""
_TAG = (
    "Signature: 8a477f597d28d172789f06886806bc55\n"
    "# Results kept by the bypass tester. This folder may be deleted at any time.\n"
)
"""Cache Directory Tagging Specification, version 0.6."""
_MOST_BYTES = 1 << 28
"""A larger file is none of ours: an analysis takes a few megabytes."""


def read_sealed(root: Path, name: str, key: str | None) -> tuple[str, bytes] | None:
    """Read what is kept under a name.

    Parameters
    ----------
    root : Path
        Folder of the examination.
    name : str
        Of the file.
    key : str or None
        What it must be kept for; None: whatever it is.

    Returns
    -------
    tuple of (str, bytes) or None
        Its key and its contents; None when it is absent, damaged, unreadable, of another schema or
        kept for something else.
    """
    path = root / FOLDER / name
    try:
        if not 0 < path.stat().st_size < _MOST_BYTES:
            return None
        head, _, contents = path.read_bytes().partition(b"\n")
    except OSError:
        return None
    words = head.decode("ascii", "replace").split(" ")
    if len(words) != 4 or words[:2] != ["loopback-kept", str(SCHEMA)]:
        return None
    found, sha256 = words[2:]
    if key not in (None, found) or hashlib.sha256(contents).hexdigest() != sha256:
        return None
    return found, contents


def write_sealed(root: Path, name: str, key: str, contents: bytes) -> bool:
    """Keep contents under a name, in one instant.

    Parameters
    ----------
    root : Path
        Folder of the examination.
    name : str
        Of the file.
    key : str
        What it is kept for.
    contents : bytes
        Anything.

    Returns
    -------
    bool
        False where the folder cannot be written to; nothing was changed then.
    """
    folder = root / FOLDER
    head = f"loopback-kept {SCHEMA} {key} {hashlib.sha256(contents).hexdigest()}\n"
    if folder.is_symlink():  # a folder from elsewhere must not lead writing out of itself
        return False
    with suppress(OSError, FolderError):
        if not folder.is_dir():
            folder.mkdir()
            (folder / "CACHEDIR.TAG").write_text(_TAG, encoding="ascii")
        write_over(folder / name, [head.encode("ascii"), contents])
        return True
    return False
