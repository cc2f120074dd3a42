"""Sections with pictures: response, noise, harmonics, footswitch, and what a player hears."""

from __future__ import annotations

from loopback.examination.records import Examination
from loopback.facts import Analysis
from loopback.player.chain import Leads
from loopback.player.pickup import Amplifier
from loopback.player.sentences import assumptions, buffer_sentence, change_sentence
from loopback.report.behaviour_lines import own_rows
from loopback.report.cable_lines import cable_table, rest_line
from loopback.report.layout import Row
from loopback.report.page_behaviour import harmonics_table, noise_table
from loopback.report.page_records import Picture, Section, Table
from loopback.report.player_table import AUDIBLE, doubt_text, level_table
from loopback.report.press_lines import other_rows, pop_sentences, press_table
from loopback.report.run_names import fed_words
from loopback.report.tap_lines import tap_rows
from loopback.texts import one_line

_NO_PRESSES = "Nobody pressed while it was watched (loopback press FOLDER)."
PLACES = {
    "response": ("insertion", "zoom"),
    "noise": ("noise",),
    "harmonics": ("harmonics",),
    "footswitch": ("presses",),
    "player": ("player",),
}
"""Which pictures stand in which section."""


def measured_sections(analysis: Analysis, pictures: dict[str, Picture]) -> tuple[Section, ...]:
    """Fill what was measured, each with its pictures.

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
        _insertion(analysis, pictures),
        _noise(analysis, pictures),
        _harmonics(analysis, pictures),
        _footswitch(analysis, pictures),
        _player(analysis, pictures),
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
        _of(pictures, "response"),
        missing="No run can be compared with a reference.",
    )


def _noise(analysis: Analysis, pictures: dict[str, Picture]) -> Section:
    return Section(
        "noise",
        "Noise",
        tables=(noise_table(analysis),),
        pictures=_of(pictures, "noise"),
        rows=tuple(row for row in own_rows(analysis) if row.heading == "Tones"),
        missing="No silence was long and quiet enough to tell.",
    )


def _harmonics(analysis: Analysis, pictures: dict[str, Picture]) -> Section:
    return Section(
        "harmonics",
        "Harmonics",
        tables=(harmonics_table(analysis),),
        pictures=_of(pictures, "harmonics"),
        rows=tuple(row for row in own_rows(analysis) if row.heading != "Tones"),
        missing="No run shows any.",
    )


def _of(pictures: dict[str, Picture], anchor: str) -> tuple[Picture, ...]:
    return tuple(pictures[name] for name in PLACES[anchor] if name in pictures)


def _footswitch(analysis: Analysis, pictures: dict[str, Picture]) -> Section:
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
        _of(pictures, "footswitch"),
        tuple(rows),
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


def _fed(examination: Examination) -> str:
    pressed = [
        run
        for run in examination.watched_runs()
        if any(recording.kind == "presses" for recording in run.recordings)
    ]
    return fed_words(pressed[-1].label) if pressed else "fed by the interface itself"
