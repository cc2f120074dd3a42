"""A comparison on the screen: two tables, differences, repeats, cautions; 80 columns."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.comparing.changes import Changes
from loopback.comparing.comparison import Comparison, Examined, Order
from loopback.comparing.sentences import (
    cautions_of,
    change_sentence,
    grade_words,
    pair_sentences,
    precision_sentence,
    result_change_sentences,
)
from loopback.comparing.summary import Quantity, Summary
from loopback.comparing.wording import PATH_WORDS, value_text
from loopback.report.dates import date_text
from loopback.report.layout import Row, lay_out, two_ends
from loopback.report.set_table import set_table
from loopback.texts import one_line

MOST_PAIRS = 6
"""More examinations than these are compared one by one only where all of it is asked for."""
_ORDERS = {
    "load": "lightest load first",
    "given": "as named",
    "name": "by name",
    "date": "by date",
}
_COLUMNS = (
    "Tip to sleeve, or input; ± covers 95 %. Level: plain lead, against the cable. "
    "20 kHz*: over 1 kHz, through the resistor."
)
_IN_LINE: tuple[Quantity, ...] = ("series",)
_AGAINST: tuple[Quantity, ...] = ("level_plain", "treble_resistor", "noise")
_ACROSS_R: tuple[Quantity, ...] = ("g", "g_input")
_ACROSS_C: tuple[Quantity, ...] = ("c", "c_input")


def comparison_screen(
    comparison: Comparison, *, signs: bool, order: Order = "load", every: bool = False
) -> str:
    """Write a comparison.

    Parameters
    ----------
    comparison : Comparison
        Of any number of examinations.
    signs : bool
        False writes Ω, ± and µ out.
    order : {"load", "given", "name", "date"}
        How the examinations were sorted, for the heading.
    every : bool
        True writes the differences of every examination, however many there are.

    Returns
    -------
    str
        Lines of at most 80 columns, but for words that are longer themselves.
    """
    count = len(comparison.examined)
    head = two_ends(
        f"{count} EXAMINATION{'' if count == 1 else 'S'} in bypass", _ORDERS[order], signs=signs
    )
    parts = [head]
    if comparison.examined:
        parts += [
            set_table(_values(comparison), signs=signs),
            set_table(_against(comparison), signs=signs),
        ]
    rows = [*_pair_rows(comparison, every), *_repeat_rows(comparison)]
    if comparison.examined:
        measured = Row("Measured", "\n".join(_measured(comparison)))
        rows = [Row("Columns", _COLUMNS), measured, *rows]
    rows += [Row("Note", "\n".join(cautions_of(comparison)))]
    rows += [Row("Not compared", "\n".join(_left_out(comparison)))]
    parts.append(lay_out(rows, signs=signs))
    return "\n\n".join(part for part in parts if part)


def changes_screen(comparison: Comparison, changes: Changes, *, signs: bool) -> str:
    """Write what a repair changed.

    Parameters
    ----------
    comparison : Comparison
        Of the two examinations, for its cautions.
    changes : Changes
        Before and after.
    signs : bool
        False writes Ω, ± and µ out.

    Returns
    -------
    str
        One sentence for each quantity, changed ones first.
    """
    before, after = changes.before, changes.after
    name = one_line(after.pedal.name, 40).upper() or "NO NAME"
    days = " and ".join(dict.fromkeys(date_text(s.created) for s in (before, after)))
    head = two_ends(f"{name} before and after", days, signs=signs)
    told = [c for c in changes.changes if c.outcome != "not_told"]
    rest = [c for c in changes.changes if c.outcome == "not_told"]
    rows = [
        Row("Result", "\n".join(result_change_sentences(changes))),
        Row("Changed", "\n".join(change_sentence(c) for c in told) or "Nothing beyond doubt."),
        Row("Not changed", "\n".join(change_sentence(c) for c in rest)),
        Row("Note", "\n".join(cautions_of(comparison))),
    ]
    return f"{head}\n{lay_out(rows, signs=signs)}"


def quantity_text(summary: Summary, names: Sequence[Quantity]) -> str:
    """Write the first of several quantities that was measured.

    Parameters
    ----------
    summary : Summary
        Of one examination.
    names : sequence of str
        In the order in which they are looked for.

    Returns
    -------
    str
        With what covers 95 %; where there is none, what the meter lines say; else a dash.
    """
    for name in names:
        estimate = summary.estimate(name)
        if estimate is not None:
            return value_text(name, estimate)
    return "–"


def level_text(summary: Summary, name: Quantity) -> str:
    """Write a level for a column whose head says that it is in decibels.

    Parameters
    ----------
    summary : Summary
        Of one examination.
    name : str
        Which level.

    Returns
    -------
    str
        ``-0.74 ± 0.01``, ``within 0.006``, or a dash.
    """
    shown = quantity_text(summary, (name,))
    return shown.replace("0 dB within", "within").replace(" dB", "")


def meter_text(summary: Summary, what: str, sign: str) -> str:
    """Write what stands in the meter lines, such as a bound from plain runs alone.

    Parameters
    ----------
    summary : Summary
        Of one examination.
    what : str
        Beginning of the line.
    sign : str
        Sign of the unit that it must contain.

    Returns
    -------
    str
        A dash where no line says it.
    """
    for line in summary.meter:
        if line.what == what and (sign in line.value or line.value == "a winding"):
            return line.value
    return "–"


def row_of(examined: Examined) -> tuple[str, str, str, str]:
    """Write bypass, capacitance, resistance and in to out of one examination.

    Parameters
    ----------
    examined : Examined
        One of a comparison.

    Returns
    -------
    tuple of str
        Input values stand for those of the line where the path is active.
    """
    summary = examined.summary
    c = quantity_text(summary, _ACROSS_C)
    r = quantity_text(summary, _ACROSS_R)
    ohm = quantity_text(summary, _IN_LINE)
    return (
        PATH_WORDS[summary.path],
        c if c != "–" else meter_text(summary, "tip to sleeve", "F"),
        r if r != "–" else meter_text(summary, "tip to sleeve", "Ω"),
        ohm if ohm != "–" else meter_text(summary, "in to out", "Ω"),
    )


def _values(comparison: Comparison) -> list[list[str]]:
    """Table the names with three values, so that a name has room for some 25 letters."""
    head = ["", "pedal", "bypass", "capacitance", "resistance"]
    return [head, *([str(e.number), e.name, *row_of(e)[:3]] for e in comparison.examined)]


def _against(comparison: Comparison) -> list[list[str]]:
    lines = [["", "load", "in to out", "level, dB", "20 kHz*, dB", "noise, dB"]]
    for e in comparison.examined:
        levels = (level_text(e.summary, name) for name in _AGAINST)
        lines.append([str(e.number), grade_words(e.summary), row_of(e)[3], *levels])
    return lines


def _measured(comparison: Comparison) -> list[str]:
    """Say which were measured on which day, and with which setup where there are several."""
    several = len({e.setup for e in comparison.examined}) > 1
    groups: dict[str, list[str]] = {}
    for e in comparison.examined:
        setup = f", setup {e.setup}" if several else ""
        groups.setdefault(f"{date_text(e.summary.created)}{setup}", []).append(str(e.number))
    if len(groups) == 1 and len(comparison.examined) > 1:
        return [f"All on {next(iter(groups))}."]
    return [f"{when}: {', '.join(numbers)}" for when, numbers in groups.items()]


def _pair_rows(comparison: Comparison, every: bool) -> list[Row]:
    pairs = comparison.pairs
    if not pairs:
        return []
    if len(pairs) > MOST_PAIRS and not every:
        return [Row("Differences", f"{len(pairs)} examinations against number 1: --all.")]
    rows = []
    for pair in pairs:
        heading = f"{pair.second.number} less {pair.first.number}"
        rows.append(Row(heading, "\n".join(pair_sentences(pair))))
    return rows


def _repeat_rows(comparison: Comparison) -> list[Row]:
    rows = []
    for repeat in comparison.repeats:
        numbers = ", ".join(str(n) for n in repeat.numbers)
        lines = [f"{repeat.name}, examinations {numbers}:"]
        lines += [precision_sentence(quantity, found) for quantity, found in repeat.precisions]
        rows.append(Row("Repeated", "\n".join(lines)))
    return rows


def _left_out(comparison: Comparison) -> list[str]:
    return [f"{one_line(str(gone.folder))}: {gone.reason}" for gone in comparison.left_out]
