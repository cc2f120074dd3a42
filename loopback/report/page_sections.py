"""The sections of the report, each from the facts and from the sentences of the screens."""

from __future__ import annotations

from loopback.examination.records import Examination
from loopback.facts import Analysis
from loopback.player.chain import Leads
from loopback.player.pickup import Amplifier
from loopback.player.sentences import assumptions, buffer_sentence, change_sentence
from loopback.report.behaviour_lines import own_rows
from loopback.report.cable_lines import cable_table, rest_line
from loopback.report.layout import Row
from loopback.report.numbers import finding_lines, number_blocks
from loopback.report.page_circuit import circuit_of
from loopback.report.page_evidence import limits_table, meter_table, other_table, sources_table
from loopback.report.page_pictures import circuit_picture
from loopback.report.page_records import Picture, Section, Table
from loopback.report.page_runs import power_table, recordings_table, runs_table
from loopback.report.page_words import CAUTIONS
from loopback.report.player_table import AUDIBLE, doubt_text, level_table
from loopback.report.press_lines import other_rows, pop_sentences, press_table
from loopback.report.run_names import fed_words
from loopback.report.tap_lines import tap_rows
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

_NO_PRESSES = "Nobody pressed while it was watched (loopback press FOLDER)."


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
        _insertion(analysis, pictures),
        _noise(analysis, pictures),
        _harmonics(analysis, pictures),
        _footswitch(analysis),
        _player(analysis, pictures),
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
        Section("numbers", "Every number", rows=rows, missing="None."),
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


def _insertion(analysis: Analysis, pictures: dict[str, Picture]) -> Section:
    head, *lines = cable_table(analysis)
    table = Table(
        "Level and treble in bypass", ("Lead", head[1].capitalize(), *head[2:]), tuple(lines)
    )
    rest = rest_line(analysis)
    return Section(
        "response",
        "Level against the cable",
        (f"{rest[0].upper()}{rest[1:]}.",) if rest else (),
        (table,),
        _of(pictures, "insertion", "zoom"),
        missing="No run can be compared with a reference.",
    )


def _noise(analysis: Analysis, pictures: dict[str, Picture]) -> Section:
    return Section(
        "noise",
        "Noise",
        pictures=_of(pictures, "noise"),
        rows=tuple(row for row in own_rows(analysis) if row.heading == "Tones"),
        missing="No silence was long and quiet enough to tell.",
    )


def _harmonics(analysis: Analysis, pictures: dict[str, Picture]) -> Section:
    return Section(
        "harmonics",
        "Harmonics",
        pictures=_of(pictures, "harmonics"),
        rows=tuple(row for row in own_rows(analysis) if row.heading != "Tones"),
        missing="No run shows any.",
    )


def _of(pictures: dict[str, Picture], *names: str) -> tuple[Picture, ...]:
    return tuple(pictures[name] for name in names if name in pictures)


def _footswitch(analysis: Analysis) -> Section:
    tables: list[Table] = []
    lead: list[str] = []
    rows: list[Row] = []
    figures = analysis.footswitch
    if figures is not None:
        lead.append(pop_sentences(figures))
        head, *lines = press_table(figures) or [("", "", "")]
        if lines:
            tables.append(Table("Median ± doubt, worst", ("Figure", *head[1:]), tuple(lines)))
        rows += other_rows(figures, _fed(analysis.examination))
    if analysis.taps is not None:
        rows += [Row(f"Tapped: {row.heading.lower()}", row.text) for row in tap_rows(analysis.taps)]
    return Section(
        "footswitch",
        "Footswitch and tapping",
        tuple(lead),
        tuple(tables),
        rows=tuple(rows),
        missing=_NO_PRESSES,
    )


def _player(analysis: Analysis, pictures: dict[str, Picture]) -> Section:
    found = analysis.player
    missing = "Not computed: it is not known what the pedal leaves on the line."
    if found is None:
        return Section("player", "What a player hears", missing=missing)
    head, *lines = level_table(found.changes)
    name = one_line(analysis.examination.pedal.name, 80)
    rows = [Row(c.pickup.name.capitalize(), change_sentence(c)) for c in found.changes]
    return Section(
        "player",
        "What a player hears",
        (assumptions(Leads(), Amplifier(), 1), buffer_sentence(found, [name])),
        (
            Table(
                f"Change of level in dB, {doubt_text(found.changes)}",
                ("Pickup, kHz", *(cell.strip() for cell in head[1:])),
                tuple(tuple(cell.strip() for cell in line) for line in lines),
            ),
        ),
        _of(pictures, "player"),
        (*rows, Row("To judge it", AUDIBLE)),
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
    worth = tuple(f for f in analysis.findings if f.grade != "good")
    lines = tuple(one_line(line) for line in finding_lines(worth))
    missing = "Nothing: every recording passed every check."
    rows = (Row("Noticed", "\n".join(lines)),) if lines else ()
    return Section("findings", "Noticed while measuring", rows=rows, missing=missing)


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


def _fed(examination: Examination) -> str:
    pressed = [
        run
        for run in examination.watched_runs()
        if any(recording.kind == "presses" for recording in run.recordings)
    ]
    return fed_words(pressed[-1].label) if pressed else "fed by the interface itself"


def _joined(rows: list[Row]) -> tuple[Row, ...]:
    """Join rows without a heading to the one before: their lines belong to it."""
    joined: list[Row] = []
    for row in rows:
        if row.heading or not joined:
            joined.append(row)
        else:
            joined[-1] = Row(joined[-1].heading, f"{joined[-1].text}\n{row.text}")
    return tuple(joined)
