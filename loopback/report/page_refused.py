"""Runs that could not be used: which, why, and the command that makes each again."""

from __future__ import annotations

from loopback.facts import Analysis, RunFacts
from loopback.plan.naming import name_from_label
from loopback.quality.finding import Finding
from loopback.report.layout import Row
from loopback.report.page_records import Answer, Table
from loopback.report.run_names import run_name
from loopback.texts import one_line

_EMPTY = "No take of it was recorded."
_UNKNOWN = "No take in it could be used."


def unused_runs(analysis: Analysis) -> tuple[RunFacts, ...]:
    """Return the runs on which no number rests.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    tuple of RunFacts
        In the order in which they were made; those that were made again are not among them.
    """
    runs = (*analysis.references, *analysis.pedal_runs)
    return tuple(sorted((f for f in runs if f.response is None), key=lambda f: f.run.id))


def refused_answer(analysis: Analysis) -> Answer | None:
    """Say among the results that runs are missing from them.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Answer or None
        None where every run was used.
    """
    unused = unused_runs(analysis)
    if not unused:
        return None
    of = len(analysis.references) + len(analysis.pedal_runs)
    ids = ", ".join(facts.run.id for facts in unused)
    return Answer(
        "Runs not used",
        f"{len(unused)} of {of} runs could not be used: {ids}.",
        "No number here rests on them. Why, and how to make them again, stands further down.",
    )


def refused_table(analysis: Analysis) -> Table:
    """List the runs that could not be used.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Table
        Run, reason and what to change; without lines where every run was used.
    """
    return Table(
        "Runs that could not be used; their recordings are kept",
        ("Run", "Why", "What to change"),
        tuple(_line(analysis, facts) for facts in unused_runs(analysis)),
    )


def again_row(analysis: Analysis) -> Row:
    """List the commands that make runs again.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Row
        One line for each run; without text where every run was used.
    """
    lines = [again_command(analysis, facts) for facts in unused_runs(analysis)]
    return Row("To make them again", "\n".join(lines))


def told_elsewhere(analysis: Analysis) -> tuple[Finding, ...]:
    """Return the findings worth reading that the table of refused runs does not hold.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    tuple of Finding
        In their order.
    """
    unused = unused_runs(analysis)
    told = [finding for facts in unused for finding in _refusing(analysis, facts.run.id)]
    return tuple(f for f in analysis.findings if f.grade != "good" and f not in told)


def again_command(analysis: Analysis, facts: RunFacts) -> str:
    """Write the command that makes a run again.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    facts : RunFacts
        One of its runs.

    Returns
    -------
    str
        With ``FOLDER`` for the folder: a page does not know where it lies.
    """
    run_id = facts.run.id
    if analysis.examination.setup.rig == "files":
        name = name_from_label(facts.run.label)
        return f"loopback add FOLDER {name}.wav --like --again {run_id}"
    simulated = analysis.examination.setup.rig == "simulator"
    return f"loopback measure FOLDER --again {run_id}{' --simulate NAME' if simulated else ''}"


def _line(analysis: Analysis, facts: RunFacts) -> tuple[str, ...]:
    found = _refusing(analysis, facts.run.id)
    takes: dict[str, list[str]] = {}
    for finding in found:
        why = one_line(f"{finding.number}. {finding.meaning}")
        takes.setdefault(why, []).append(_take(finding, facts.run.id))
    reasons = [f"{_takes(numbers)}{why}" for why, numbers in takes.items()]
    actions = dict.fromkeys(one_line(finding.action) for finding in found if finding.action)
    why_not = _UNKNOWN if facts.run.recordings else _EMPTY
    return (
        run_name(facts.run, bypass_position=analysis.result.bypass_position),
        " ".join(reasons) or why_not,
        " ".join(actions),
    )


def _refusing(analysis: Analysis, run_id: str) -> tuple[Finding, ...]:
    return tuple(
        finding
        for finding in analysis.findings
        if finding.grade == "refuse"
        and any(place.partition("/")[0] == run_id for place in finding.where.split())
    )


def _take(finding: Finding, run_id: str) -> str:
    places = (place.partition("/") for place in finding.where.split())
    return next(take for run, _, take in places if run == run_id)


def _takes(numbers: list[str]) -> str:
    named = [number for number in dict.fromkeys(numbers) if number]
    if not named:
        return ""
    return f"take{'s' if len(named) > 1 else ''} {' and '.join(named)}: "
