"""A whole examination of a simulated pedal, from the empty folder to the last recording."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.guided.plan_runner import play_plan
from loopback.plan.plans import PLANS, PlanName, TableFacts, without_footswitch
from loopback.plan.runs import Position
from loopback.rig.simulated import simulated_rig
from loopback.signal.take import plan_signal

RESISTOR_OHM, RESISTOR_TOLERANCE = 100e3, 0.01


@dataclass(frozen=True, slots=True)
class SimulatedSitting:
    """What stands on the simulated table, and how it is gone through.

    Sweeps and silences are shorter than a bench would have them, to be quick.

    Parameters
    ----------
    circuit : str or Path
        Name of a simulated pedal, or the path of a pedal file.
    plan : {"quick", "standard", "full", "no_resistor"}
        Which runs.
    rate_hz : int
        Sample rate.
    sweep_s, silence_s : float
        Length of each sweep, and the most that a long silence may take, seconds.
    seed : int
        Of everything random.
    bypass : {"a", "b", "none"} or None
        Which position is bypass; None: found from the runs as they come.
    check_cable : bool
        Whether output 2 is joined to input 2.
    mistakes : iterable of str
        What the simulated hands do wrong, such as ``"coupler-left-in:2"``.
    """

    circuit: str | Path
    plan: PlanName = "standard"
    rate_hz: int = 48_000
    sweep_s: float = 2.0
    silence_s: float = 2.0
    seed: int = 1
    bypass: Position | None = None
    check_cable: bool = False
    mistakes: Iterable[str] = ()

    def play_into(self, path: Path, pedal: Pedal) -> ExaminationFolder:
        """Play all runs of the plan into a new folder.

        Parameters
        ----------
        path : Path
            Folder to make.
        pedal : Pedal
            What it is called, and what else is written about it.

        Returns
        -------
        ExaminationFolder
            Complete, ready to be analysed.
        """
        rig = simulated_rig(
            self.circuit, self.seed, check_cable=self.check_cable, mistakes=self.mistakes
        )
        plan = PLANS[self.plan]
        steps = (
            replace(step, silence_s=min(step.silence_s, self.silence_s)) for step in plan.steps
        )
        plan = replace(plan, steps=tuple(steps))
        if self.bypass == "none":
            plan = without_footswitch(plan)
        facts = TableFacts(bypass=self.bypass)
        if self.plan != "no_resistor":
            facts = replace(facts, resistor_ohm=RESISTOR_OHM, resistor_tolerance=RESISTOR_TOLERANCE)
        setup = Setup(
            "simulator",
            resistor_ohm=facts.resistor_ohm,
            resistor_tolerance=facts.resistor_tolerance,
            full_scale_dbu=rig.facts().full_scale_dbu,
        )
        signal = plan_signal(self.rate_hz, self.sweep_s)
        folder = ExaminationFolder.create(path, pedal, setup, signal)
        play_plan(folder, rig, plan, facts)
        return folder
