"""Which folder a measurement goes to: a new one, or one that was left unfinished."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from loopback.cli.folders import folder_name, free_folder

if TYPE_CHECKING:
    from loopback.examination.folder import ExaminationFolder
    from loopback.plan.plans import PlanName


@dataclass(frozen=True, slots=True)
class Target:
    """Where the runs go.

    Parameters
    ----------
    path : Path
        Folder.
    there : ExaminationFolder or None
        What is there already; None: it is to be made.
    named : bool
        Whether the folder itself was named, and not the pedal.
    """

    path: Path
    there: ExaminationFolder | None
    named: bool


def find_target(pedal: str) -> Target:
    """Find the folder for a pedal's name, or the folder that was named.

    Parameters
    ----------
    pedal : str
        Name of a pedal, or an existing folder with an examination.

    Returns
    -------
    Target
        For a name: the latest folder of that pedal, whether it is complete or not.

    Raises
    ------
    FolderError, DocumentError
        If the folder cannot be read.
    """
    from loopback.examination.folder import ExaminationFolder
    from loopback.examination.stored import DOCUMENT

    if (Path(pedal) / DOCUMENT).exists():
        return Target(Path(pedal), ExaminationFolder.open(Path(pedal)), True)
    wanted = Path(folder_name(pedal))
    latest: Target | None = None
    for number in count(1):
        path = wanted if number == 1 else wanted.with_name(f"{wanted.name}-{number}")
        if not path.exists():
            break
        if (path / DOCUMENT).exists():
            there = ExaminationFolder.open(path)
            if there.document.pedal.name == pedal:
                latest = Target(path, there, False)
    return latest or Target(new_path(pedal), None, False)


def plan_of(folder: ExaminationFolder) -> PlanName | None:
    """Return the plan that an examination was begun with; None: nobody noted it.

    The note of its setup begins with it.
    """
    from loopback.plan.plans import PLANS

    match = re.match(r"plan (\w+)", folder.document.setup.note)
    return next((name for name in PLANS if match and match[1] == name), None)


def new_path(pedal: str) -> Path:
    """Return the name of a new folder for a pedal."""
    return free_folder(Path(folder_name(pedal)))
