"""How sure each of the three lines is, in words that the runs carry."""

from __future__ import annotations

from loopback.verdict.probability import DECIDED
from loopback.verdict.result import Result
from loopback.verdict.sentences_path import sure_sentence


def path_certainty(result: Result) -> str:
    """Say how sure the path is.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        One or two sentences.
    """
    said = sure_sentence(result)
    if result.path in ("undecided", "none"):
        return f"Not decided. {said}".strip()
    return said or "No probability can be given."


def power_certainty(result: Result) -> str:
    """Say how sure the behaviour without power is.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        One sentence.
    """
    if result.power == "untested":
        return "No run without power tells."
    if result.power_alternatives:
        return "Open between these; the runs exclude everything else."
    return "Seen in the runs without power; no probability is computed for it."


def size_certainty(result: Result) -> str:
    """Say how sure the grade is.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        One sentence.
    """
    if len(result.grades) == 1:
        return "The whole 95 % interval of every value lies inside this grade."
    if result.grades:
        return "A 95 % interval reaches over both."
    return "No grade is given."


def decision_rule() -> str:
    """State the rule by which a limit is called met or not met.

    Returns
    -------
    str
        Two sentences.
    """
    return (
        f"A limit is called met where the probability that it is kept is at least "
        f"{100 * DECIDED:.1f} %, and not met where it is at most {100 * (1 - DECIDED):.1f} %; in "
        "between it is undecided (JCGM 106:2012, guard of 1.96 standard uncertainties on either "
        "side). A line that needs another run says so."
    )
