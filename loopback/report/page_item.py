"""What was examined, when and with what: the head of the report."""

from __future__ import annotations

from loopback import __version__
from loopback.examination.described import PEDAL_WORDS
from loopback.examination.records import Examination, Setup
from loopback.facts import Analysis
from loopback.quantity import estimate_text, with_prefix
from loopback.report.absolute import levels_line
from loopback.report.dates import date_text
from loopback.report.identification import identification
from loopback.report.item_words import HEADINGS
from loopback.report.layout import Row
from loopback.texts import one_line, some_lines

_RIGS = {
    "device": "an audio interface",
    "files": "recordings made elsewhere and imported; the recorder is not known to this program",
    "simulator": "simulated: pedal, leads and interface are computed, no real pedal was measured",
}


def item_rows(analysis: Analysis, *, private: bool) -> tuple[Row, ...]:
    """Describe the pedal.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.
    private : bool
        Whether the private note is shown.

    Returns
    -------
    tuple of Row
        Without what was not filled in.
    """
    pedal = analysis.examination.pedal
    names = [name for name in ("name", *PEDAL_WORDS) if private or name != "private_note"]
    told = [(HEADINGS[name], getattr(pedal, name)) for name in names]
    rows = [Row(heading, some_lines(text)) for heading, text in told]
    return tuple(row for row in rows if row.text)


def report_rows(examination: Examination, issued: str) -> tuple[Row, ...]:
    """Name the report.

    Parameters
    ----------
    examination : Examination
        The document.
    issued : str
        When the page is made, ISO 8601.

    Returns
    -------
    tuple of Row
        Identification, dates, program.
    """
    return (
        Row("Identification", identification(examination)),
        Row("Measured", _days(examination)),
        Row("Page made", date_text(issued)),
        Row("Program", f"loopback {__version__}"),
    )


def setup_rows(analysis: Analysis) -> tuple[Row, ...]:
    """Describe conditions and setup.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    tuple of Row
        What is not known says so.
    """
    document, result = analysis.examination, analysis.result
    setup = document.setup
    name = one_line(setup.name)
    resistor = resistor_text(setup)
    resistor = f"{resistor}, at the {_resistor_end(document)}" if resistor else "none was used"
    rows = [
        Row("Recorded by", f"{name}: {_RIGS[setup.rig]}" if name else _RIGS[setup.rig]),
        Row("Resistor", resistor),
        Row(
            "Setup capacitance",
            ""
            if result.setup_c is None
            else f"{estimate_text(result.setup_c, 'F')}: return lead and input, as measured",
        ),
        Row("Levels", levels_line(document)),
        Row("Conditions", some_lines(document.conditions) or "not noted"),
        Row("Note on the setup", some_lines(setup.note)),
    ]
    return tuple(row for row in rows if row.text)


def resistor_text(setup: Setup) -> str:
    """Write the resistor of the resistor lead with its tolerance.

    Parameters
    ----------
    setup : Setup
        Of an examination.

    Returns
    -------
    str
        Such as ``"100.0 kΩ ± 1 %"``; empty without one.
    """
    if setup.resistor_ohm is None:
        return ""
    tolerance = setup.resistor_tolerance
    doubt = "" if tolerance is None else f" ± {100 * tolerance:g} %"
    return f"{with_prefix(setup.resistor_ohm, 'Ω', 4)}{doubt}"


def of_what(examination: Examination) -> str:
    """Say in one line what was measured and when.

    Parameters
    ----------
    examination : Examination
        The document.

    Returns
    -------
    str
        Maker, model, serial number, revision, as far as they are known; the days.
    """
    pedal = examination.pedal
    told = (
        pedal.maker,
        pedal.model,
        pedal.serial and f"serial number {pedal.serial}",
        pedal.revision and f"revision {pedal.revision}",
    )
    what = ", ".join(one_line(text, 80) for text in told if text)
    return f"{what}. {when(examination)}" if what else when(examination)


def when(examination: Examination) -> str:
    """Say when it was measured.

    Parameters
    ----------
    examination : Examination
        The document.

    Returns
    -------
    str
        One sentence.
    """
    return f"Measured {_days(examination)}."


def _resistor_end(document: Examination) -> str:
    ends = {run.label.resistor_end for run in document.runs if run.label.feed == "resistor"}
    if ends == {"interface"}:
        return "interface end of the lead"
    return "pedal end of the lead" if len(ends) < 2 else "pedal end or the interface end, by run"


def _days(examination: Examination) -> str:
    days = dict.fromkeys(date_text(r.made) for r in examination.recordings())
    listed = list(days) or [date_text(examination.created)]
    return listed[0] if len(listed) == 1 else f"{listed[0]} to {listed[-1]}"
