"""Names of folders: made from a pedal's name, never one that is taken, pasted without harm."""

from __future__ import annotations

import re
import unicodedata
from itertools import count
from pathlib import Path


def folder_name(pedal: str) -> str:
    """Make a folder name of a pedal's name: ``Quarry Lamp`` is ``quarry-lamp``."""
    letters = unicodedata.normalize("NFKD", pedal).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", letters).strip("-") or "pedal"


def free_folder(wanted: Path) -> Path:
    """Return the name itself, or with ``-2``, ``-3`` ... behind it while it is taken."""
    if not wanted.exists():
        return wanted
    numbered = (wanted.with_name(f"{wanted.name}-{number}") for number in count(2))
    return next(path for path in numbered if not path.exists())


def pasted(path: Path) -> str:
    """Write a path so that it can be pasted into a command line."""
    text = str(path)
    return f'"{text}"' if re.search(r"[\s'&();]", text) else text
