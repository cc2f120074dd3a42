"""A comparison as one page that stands by itself."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Literal

from loopback import __version__
from loopback.comparing.changes import Changes
from loopback.comparing.comparison import Comparison, Examined
from loopback.comparing.sentences import (
    cautions_of,
    change_sentence,
    grade_words,
    pair_sentences,
    precision_sentence,
    result_change_sentences,
)
from loopback.comparing.summary import Quantity
from loopback.errors import FolderError
from loopback.examination.atomic import write_new, write_over
from loopback.facts import Analysis
from loopback.report.compare_lines import level_text, row_of
from loopback.report.dates import date_text
from loopback.report.figures.curves import Sheet
from loopback.report.figures.frame import Look
from loopback.report.figures.levels import draw_insertion, draw_zoom
from loopback.report.figures.svg import in_theme, svg_text
from loopback.report.figures.writing import Figure
from loopback.report.layout import Row
from loopback.report.overlay_source import MOST_CURVES, overlay_sheet
from loopback.report.page import render
from loopback.report.page_records import Picture, Section, Table
from loopback.texts import one_line

_MOST_PAIRS = 12
"""More pairs would make a page that nobody reads; all of them are in the JSON."""
_AGAINST: dict[Quantity, str] = {
    "level_plain": "Level, plain",
    "treble_plain": "20 kHz, plain",
    "level_resistor": "Level, resistor",
    "treble_resistor": "20 kHz, resistor",
    "noise": "Noise",
}
_PICTURES: tuple[tuple[str, Literal["plain", "resistor"], Callable[[Sheet, Look], Figure]], ...] = (
    ("resistor", "resistor", draw_insertion),
    ("resistor-zoom", "resistor", draw_zoom),
    ("plain-zoom", "plain", draw_zoom),
)
"""With the plain lead all lie on top of each other but in a zoom."""
_SCOPE = (
    "What stands after ± covers 95 %. Each examination is of one unit on one day. A difference "
    "that was not told may still exist: it is no larger than the bound that stands there."
)


def comparison_page(
    comparison: Comparison, drawn: Sequence[tuple[str, Analysis]], changes: Changes | None = None
) -> str:
    """Write the page.

    Parameters
    ----------
    comparison : Comparison
        Of any number of examinations.
    drawn : sequence of (str, Analysis)
        Those whose curves are shown, and what they are called there.
    changes : Changes or None
        Of a repair.

    Returns
    -------
    str
        HTML with everything in it: no script, nothing from outside.
    """
    if changes is None:
        sections = [_list(comparison), _pictures(comparison, drawn)]
        sections += [_pairs(comparison), _repeats(comparison)]
    else:
        sections = [_repair(changes), _pictures(comparison, drawn)]
    sections += [_conditions(comparison), _left_out(comparison)]
    names = [e.name for e in comparison.examined]
    if changes is not None:
        title = f"{names[-1]}: before and after"
    elif len(names) > 2:
        title = f"{len(names)} examinations compared"
    else:
        title = " and ".join(names) or "Nothing to compare"
    return render(
        "compare.html.j2",
        program=__version__,
        title=title,
        simulated=any(e.summary.leads.rig == "simulator" for e in comparison.examined),
        scope=_SCOPE,
        sections=[one for one in sections if _has_something(one)],
    )


def write_page(
    path: Path,
    comparison: Comparison,
    drawn: Sequence[tuple[str, Analysis]],
    changes: Changes | None = None,
    *,
    replace: bool = False,
) -> None:
    """Write the page to a file.

    Parameters
    ----------
    path : Path
        The file; its folder exists.
    comparison, drawn, changes
        See `comparison_page`.
    replace : bool
        True replaces a file of that name.

    Raises
    ------
    FolderError
        If such a file exists and is not to be replaced, or it cannot be written.
    """
    if path.exists() and not replace:
        raise FolderError(
            f'"{path}" exists already.',
            "Pages are not overwritten unless you say so.",
            "Add --replace, or choose another name.",
        )
    text = comparison_page(comparison, drawn, changes)
    write = write_over if replace else write_new
    write(path, [text.encode("utf-8")])


def _has_something(section: Section) -> bool:
    return bool(section.lead or section.pictures or section.rows or _lines(section.tables))


def _lines(tables: Sequence[Table]) -> bool:
    return any(table.lines for table in tables)


def _repair(changes: Changes) -> Section:
    told = [c for c in changes.changes if c.outcome != "not_told"]
    rest = [c for c in changes.changes if c.outcome == "not_told"]
    return Section(
        "changes",
        "What changed",
        rows=(
            Row("Result", "\n".join(result_change_sentences(changes))),
            Row("Changed", "\n".join(map(change_sentence, told)) or "Nothing beyond doubt."),
            Row("Not changed", "\n".join(map(change_sentence, rest))),
        ),
    )


def _list(comparison: Comparison) -> Section:
    several = len({e.setup for e in comparison.examined}) > 1
    values = Table(
        "In bypass. Capacitance and resistance: tip to sleeve, or of the input of an active path.",
        ("No.", "Pedal", "Bypass", "Load", "Capacitance", "Resistance", "In to out"),
        tuple(_values(e) for e in comparison.examined),
    )
    against = Table(
        "Against the cable, dB: level from 200 Hz to 2 kHz with either lead; 20 kHz over 1 kHz; "
        "noise, A-weighted.",
        ("No.", *_AGAINST.values(), "Measured", "Setup"),
        tuple(_against(e, several) for e in comparison.examined),
    )
    return Section("list", "Examinations", tables=(values, against))


def _values(e: Examined) -> tuple[str, ...]:
    path, *values = row_of(e)
    return (str(e.number), e.name, path, grade_words(e.summary), *map(_unbroken, values))


def _against(e: Examined, several: bool) -> tuple[str, ...]:
    levels = (level_text(e.summary, name) for name in _AGAINST)
    setup = str(e.setup) if several else ""
    return (str(e.number), *map(_unbroken, levels), _unbroken(date_text(e.summary.created)), setup)


def _unbroken(text: str) -> str:
    """Keep a number, its unit and its doubt on one line."""
    return text.replace(" ", "\u00a0")


def _pictures(comparison: Comparison, drawn: Sequence[tuple[str, Analysis]]) -> Section:
    pictures: list[Picture] = []
    for name, feed, draw in _PICTURES:
        sheet = overlay_sheet(drawn, feed, near=draw is draw_zoom)
        if sheet.curves:
            svg = svg_text(draw(sheet, Look()), sheet.title, prefix=f"{name}-")
            pictures.append(Picture(f"picture-{name}", in_theme(svg, "auto", prefix=f"{name}-")))
    lead: tuple[str, ...] = ()
    if len(comparison.examined) > len(drawn) and drawn:
        lead = (f"The first {len(drawn)} of the list are drawn.",)
    return Section("pictures", "Against the cable", lead=lead, pictures=tuple(pictures))


def _pairs(comparison: Comparison) -> Section:
    rows = tuple(
        Row(f"{pair.second.number} less {pair.first.number}", "\n".join(pair_sentences(pair)))
        for pair in comparison.pairs[:_MOST_PAIRS]
    )
    more = len(comparison.pairs) - len(rows)
    lead = (f"{more} more are in the JSON facts.",) if more else ()
    return Section("differences", "Differences", lead=lead, rows=rows)


def _repeats(comparison: Comparison) -> Section:
    rows = tuple(
        Row(
            f"{one.name}, {', '.join(str(n) for n in one.numbers)}",
            "\n".join(precision_sentence(quantity, found) for quantity, found in one.precisions),
        )
        for one in comparison.repeats
    )
    return Section("repeats", "Repeated examinations", rows=rows)


def _conditions(comparison: Comparison) -> Section:
    lines = tuple(
        (
            str(e.number),
            e.name,
            one_line(str(e.folder)),
            date_text(e.summary.created),
            one_line(e.summary.leads.name or e.summary.leads.rig),
            f"{e.summary.rate_hz} Hz",
            f"{e.summary.usable} of {e.summary.runs}",
        )
        for e in comparison.examined
    )
    table = Table(
        "", ("No.", "Pedal", "Folder", "Measured", "Interface", "Sample rate", "Usable runs"), lines
    )
    return Section(
        "conditions", "To be kept in mind", lead=cautions_of(comparison), tables=(table,)
    )


def _left_out(comparison: Comparison) -> Section:
    rows = tuple(Row(one_line(str(o.folder)), o.reason) for o in comparison.left_out)
    return Section("left-out", "Not compared", rows=rows)


def drawn_of(comparison: Comparison) -> tuple[Examined, ...]:
    """Choose the examinations whose curves are drawn.

    Parameters
    ----------
    comparison : Comparison
        Of any number of examinations.

    Returns
    -------
    tuple of Examined
        The first of the list, as many as have a colour of their own.
    """
    return comparison.examined[:MOST_CURVES]


def named(examined: Examined) -> str:
    """Name an examination beside its curve: number and name.

    Parameters
    ----------
    examined : Examined
        One of a comparison.

    Returns
    -------
    str
        Short.
    """
    return one_line(f"{examined.number} {examined.name}", 40)
