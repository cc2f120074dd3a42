"""Every curve of an examination as files for other programs."""

from __future__ import annotations

from pathlib import Path

from loopback.errors import FolderError
from loopback.examination.atomic import write_new, write_over
from loopback.facts import Analysis
from loopback.report.run_names import run_name
from loopback.report.tables import insertion_table, matrix_table, noise_table
from loopback.report.touchstone import PORT_OHM, touchstone_text


def export_texts(analysis: Analysis) -> dict[str, str]:
    """Write all curves as texts.

    Parameters
    ----------
    analysis : Analysis
        Of one examination.

    Returns
    -------
    dict of str to str
        Text by file name: ``insertion-RUN.csv``, ``noise-RUN.csv``, and where there were two feeds
        and two loads ``matrix.csv`` and ``matrix.s2p``.
    """
    texts: dict[str, str] = {}
    for facts in analysis.pedal_runs:
        if facts.ratio is not None:
            texts[f"insertion-{facts.run.id}.csv"] = insertion_table(facts.ratio)
    for facts in (*analysis.references, *analysis.pedal_runs):
        if text := noise_table(facts):
            texts[f"noise-{facts.run.id}.csv"] = text
    matrix = analysis.matrix
    if matrix is not None:
        texts["matrix.csv"] = matrix_table(matrix)
        runs = [f.run for f in analysis.pedal_runs if f.run.id in matrix.run_ids]
        comments = [
            f"{analysis.examination.pedal.name}, measured {analysis.examination.created}",
            *(f"run {run_name(run)}" for run in runs),
            "Port 1 is the pedal's input, port 2 its output.",
            f"{PORT_OHM:g} ohm is a reference of the numbers only; nothing had that value.",
        ]
        texts["matrix.s2p"] = touchstone_text(matrix.f_hz, matrix.m, comments)
    return texts


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
