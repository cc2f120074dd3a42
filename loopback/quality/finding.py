"""One finding: a number, what it means, and the one thing to do."""

from __future__ import annotations

from collections.abc import Iterable
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
        Run (``"03"``) or run and take (``"03/2"``), several with spaces between; empty when it
        concerns the whole examination.
    """

    code: str
    grade: Grade
    number: str
    meaning: str
    action: str = ""
    where: str = ""


def refused(findings: Iterable[Finding], run_id: str, take: int | None = None) -> bool:
    """Tell whether a gate refuses a run, or one take of it.

    Parameters
    ----------
    findings : iterable of Finding
        Of all gates.
    run_id : str
        The run.
    take : int or None
        The take, from 1; None: only what concerns the whole run.

    Returns
    -------
    bool
        True when it must not be used.
    """
    names = {run_id} if take is None else {run_id, f"{run_id}/{take}"}
    return any(f.grade == "refuse" and names & set(f.where.split()) for f in findings)
