"""The report of one examination as one page that stands by itself, and the form for a ticket."""

from __future__ import annotations

from dataclasses import replace

from loopback import __version__
from loopback.examination.shown import shown
from loopback.facts import Analysis
from loopback.report.identification import identification
from loopback.report.layout import Row
from loopback.report.page import render
from loopback.report.page_faults import fault_answer
from loopback.report.page_item import item_rows, of_what, report_rows, setup_rows, when
from loopback.report.page_pictures import page_pictures
from loopback.report.page_records import Answer
from loopback.report.page_refused import refused_answer
from loopback.report.page_sections import (
    appendix,
    meter_section,
    recordings_section,
    sections,
)
from loopback.report.page_words import SCOPE, STANDING, UNCERTAINTY, method
from loopback.report.text import short_line
from loopback.texts import one_line
from loopback.verdict.result import Result
from loopback.verdict.sentences import claim_line, not_tested_line, size_line, would_tell_lines
from loopback.verdict.sentences_certainty import (
    decision_rule,
    path_certainty,
    power_certainty,
    size_certainty,
)
from loopback.verdict.sentences_path import path_sentence
from loopback.verdict.sentences_power import power_sentence

_LONGEST_NAME = 120
_LONGEST_NOTE = 160
_MOST_RUNS = 3
"""As on the screen; the evidence names them all."""


def report_page(analysis: Analysis, *, issued: str, private: bool = False) -> str:
    """Write the report.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    issued : str
        When the page is made, ISO 8601.
    private : bool
        Whether private fields are shown; the page then says that it is not for publication.

    Returns
    -------
    str
        HTML with everything in it: no script, nothing from outside.
    """
    analysis = _harmless(analysis)
    document = analysis.examination
    filled = sections(analysis, page_pictures(analysis))
    checks = appendix(analysis)
    recordings = recordings_section(analysis, private=private)
    return render(
        "report.html.j2",
        **_head(analysis, private=private),
        contents=(
            ("result", "Result"),
            *((one.anchor, one.title) for one in filled),
            ("item", "What was examined"),
            ("method", "Method"),
            *((one.anchor, one.title) for one in checks),
            ("recompute", "How to recompute it"),
            (recordings.anchor, recordings.title),
            ("about", "About this report"),
        ),
        sections=filled,
        report_rows=report_rows(document, issued),
        item_rows=item_rows(analysis, private=private),
        setup_rows=setup_rows(analysis),
        method=method(document),
        uncertainty=UNCERTAINTY,
        decision_rule=decision_rule(),
        standing=STANDING,
        numbers=checks,
        recordings=recordings,
    )


def ticket_page(analysis: Analysis, *, private: bool = False) -> str:
    """Write the result on half a page of A4 or Letter, to be kept with a repair.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    private : bool
        Whether private fields are shown.

    Returns
    -------
    str
        HTML; long notes are cut.
    """
    analysis = _harmless(analysis)
    return render(
        "ticket.html.j2",
        **_head(analysis, private=private),
        meter=meter_section(analysis),
        not_tested=not_tested_line(analysis.result),
        item_rows=tuple(
            Row(row.heading, one_line(row.text, _LONGEST_NOTE))
            for row in item_rows(analysis, private=private)
        ),
    )


def _harmless(analysis: Analysis) -> Analysis:
    """Make every text of the document fit to be shown, wherever the analysis comes from."""
    return replace(analysis, examination=shown(analysis.examination))


def _head(analysis: Analysis, *, private: bool) -> dict[str, object]:
    """Collect what both pages begin with."""
    pedal = analysis.examination.pedal
    return {
        "program": __version__,
        "of_what": of_what(analysis.examination),
        "when": when(analysis.examination),
        "name": one_line(pedal.name, _LONGEST_NAME),
        "identification": identification(analysis.examination),
        "simulated": analysis.examination.setup.rig == "simulator",
        "private": private,
        "answers": answers(analysis.result),
        "fault": fault_answer(analysis),
        "refused": refused_answer(analysis),
        "claim": one_line(claim_line(analysis.result, one_line(pedal.claim, _LONGEST_NAME))),
        "next_runs": would_tell_lines(analysis.result)[:_MOST_RUNS],
        "short": one_line(short_line(analysis), 400),
        "scope": SCOPE,
    }


def answers(result: Result) -> tuple[Answer, ...]:
    """Give the three lines, each with how sure it is.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    tuple of Answer
        Path in bypass, without power, size.
    """
    size = size_line(result)
    return (
        Answer("Path in bypass", path_sentence(result), path_certainty(result)),
        Answer("Without power", power_sentence(result), power_certainty(result)),
        Answer("Size of what it leaves", f"{size[0].upper()}{size[1:]}.", size_certainty(result)),
    )
