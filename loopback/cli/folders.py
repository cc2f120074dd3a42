"""Names of folders: made from a pedal's name, never one that is taken, pasted without harm."""

from __future__ import annotations

import os
import re
import shlex
import unicodedata
from itertools import count
from pathlib import Path

MOST_NAME = 60
_DEVICE = re.compile(r"con|prn|aux|nul|com[0-9]|lpt[0-9]")
"""Names that Windows keeps for devices."""


def folder_name(pedal: str) -> str:
    """Make a folder name of a pedal's name: ``Quarry Lamp`` is ``quarry-lamp``."""
    letters = unicodedata.normalize("NFKD", pedal).encode("ascii", "ignore").decode().lower()
    name = re.sub(r"[^a-z0-9]+", "-", letters).strip("-")[:MOST_NAME].strip("-")
    return f"{name}-pedal" if _DEVICE.fullmatch(name) else name or "pedal"


def free_folder(wanted: Path) -> Path:
    """Return the name itself, or with ``-2``, ``-3`` ... behind it while it is taken."""
    if not wanted.exists():
        return wanted
    numbered = (wanted.with_name(f"{wanted.name}-{number}") for number in count(2))
    return next(path for path in numbered if not path.exists())


def pasted(path: Path) -> str:
    """Write a path so that it can be pasted into a command line, and nothing in it is obeyed."""
    text = str(path)
    if text.startswith("-"):  # would be read as an option
        text = f"{os.curdir}{os.sep}{text}"
    if os.name != "nt" and re.search(r"""["$`\\!*?\[\]{}~#|<>]""", text):
        return shlex.quote(text)
    return f'"{text}"' if re.search(r"[\s'&();]", text) else text
