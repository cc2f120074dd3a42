"""One finding: a number, what it means, and the one thing to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Grade = Literal["good", "look", "refuse"]
"""good: nothing to do; look: usable, with wider doubt; refuse: kept, but not used."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing noticed about a recording, a run or a set of runs.

    Parameters
    ----------
    code : str
        Stable word for machines and tests, such as ``"clipped"``.
    grade : {"good", "look", "refuse"}
        Whether the recording can be used.
    number : str
        What was measured, with its unit: ``"37 samples at full scale"``.
    meaning : str
        One sentence in the user's words.
    action : str
        The one thing to do; empty when nothing needs doing.
    where : str
        Run and take (``"03/2"``) or empty when it concerns the whole examination.
    """

    code: str
    grade: Grade
    number: str
    meaning: str
    action: str = ""
    where: str = ""
