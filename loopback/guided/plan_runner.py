"""Play a whole plan through a rig that needs no hands, and keep every recording at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import cast

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Run
from loopback.plan.plans import Plan, PlanStep, TableFacts, label_for, signal_for
from loopback.plan.runs import Position
from loopback.rig.protocol import Rig, RunRequest

RunDone = Callable[[int, Run], None]
"""Called with the number of the step and the run as recorded."""


def play_plan(
    folder: ExaminationFolder,
    rig: Rig,
    plan: Plan,
    facts: TableFacts,
    done: RunDone = lambda _number, _run: None,
) -> None:
    """Play all runs of a plan into a folder.

    Which position is bypass is found from the runs made so far, when a step first needs it; where
    they do not tell, the position as found is taken.

    Parameters
    ----------
    folder : ExaminationFolder
        Gets each recording as soon as it is complete.
    rig : Rig
        Plays.
    plan : Plan
        Which runs.
    facts : TableFacts
        Resistor, and what else is known.
    done : callable
        Told about each run.
    """
    table = rig.facts()
    channels = (table.path_channel, table.check_channel)
    for number, step in enumerate(plan.steps, start=1):
        if facts.bypass is None and _needs_bypass(step):
            facts = replace(facts, bypass=_bypass_of(folder.path))
        label = label_for(step, facts)
        signal = signal_for(label, folder.document.signal)
        run_id = ""
        for recorded in rig.play(RunRequest(label, signal, step.takes, step.silence_s)):
            if run_id:
                folder.append_recording(run_id, recorded, "", *channels)
            else:
                run_id, _ = folder.append_run_with(label, recorded, "", *channels)
        done(number, folder.document.run(run_id))


def _needs_bypass(step: PlanStep) -> bool:
    return step.label.path == "pedal" and step.label.position is None


def _bypass_of(path: Path) -> Position:
    found = analyse(path).result.bypass_position
    return cast(Position, found) if found is not None else "a"
