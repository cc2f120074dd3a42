"""From setup file, folder and command line to a sitting that can begin."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from loopback.cli.folders import pasted
from loopback.cli.measure_table import Table, rig_of, table_of
from loopback.cli.measure_target import Target, find_target, new_path, plan_of
from loopback.cli.screen import Screen
from loopback.errors import ArgumentError, LoopbackError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.examination.reference_record import (
    FILE_NAME,
    add_sitting,
    read_reference_record,
    write_record,
)
from loopback.examination.setup_record import SetupRecord
from loopback.guided.looking import Onlooker
from loopback.guided.sharing import share_references
from loopback.plan.drawing import Sockets
from loopback.plan.guide_state import GuideState, again, begin, resume
from loopback.plan.plans import PLANS, Plan, TableFacts, playing_s, without_footswitch
from loopback.rig.protocol import Rig
from loopback.signal.take import Signal

if TYPE_CHECKING:
    from loopback.facts import Analysis


@dataclass(frozen=True, slots=True)
class Sitting:
    """Everything that a measurement needs.

    Parameters
    ----------
    path : Path
        Folder.
    folder : ExaminationFolder
        The same, open.
    rig : Rig
        Plays.
    state : GuideState
        How far it has come.
    onlooker : Onlooker
        Of that folder.
    opening : str
        What is said before the first run.
    follow : str
        What later commands need besides the folder.
    unplugged : str
        Folder of the unplugged run of setting up; empty: there is none.
    references : Path or None
        Record of what the setup's references show; None: no setup file stands behind it.
    """

    path: Path
    folder: ExaminationFolder
    rig: Rig
    state: GuideState
    onlooker: Onlooker
    opening: str
    follow: str
    unplugged: str
    references: Path | None


def prepare(screen: Screen, pedal: str, said: dict[str, Any]) -> Sitting:
    """Open or make the folder of a pedal, and find out how far it has come.

    Parameters
    ----------
    screen : Screen
        For the level meter.
    pedal : str
        Name of the pedal, or a folder.
    said : dict
        Options of the command; `plan` is None where it was not given.

    Returns
    -------
    Sitting
        Ready to begin.

    Raises
    ------
    LoopbackError
        If something is missing or does not fit; no folder is made then.
    """
    target = find_target(pedal)
    table = table_of(said)
    if said["again"] is not None and target.there is None:
        raise ArgumentError(f'There is no folder of "{pedal}" yet.', "", "Leave --again out.")
    plan = _plan(target, said)
    start = begin(plan, pedal, _facts(table.record, plan), _sockets(table.record))
    if target.there is not None:
        sitting = _gone_on(screen, target, table, start, said)
        if sitting is not None:
            return sitting
        target = Target(new_path(pedal), None, False)
    return _begun(screen, target.path, table, start, said)


def _gone_on(
    screen: Screen, target: Target, table: Table, start: GuideState, said: dict[str, Any]
) -> Sitting | None:
    """Go on in a folder; None when it is complete and only the pedal was named."""
    folder = target.there
    if folder is None:
        return None
    name, shown = folder.document.pedal.name, pasted(target.path)
    onlooker = Onlooker(folder)
    state = resume(replace(start, pedal=name), onlooker.summaries())
    if said["again"] is not None:
        state = again(state, said["again"])
    elif not state.open and all(run is not None for run in state.kept):
        if not target.named:
            return None
        raise ArgumentError(
            f"{shown} has all its runs.",
            "",
            f"Make one of them again: loopback measure {shown} --again 03",
        )
    if folder.document.signal != table.signal:
        raise ArgumentError(
            f"{shown} was begun with another signal than this setup has.",
            "Runs with different signals cannot be compared.",
            "Give it the rate, seconds and level it was begun with, or another name.",
        )
    left = sum(run is None for run in state.kept) + len(state.open)
    what = f"run {said['again']} again" if said["again"] else f"{left} runs to go"
    opening = f"{name}: {state.plan.name.replace('_', ' ')} plan, {what}, in {shown}"
    rig = rig_of(screen, table, len(folder.document.runs))
    return Sitting(
        target.path, folder, rig, state, onlooker, opening, _follow(said),
        table.record.recordings, table.references,
    )  # fmt: skip


def _begun(
    screen: Screen, path: Path, table: Table, start: GuideState, said: dict[str, Any]
) -> Sitting:
    """Make a new folder, and carry in what other folders share with it."""
    record, plan = table.record, start.plan
    rig = rig_of(screen, table, 0)
    facts = rig.facts()
    with_resistor = plan.name != "no_resistor"
    access = getattr(rig, "access", "")
    setup = Setup(
        facts.kind,
        facts.name if facts.kind == "device" else "",
        record.resistor_ohm if with_resistor else None,
        record.resistor_tolerance if with_resistor else None,
        facts.full_scale_dbu if record.full_scale_dbu is None else record.full_scale_dbu,
        f"plan {plan.name}. {access}".strip(),
    )
    other = said["reference_of"]
    shared = ExaminationFolder.open(other) if other is not None else None
    about = Pedal(
        start.pedal,
        mode=said["mode"],
        claim=said["claim"],
        note=said["note"] or (f"simulated: {facts.name}" if facts.kind == "simulator" else ""),
    )
    learned = () if table.references is None else read_reference_record(table.references).sittings
    folder = ExaminationFolder.create(path, about, setup, table.signal)
    write_record(folder.path / FILE_NAME, learned)
    said_first = (
        f"{start.pedal}: {plan.name.replace('_', ' ')} plan, {len(plan.steps)} runs, about"
        f" {_minutes(plan, table.signal)} minutes. Stop with Ctrl-C any time; the same command"
        f" goes on where you stopped. Recordings go to {pasted(path)}"
    )
    lines = textwrap.wrap(said_first, 80, break_long_words=False, break_on_hyphens=False)
    if table.simulated is not None:
        lines.append(f"The pedal is simulated ({table.simulated.pedal}).")
    if shared is not None:
        ids = share_references(folder, shared)
        lines.append(f"References shared with {shared.path.name}: {len(ids)} copied.")
    onlooker = Onlooker(folder)
    state = resume(start, onlooker.summaries())
    return Sitting(
        path, folder, rig, state, onlooker, "\n".join(lines), _follow(said),
        record.recordings, table.references,
    )  # fmt: skip


def carry_in_unplugged(sitting: Sitting) -> str:
    """Copy the unplugged run of setting up into a complete examination.

    Parameters
    ----------
    sitting : Sitting
        Complete; so the numbers of the runs before it are those of the plan.

    Returns
    -------
    str
        Why it was not done; empty when it was, or when there is none.
    """
    folder = sitting.folder
    if not sitting.unplugged or any(run.label.path == "unplugged" for run in folder.document.runs):
        return ""
    try:
        there = ExaminationFolder.open(Path(sitting.unplugged))
        for run in there.document.runs:
            folder.copy_run_from(there, run.id)
    except LoopbackError as error:
        return f"The unplugged run of setup is not carried in: {error.found}"
    return ""


def keep_sitting(sitting: Sitting, analysis: Analysis) -> str:
    """Add what the references of a complete examination show to the record of its setup.

    Parameters
    ----------
    sitting : Sitting
        Complete.
    analysis : Analysis
        Of its folder.

    Returns
    -------
    str
        Why it was not done; empty when it was, or when there is nothing to add or no setup file.
    """
    if sitting.references is None or analysis.sitting is None:
        return ""
    try:
        add_sitting(sitting.references, analysis.sitting)
    except LoopbackError as error:
        return f"What the references show is not added to the setup's record: {error.found}"
    return ""


def _plan(target: Target, said: dict[str, Any]) -> Plan:
    name = said["plan"] or ("no_resistor" if said["no_resistor"] else None)
    begun = plan_of(target.there) if target.there is not None else None
    plan = next(p for p in PLANS.values() if p.name == (name or begun or "standard"))
    return without_footswitch(plan) if said["no_footswitch"] else plan


def _facts(record: SetupRecord, plan: Plan) -> TableFacts:
    if plan.name != "no_resistor" and record.resistor_ohm is None:
        raise click.UsageError(
            "setup.toml knows no resistor lead: add --resistor 100k, or --no-resistor."
        )
    steps = [step for step in plan.steps if step.label.path == "pedal"]
    no_switch = all(step.label.position == "none" for step in steps)
    return TableFacts(
        bypass="none" if no_switch else None,
        resistor_ohm=record.resistor_ohm,
        resistor_tolerance=record.resistor_tolerance,
        resistor_end=record.resistor_end,
    )


def _sockets(record: SetupRecord) -> Sockets:
    return Sockets(record.output, record.input)


def _minutes(plan: Plan, signal: Signal) -> int:
    """Playing, and half a minute for the hands where something is to be plugged."""
    leads = [(step.label.path, step.label.feed, step.label.load) for step in plan.steps]
    moves = 1 + sum(one != other for one, other in pairwise(leads))
    return max(1, round((playing_s(plan, signal) + 20 * moves) / 60))


def _follow(said: dict[str, Any]) -> str:
    return f" --simulate {pasted(Path(said['simulate']))}" if said["simulate"] else ""
