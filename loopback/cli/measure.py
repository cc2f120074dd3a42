"""``loopback measure``: a whole plan with one pedal."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.folders import folder_name, free_folder, pasted
from loopback.cli.options import OHM, RATE, TOLERANCE, Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import STOPPED, screen_of
from loopback.cli.show import show_result
from loopback.errors import RigError


@click.command(
    "measure",
    cls=Verb,
    examples=(
        'loopback measure "Quarry Lamp" --simulate quarry-lamp',
        'loopback measure "Quarry Lamp" --simulate quarry-lamp --plan quick --rate 48k',
    ),
)
@click.argument("pedal")
@click.option("--simulate", metavar="NAME", help="Simulated pedal, or the path of a pedal file.")
@click.option(
    "--plan",
    type=click.Choice(["quick", "standard", "full"]),
    default="standard",
    show_default=True,
    help="quick: resistor lead only. standard: both leads. full: load plug, reversed, more.",
)
@click.option("--no-resistor", is_flag=True, help="Plain lead only: says what it cannot tell.")
@click.option("--no-footswitch", is_flag=True, help="The pedal has none.")
@click.option("--check-cable", is_flag=True, help="Output 2 is joined to input 2.")
@click.option("--rate", type=RATE, default="96k", show_default=True, help="Sample rate.")
@click.option("--seconds", type=float, default=4.0, show_default=True, help="Of each sweep.")
@click.option("--level", type=float, default=-12.0, show_default=True, help="Peak, dBFS.")
@click.option("--ceiling", type=float, default=-12.0, show_default=True, help="Highest level.")
@click.option("--resistor", type=OHM, default="100k", show_default=True, help="Resistor lead.")
@click.option("--tolerance", type=TOLERANCE, default="1%", show_default=True, help="Of it.")
@click.option("--seed", type=int, default=1, show_default=True, help="Of the simulated noise.")
@click.option("--yes", is_flag=True, help="Ask nothing.")
@common
@click.pass_context
def command(
    context: click.Context,
    /,
    pedal: str,
    simulate: str | None,
    plan: str,
    no_resistor: bool,
    no_footswitch: bool,
    check_cable: bool,
    rate: float,
    seconds: float,
    level: float,
    ceiling: float,
    resistor: float,
    tolerance: float,
    seed: int,
    yes: bool,
) -> None:
    """Play a plan, run by run, into a new folder named after PEDAL, and show the result.

    For now the pedal, the leads and the interface are simulated, and --simulate says which pedal.
    Stop with Ctrl-C at any time: what was recorded is kept and can be shown.
    """
    screen = screen_of(context)
    asked = context.get_parameter_source("plan") is not click.core.ParameterSource.DEFAULT
    if no_resistor and asked:
        raise click.UsageError("--no-resistor has a plan of its own; leave --plan out.", context)
    if simulate is None:
        raise RigError(
            "This version cannot play through an interface yet.",
            "The simulator stands in for it, and recordings made elsewhere can be added.",
            "Name a simulated pedal with --simulate, or see: loopback signal --help",
        )
    with progress(screen, "Loading what measuring needs") as step:
        step("Loading what measuring needs")
        from loopback.cli.plan_runner import play_plan
        from loopback.examination.folder import ExaminationFolder
        from loopback.examination.records import Pedal, Run, Setup
        from loopback.plan.plans import (
            NO_RESISTOR,
            PLANS,
            TableFacts,
            playing_s,
            without_footswitch,
        )
        from loopback.report.run_names import run_name
        from loopback.rig.simulated import simulated_rig
        from loopback.signal.take import plan_signal

        rig = simulated_rig(simulate, seed, check_cable=check_cable)
        signal = plan_signal(round(rate), seconds, level, ceiling)
    chosen = NO_RESISTOR if no_resistor else next(p for p in PLANS.values() if p.name == plan)
    if no_footswitch:
        chosen = without_footswitch(chosen)
    folder = free_folder(Path(folder_name(pedal)))
    table = rig.facts()
    screen.note(
        f"{pedal}: {chosen.name.replace('_', ' ')} plan, {len(chosen.steps)} runs that would play "
        f"for {playing_s(chosen, signal) / 60:.0f} minutes.\n"
        f"The pedal is simulated ({simulate}). Recordings go to {pasted(folder)}"
    )
    if screen.asks and not yes:
        click.confirm("Start?", default=True, abort=True, err=True)
    setup = Setup(
        table.kind,
        "",
        None if no_resistor else resistor,
        None if no_resistor else tolerance,
        table.full_scale_dbu,
    )
    about = Pedal(pedal, note=f"simulated: {table.name}")
    examination = ExaminationFolder.create(folder, about, setup, signal)
    facts = TableFacts(
        bypass="none" if no_footswitch else None,
        resistor_ohm=setup.resistor_ohm,
        resistor_tolerance=setup.resistor_tolerance,
    )
    with progress(screen, "Playing", len(chosen.steps)) as step:

        def done(number: int, run: Run) -> None:
            step(f"Run {number} kept")
            takes = sum(recording.kind == "sweep" for recording in run.recordings)
            screen.note(f"  {number:>2}/{len(chosen.steps)}  {run_name(run)}: {takes} takes kept")

        step("Playing")
        try:
            play_plan(examination, rig, chosen, facts, done)
        except KeyboardInterrupt:
            screen.complain(
                f"Stopped after {len(examination.document.runs)} of {len(chosen.steps)} runs.",
                f"What was recorded is kept in {pasted(folder)} and counts.",
                f"See it:  loopback show {pasted(folder)}",
            )
            context.exit(STOPPED)
    screen.note("")
    show_result(screen, folder)
