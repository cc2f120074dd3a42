"""References that several pedals share: copied in, as long as they agree before and after."""

from __future__ import annotations

from loopback.errors import FolderError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Run
from loopback.quality.finding import refused
from loopback.quality.gates import judge_runs
from loopback.quality.read_run import read_run


def share_references(folder: ExaminationFolder, other: ExaminationFolder) -> tuple[str, ...]:
    """Copy the opening references of another pedal's examination.

    The references at the end are always made anew, and are compared with the shared ones.

    Parameters
    ----------
    folder : ExaminationFolder
        New, without runs with a pedal.
    other : ExaminationFolder
        Measured just before, with the same setup, leads and signal.

    Returns
    -------
    tuple of str
        Ids of the copies.

    Raises
    ------
    FolderError
        If the setup was another one, or the references there do not agree before and after.
    ArgumentError
        If the other one plays another signal.
    """
    name = other.path.name
    if folder.document.setup != other.document.setup:
        raise FolderError(
            f'"{name}" was measured with another setup.',
            "Its references belong to other leads, another interface or resistor.",
            "Leave --reference-of out: the references are then recorded here.",
        )
    runs = [run for run in other.document.counting_runs() if run.label.path == "coupler"]
    reads = [read_run(other, run) for run in runs]
    seen = [read.seen for read in reads if read.seen is not None]
    findings = [finding for read in reads for finding in read.findings]
    findings += judge_runs(runs, seen)
    moved = next((f for f in findings if f.code in ("gain_moved", "setup_moved")), None)
    usable = [item.run for item in seen if not refused(findings, item.run.id)]
    shared = [run for run in usable if _brackets(run, usable)]
    if moved is not None or not shared:
        found = (
            f'In "{name}" the references differ: {moved.number}.'
            if moved is not None
            else f'"{name}" has no references before and after its pedal.'
        )
        raise FolderError(
            found,
            "Nobody knows whether they still hold for the next pedal.",
            "Leave --reference-of out: the references are then recorded here.",
        )
    return tuple(folder.copy_run_from(other, run.id) for run in shared)


def _brackets(run: Run, usable: list[Run]) -> bool:
    """Whether it is an opening reference with a later one of the same leads."""
    label = run.label
    return label.mating == 0 and any(
        int(later.id) > int(run.id)
        and (later.label.feed, later.label.load, later.label.load_ohm, later.label.level_db)
        == (label.feed, label.load, label.load_ohm, label.level_db)
        for later in usable
    )
