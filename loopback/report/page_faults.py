"""Wiring faults on a page: each with its evidence and where to look; or what was looked at."""

from __future__ import annotations

from loopback.facts import Analysis
from loopback.report.layout import Row
from loopback.report.page_records import Answer, Section
from loopback.verdict.sentences_faults import FaultWords, fault_heading, fault_words

_TITLE = "Wiring faults"
_RANKED = (
    "The one whose evidence goes furthest stands first. The order is a judgement, not a "
    "probability."
)
_PURPOSE = (
    "What some designs do on purpose, such as a resistor across the line or an effect's input "
    "that stays on it, is a fault only against a build sheet: loopback show FOLDER --expect FILE."
)
_NOT_LOOKED = "Not looked for: no pedal was proven to be in the path, or none of its runs tells."


def faults_section(analysis: Analysis) -> Section:
    """Fill the section on faults.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Section
        Ranked; where there are none, what was checked, and in either case what was not.
    """
    words = fault_words(analysis.faults)
    checked, unchecked = _checks(analysis)
    rest = Row("Not looked for", "\n".join(unchecked))
    if words:
        rows = (*(_row(one) for one in words), rest)
        return Section("faults", _TITLE, (_RANKED,) if len(words) > 1 else (), rows=rows)
    if not checked:
        return Section("faults", _TITLE, missing=_NOT_LOOKED)
    return Section(
        "faults",
        _TITLE,
        ("None found.",),
        rows=(Row("Looked for", "\n".join(checked)), rest, Row("Not called so", _PURPOSE)),
    )


def fault_answer(analysis: Analysis) -> Answer | None:
    """Give the first fault as a line of the result.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Answer or None
        What it is, where to look, and which others there are; None without any.
    """
    words = fault_words(analysis.faults)
    if not words:
        return None
    first, others = words[0], words[1:]
    more = f" Also: {'; '.join(one.name for one in others)}." if others else ""
    purpose = f" Or it is {' or '.join(first.on_purpose)}." if first.on_purpose else ""
    return Answer(
        fault_heading(analysis.faults), _begun(first.name), f"{first.where_to_look}{purpose}{more}"
    )


def _row(words: FaultWords) -> Row:
    lines = [*words.evidence, words.where_to_look]
    if words.on_purpose:
        lines.append(f"On purpose it would be {' or '.join(words.on_purpose)}.")
    if words.consistent_with:
        lines.append(f"Also consistent with: {'; '.join(words.consistent_with)}.")
    return Row(f"{words.rank}. {_begun(words.name)[:-1]}", "\n".join(lines))


def _begun(name: str) -> str:
    return f"{name[0].upper()}{name[1:]}."


def _checks(analysis: Analysis) -> tuple[list[str], list[str]]:
    """Say what the runs, presses and taps at hand allow to be looked for, and what not."""
    if analysis.result.path == "none" or not any(f.state for f in analysis.pedal_runs):
        return [], []
    known = {
        "an open path, a short, a switch, jack or supply that is not connected": True,
        "a joint or contact that adds resistance in line": analysis.result.series_ohm is not None,
        "leakage and resistors across the line": analysis.result.resistor_ohm is not None,
        "hum, whine and combs of tones": any(
            facts.behaviour is not None and facts.behaviour.survey is not None
            for facts in analysis.pedal_runs
        ),
        "pops and what causes them (loopback press FOLDER)": analysis.footswitch is not None,
        "joints that let go when moved (loopback tap FOLDER)": analysis.taps is not None,
        "what differs from a build sheet (--expect FILE)": bool(analysis.expected),
    }
    checked = [what.partition(" (")[0] for what, looked in known.items() if looked]
    return checked, [what for what, looked in known.items() if not looked]
