"""The result on one screen: 80 columns, 20 lines or fewer, always in the same order."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.facts import Analysis
from loopback.player.sentences import player_line
from loopback.quality.finding import Finding
from loopback.report.behaviour_lines import own_rows
from loopback.report.cable_lines import cable_lines
from loopback.report.dates import date_text
from loopback.report.layout import WIDTH, Row, columns, lay_out, two_ends
from loopback.verdict.sentences import (
    claim_line,
    consistent_line,
    evidence_lines,
    meter_lines,
    not_tested_line,
    plain_lead_lines,
    result_sentences,
    short_form,
    size_line,
    without_power,
    would_tell_lines,
)
from loopback.verdict.sentences_expected import expectation_sentence, expected_lines
from loopback.verdict.sentences_faults import fault_heading, fault_line, fault_words
from loopback.verdict.sentences_power import power_sentence

MOST_LINES = 20
_HEAD = " in bypass"
_MOST_CLAIM = 36


@dataclass(frozen=True, slots=True)
class _Room:
    """How much is written: pieces of evidence, runs that would tell, findings, and the rest.

    Without `own`, tones and distortion of the pedal's own are left out.
    Without `look`, a wiring fault is named without its evidence. Without `heard`, of what a player
    gets only the largest change is said. Without `cable`, what the runs show against the cable is
    left out where nothing was decided.
    """

    evidence: int
    telling: int
    noticed: int
    families: bool = True
    notes: bool = True
    commands: int = 2
    consistent: bool = False
    cable: bool = True
    heard: bool = True
    own: bool = True
    look: bool = True


_ROOMS = (
    _Room(2, 3, 2, consistent=True),
    _Room(1, 3, 2, consistent=True),
    _Room(1, 2, 1, consistent=True),
    _Room(0, 2, 1, consistent=True),
    _Room(0, 1, 1),
    _Room(0, 1, 1, families=False),
    _Room(0, 1, 1, families=False, notes=False),
    _Room(0, 1, 0, families=False, notes=False),
    _Room(0, 1, 0, families=False, notes=False, commands=1),
    _Room(0, 1, 0, families=False, notes=False, commands=1, heard=False),
    _Room(0, 1, 0, families=False, notes=False, commands=1, heard=False, cable=False),
    _Room(0, 1, 0, False, False, 1, cable=False, heard=False, own=False),
    _Room(0, 1, 0, False, False, 1, cable=False, heard=False, own=False, look=False),
)
"""From much room to little: what explains gives way to what answers."""


def result_screen(analysis: Analysis, folder: str, *, signs: bool) -> str:
    """Write the result.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    folder : str
        Its folder, written so that it can be pasted.
    signs : bool
        False writes Ω, ± and µ out.

    Returns
    -------
    str
        At most `MOST_LINES` lines: what explains gives way to what answers.
    """
    right = _when_and_how_much(analysis)
    room_of_name = WIDTH - len(right) - len(_HEAD) - (2 if signs else 4)  # "+/-" for "±"
    name = _cut(analysis.examination.pedal.name.upper(), room_of_name)
    head = two_ends(f"{name}{_HEAD}", right, signs=signs)
    for room in _ROOMS:
        screen = f"{head}\n{lay_out(_rows(analysis, folder, room, signs), signs=signs)}"
        if screen.count("\n") < MOST_LINES:
            break
    return screen


def _rows(analysis: Analysis, folder: str, room: _Room, signs: bool) -> list[Row]:
    result = analysis.result
    without = without_power(result) if room.families else power_sentence(result)
    commands = [f"loopback plot {folder}", f"loopback show {folder} --all"]
    if "resistor_runs" in result.would_tell:
        commands = [commands[-1], "loopback guide resistor-lead"]
    telling = Row("Would tell", "\n".join(would_tell_lines(result)[: room.telling]))
    # Where nothing was decided, the run that would decide comes before what the others show.
    open_path = result.path == "undecided"
    cable = cable_lines(analysis, signs=signs) if room.cable or not open_path else ""
    return [
        Row("Result", " ".join(result_sentences(result))),
        Row("Size", size_line(result)),
        Row(fault_heading(analysis.faults), _faults(analysis, room.look)),
        Row("As on a meter", _meter(analysis, room.notes, signs)),
        Row("Plain lead", "\n".join(plain_lead_lines(result))),
        telling if open_path else Row("Would tell", ""),
        Row("Against cable", cable),
        *(own_rows(analysis) if room.own else ()),
        Row("For a player", _heard(analysis, room.heard)),
        Row("Consistent with", consistent_line(result) if room.consistent else ""),
        Row("Known from", "\n".join(evidence_lines(result)[: room.evidence])),
        Row("Without power", without),
        Row("Claim", claim_line(result, _cut(analysis.examination.pedal.claim, _MOST_CLAIM))),
        Row("Expected", _expected(analysis)),
        Row("Noticed", _noticed(analysis.findings, room.noticed)),
        Row("Not tested", not_tested_line(result)),
        Row("Would tell", "") if open_path else telling,
        Row("Next", "\n".join(commands[-room.commands :])),
    ]


def _faults(analysis: Analysis, whole: bool) -> str:
    """Write the first fault with its evidence and where to look, the others by name."""
    words = fault_words(analysis.faults)
    if not words:
        return ""
    lines = [fault_line(words[0]) if whole else fault_line(words[0], short=True)]
    lines += [f"Also: {one.name} (--all)." for one in words[1:]]
    return "\n".join(lines)


def _heard(analysis: Analysis, whole: bool) -> str:
    return "" if analysis.player is None else player_line(analysis.player, short=not whole)


def short_line(analysis: Analysis) -> str:
    """Write the result in one line, with the day it was measured.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    str
        For a table, a caption or a ticket.
    """
    line = short_form(analysis.result, analysis.examination.pedal.name)
    return f"{line[:-1]}, {date_text(analysis.examination.created)}."


def all_evidence(analysis: Analysis, *, signs: bool) -> str:
    """Write every piece of evidence and every run that would tell more.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    signs : bool
        False writes Ω, ± and µ out.

    Returns
    -------
    str
        Nothing is left out here.
    """
    rows = [
        Row(
            "Faults", "\n".join(fault_line(one, whole=True) for one in fault_words(analysis.faults))
        ),
        Row("Consistent with", consistent_line(analysis.result)),
        Row("Known from", "\n".join(evidence_lines(analysis.result))),
        Row("Would tell", "\n".join(would_tell_lines(analysis.result))),
    ]
    return lay_out(rows, signs=signs)


def _when_and_how_much(analysis: Analysis) -> str:
    runs = (*analysis.references, *analysis.pedal_runs)
    usable = sum(facts.response is not None for facts in runs)
    return f"{date_text(analysis.examination.created)}, {usable} of {len(runs)} runs usable, ± 95 %"


def _meter(analysis: Analysis, notes: bool, signs: bool) -> str:
    table = [
        (
            line.what,
            line.value,
            line.limit and f"limit {line.limit}",
            line.outcome,
            line.note if notes else "",
        )
        for line in meter_lines(analysis.result)
    ]
    return columns(table, signs=signs)


def _expected(analysis: Analysis) -> str:
    lines = expected_lines(analysis.expected)
    return f"{expectation_sentence(analysis.expected)} {'; '.join(lines)}" if lines else ""


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 3].rstrip() + "..."


def _noticed(findings: tuple[Finding, ...], most: int) -> str:
    """Write the worst findings, one of each kind, and how many more there are."""
    order = {"refuse": 0, "look": 1}
    bad = sorted((f for f in findings if f.grade in order), key=lambda f: order[f.grade])
    kinds = list({finding.code: finding for finding in reversed(bad)}.values())[::-1]
    lines = []
    for finding in kinds[:most]:
        mark = "!" if finding.grade == "refuse" else "look:"
        place = f"run {finding.where}: " if finding.where else ""
        lines.append(f"{mark} {place}{finding.number}. {finding.meaning} {finding.action}".strip())
    more = len(bad) - len(lines)
    if more:
        counted = f"{more} {'more ' if lines else ''}finding{'s' if more > 1 else ''} with --all"
        lines.append(counted)
    return "\n".join(lines)
