"""What the references of the setup in this folder showed so far."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopback.identify.learned import SetupLearned


def learned_here() -> SetupLearned | None:
    """Learn from what references of this setup showed.

    Returns
    -------
    SetupLearned or None
        None where there are none yet.

    Raises
    ------
    DocumentError
        If their record is damaged, or newer than this program.
    """
    from loopback.examination.reference_record import FILE_NAME, read_reference_record
    from loopback.identify.learned import learn

    sittings = read_reference_record(Path(FILE_NAME)).sittings
    return learn(sittings) if sittings else None
