"""Every curve of an examination as files for other programs."""

from __future__ import annotations

from pathlib import Path

from loopback.errors import FolderError
from loopback.examination.atomic import write_new, write_over
from loopback.facts import Analysis
from loopback.report.curve_columns import curves_of
from loopback.report.document import facts_json
from loopback.report.run_names import run_name
from loopback.report.tables import curve_table, text_table
from loopback.report.touchstone import PORT_OHM, touchstone_text

_MEANINGS = {
    "insertion": "level and phase against the cable",
    "noise": "noise density while nothing is played",
    "noise-bands": "the same, mean of sixths of an octave",
    "tones": "single tones while nothing is played",
    "harmonics": "harmonics over the signal that makes them",
    "player": "what a player hears in bypass with a {} pickup, computed",
    "presses": "every press of the footswitch in silence",
    "press": "course of the highest press, effect {}",
    "matrix": "chain matrix of the pedal",
}


def export_texts(analysis: Analysis) -> dict[str, str]:
    """Write all curves as texts.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    dict of str to str
        Text by file name: every curve of `loopback.report.curve_columns.curves_of` as CSV,
        ``contents.csv``, which says what each of them is, ``facts.json``, and where there were
        two feeds and two loads ``matrix.s2p``.
    """
    texts = {f"{name}.csv": curve_table(c) for name, c in curves_of(analysis).items()}
    texts["contents.csv"] = _contents(analysis, texts)
    texts["facts.json"] = facts_json(analysis) + "\n"
    matrix = analysis.matrix
    if matrix is not None:
        runs = [f.run for f in analysis.pedal_runs if f.run.id in matrix.run_ids]
        comments = [
            f"{analysis.examination.pedal.name}, measured {analysis.examination.created}",
            *(f"run {run_name(run)}" for run in runs),
            "Port 1 is the pedal's input, port 2 its output.",
            f"{PORT_OHM:g} ohm is a reference of the numbers only; nothing had that value.",
        ]
        texts["matrix.s2p"] = touchstone_text(matrix.f_hz, matrix.m, comments)
    return texts


def _contents(analysis: Analysis, texts: dict[str, str]) -> str:
    """Say which file is what, so that a table can be read by somebody who has only the tables."""
    document = analysis.examination
    facts = (*analysis.references, *analysis.pedal_runs)
    runs = {f.run.id: run_name(f.run) for f in facts}
    rows = []
    for file in texts:
        name = file.removesuffix(".csv")
        kind = max((k for k in _MEANINGS if f"{name}-".startswith(f"{k}-")), key=len)
        run_id = name.removeprefix(kind).strip("-")
        run = runs.get(run_id, "")
        what = _MEANINGS[kind].format(run_id.replace("_", " "))
        rows.append((file, what, run_id if run else "", run, document.pedal.name, document.created))
    return text_table(("file", "what", "run", "hook-up", "pedal", "measured"), rows)


def write_exports(texts: dict[str, str], into: Path, *, replace: bool = False) -> tuple[Path, ...]:
    """Write them.

    Parameters
    ----------
    texts : dict of str to str
        Text by file name.
    into : Path
        Folder; made where it does not exist.
    replace : bool
        True replaces files of the same names.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    FolderError
        If a file of such a name exists and is not to be replaced: then nothing is written.
    """
    taken = [into / name for name in texts if (into / name).exists()]
    if taken and not replace:
        raise FolderError(
            f'"{taken[0]}" exists already.',
            "Files are not overwritten unless you say so.",
            "Add --replace, or name another folder with --into.",
        )
    into.mkdir(parents=True, exist_ok=True)
    write = write_over if replace else write_new
    for name, text in texts.items():
        write(into / name, [text.encode("utf-8")])
    return tuple(into / name for name in texts)
