"""The sections of the report, each from the facts and from the sentences of the screens."""

from __future__ import annotations

from loopback.facts import Analysis
from loopback.report.layout import Row
from loopback.report.numbers import finding_lines, number_blocks
from loopback.report.page_circuit import circuit_of
from loopback.report.page_evidence import limits_table, meter_table, other_table, sources_table
from loopback.report.page_faults import faults_section
from loopback.report.page_measured import measured_sections
from loopback.report.page_pictures import circuit_picture
from loopback.report.page_records import Picture, Section
from loopback.report.page_refused import again_row, refused_table, told_elsewhere
from loopback.report.page_runs import power_table, recordings_table, runs_table
from loopback.report.page_words import CAUTIONS
from loopback.texts import one_line
from loopback.verdict.sentences import (
    consistent_line,
    evidence_lines,
    not_tested_line,
    plain_lead_lines,
    without_power,
    would_tell_lines,
)
from loopback.verdict.sentences_expected import expectation_sentence, expected_lines

_ON_PAPER = (
    "Not printed: level, treble, corners, noise, tones and harmonics of every run. They are in "
    "this page on a screen, in loopback show FOLDER --all, and for machines in published.json of "
    "the examination and in loopback show FOLDER --json."
)


def sections(analysis: Analysis, pictures: dict[str, Picture]) -> tuple[Section, ...]:
    """Fill what comes after the result.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    pictures : dict of str to Picture
        From `loopback.report.page_pictures.page_pictures`.

    Returns
    -------
    tuple of Section
        In the order of the page.
    """
    return (
        meter_section(analysis),
        _circuit(analysis),
        _evidence(analysis),
        faults_section(analysis),
        *measured_sections(analysis, pictures),
        _power(analysis),
        _findings(analysis),
        _not_tested(analysis),
        _cautions(),
    )


def appendix(analysis: Analysis) -> tuple[Section, ...]:
    """Fill what is there for whoever wants to check.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    tuple of Section
        Every run and every number.
    """
    rows = _joined([row for block in number_blocks(analysis) for row in block if row.text])
    return (
        Section("runs", "Runs", tables=(runs_table(analysis),)),
        Section(
            "numbers",
            "Every number",
            rows=rows,
            missing="None.",
            folded="Level, treble, corners, noise, tones and harmonics of every run",
            on_paper=_ON_PAPER,
        ),
    )


def meter_section(analysis: Analysis) -> Section:
    """Fill "as on a meter".

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    Section
        With what the plain lead alone shows, where nothing else was used.
    """
    return Section(
        "meter",
        "As on a meter",
        plain_lead_lines(analysis.result),
        (meter_table(analysis.result),),
        missing="No value is resolved.",
    )


def _circuit(analysis: Analysis) -> Section:
    title = "Equivalent circuit"
    circuit = circuit_of(analysis.result)
    if isinstance(circuit, str):
        return Section("circuit", title, missing=circuit)
    lead = "In bypass, as identified. What stands after ± covers 95 %."
    return Section(
        "circuit",
        title,
        (lead, circuit.note) if circuit.note else (lead,),
        pictures=(circuit_picture(analysis, circuit),),
    )


def _evidence(analysis: Analysis) -> Section:
    result = analysis.result
    known = "\n".join(evidence_lines(result))
    rows = [
        Row("Known from", known),
        Row("Consistent with", consistent_line(result)),
        Row("Would tell more", "\n".join(would_tell_lines(result))),
    ]
    expected = expected_lines(analysis.expected)
    if expected:
        text = "\n".join((expectation_sentence(analysis.expected), *expected))
        rows.append(Row("Expected", text))
    return Section(
        "evidence",
        "Evidence",
        tables=(limits_table(result), sources_table(result), other_table(analysis)),
        rows=tuple(rows),
        missing="Nothing was measured that speaks for or against.",
    )


def _power(analysis: Analysis) -> Section:
    lead = (without_power(analysis.result),) if analysis.result.path != "none" else ()
    return Section(
        "power",
        "Power and footswitch",
        lead,
        (power_table(analysis),),
        missing="There is no run with the pedal.",
    )


def _findings(analysis: Analysis) -> Section:
    lines = tuple(one_line(line) for line in finding_lines(told_elsewhere(analysis)))
    missing = "Nothing: every recording passed every check."
    rows = (again_row(analysis), Row("Noticed", "\n".join(lines)))
    tables = (refused_table(analysis),)
    return Section("findings", "Noticed while measuring", tables=tables, rows=rows, missing=missing)


def _not_tested(analysis: Analysis) -> Section:
    return Section("not-tested", "What was not tested", (not_tested_line(analysis.result),))


def _cautions() -> Section:
    rows = tuple(Row(word, text) for word, text in CAUTIONS)
    return Section("cautions", "Cautions", rows=rows)


def recordings_section(analysis: Analysis, *, private: bool) -> Section:
    """Fill files and hashes.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    private : bool
        Whether the names under which files were imported are shown.

    Returns
    -------
    Section
        One table.
    """
    return Section(
        "recordings",
        "Recordings",
        tables=(recordings_table(analysis, private=private),),
        missing="There are none.",
    )


def _joined(rows: list[Row]) -> tuple[Row, ...]:
    """Join rows without a heading to the one before: their lines belong to it."""
    joined: list[Row] = []
    for row in rows:
        if row.heading or not joined:
            joined.append(row)
        else:
            joined[-1] = Row(joined[-1].heading, f"{joined[-1].text}\n{row.text}")
    return tuple(joined)
