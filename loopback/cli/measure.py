"""``loopback measure``: a guided measurement of one pedal."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from loopback.cli.folders import pasted
from loopback.cli.options import OHM, RATE, TOLERANCE, Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import STOPPED, Screen, screen_of
from loopback.cli.show import check_expectation, keep_expectation, show_result, status_of

if TYPE_CHECKING:
    from loopback.cli.measure_sitting import Sitting


@click.command(
    "measure",
    cls=Verb,
    examples=(
        'loopback measure "Quarry Lamp"',
        "loopback measure quarry-lamp --again 03",
        'loopback measure "Quarry Lamp" --simulate quarry-lamp --plan quick --yes',
    ),
)
@click.argument("pedal")
@click.option(
    "--plan",
    type=click.Choice(["quick", "standard", "full"]),
    default="standard",
    show_default=True,
    help="quick: resistor lead only. standard: both leads. full: load plug, reversed, more.",
)
@click.option("--no-resistor", is_flag=True, help="Plain lead only: says what it cannot tell.")
@click.option("--no-footswitch", is_flag=True, help="The pedal has none.")
@click.option("--again", metavar="RUN", help="Make one run again; the earlier one is kept.")
@click.option(
    "--reference-of",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Share the references of a pedal measured just before.",
)
@click.option(
    "--expect",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="What it should be (see show --help); kept in its folder.",
)
@click.option("--claim", default="", help="What is said about its bypass; only compared.")
@click.option("--mode", default="", help="How its knobs and switches are set.")
@click.option("--note", default="", help="Anything worth remembering.")
@click.option("--device", metavar="WORDS", help="Another interface than in setup.toml.")
@click.option("--check-cable", metavar="OUT:IN", help='Spare sockets, such as "2:2".')
@click.option("--rate", type=RATE, help="Sample rate.  [setup.toml, else 96k]")
@click.option("--seconds", type=float, help="Of each sweep.  [setup.toml, else 4]")
@click.option("--level", type=float, help="Peak, dBFS.  [setup.toml, else -12]")
@click.option("--ceiling", type=float, help="Highest level.  [setup.toml, else -12]")
@click.option("--resistor", type=OHM, help="Resistor lead.  [setup.toml, else 100k]")
@click.option("--tolerance", type=TOLERANCE, help="Of it.  [setup.toml, else 1%]")
@click.option("--simulate", metavar="NAME", help="Simulated pedal, or the path of a pedal file.")
@click.option("--mistake", multiple=True, help="What the simulated hands do wrong.")
@click.option("--seed", type=int, default=1, help="Of the simulated noise.  [1]")
@click.option("--yes", is_flag=True, help="Ask nothing; take every default.")
@common
@click.pass_context
def command(context: click.Context, /, pedal: str, **said: Any) -> None:
    """Lead through all runs of a plan with PEDAL, keep every recording, show the result.

    PEDAL is its name, or the folder of an examination. Stop at any time with Ctrl-C; the same
    command goes on where you stopped, also on another day. Interface, level and resistor come
    from setup.toml in this folder.
    """
    screen = screen_of(context)
    expect: Path | None = said.pop("expect")
    if expect is not None:
        check_expectation(expect)
    asked = context.get_parameter_source("plan") is not click.core.ParameterSource.DEFAULT
    if said["no_resistor"] and asked:
        raise click.UsageError("--no-resistor has a plan of its own; leave --plan out.", context)
    hands_ask = screen.asks and not said["yes"]
    if not (hands_ask or said["yes"] or said["simulate"]):
        raise click.UsageError("Nobody can answer here; add --yes.", context)
    with progress(screen, "Loading what measuring needs") as step:
        step("Loading what measuring needs")
        from loopback.cli.hands import TerminalHands
        from loopback.cli.measure_sitting import prepare
        from loopback.guided.sitting import sit

        said["plan"] = said["plan"] if asked else None
        sitting = prepare(screen, pedal, said)
        if expect is not None:
            keep_expectation(expect, sitting.path)
    screen.note(sitting.opening)
    hands = TerminalHands(screen, hands_ask)
    try:
        done = sit(sitting.state, sitting.folder, sitting.rig, hands, sitting.onlooker)
    except (KeyboardInterrupt, click.Abort):
        _say_stopped(screen, sitting)
        context.exit(STOPPED)
    screen.note("\n" + done.text)
    if not done.complete:
        context.exit(STOPPED)
    context.exit(_finish(screen, sitting))


def _say_stopped(screen: Screen, sitting: Sitting) -> None:
    shown = pasted(sitting.path)
    kept = sum(bool(run.recordings) for run in sitting.folder.document.counting_runs())
    screen.complain(
        f"Stopped with {kept} run{'s' if kept != 1 else ''} kept in {shown}.",
        "Nothing is lost. The same command goes on where you stopped.",
        f"What there is so far:  loopback show {shown}",
    )


def _finish(screen: Screen, sitting: Sitting) -> int:
    """Show the result and how to repair what could not be used; give the exit status."""
    from loopback.cli.measure_sitting import carry_in_unplugged, keep_sitting

    trouble = carry_in_unplugged(sitting)
    screen.note("\n".join([*textwrap.wrap(trouble, 80), ""]) if trouble else "")
    analysis = show_result(screen, sitting.path)
    trouble = keep_sitting(sitting, analysis)
    screen.note("\n".join(["", *textwrap.wrap(trouble, 80)]) if trouble else "")
    for run_id in sitting.onlooker.useless():
        screen.note(
            f"\nRun {run_id} cannot be used. Make it again:"
            f"\n  loopback measure {pasted(sitting.path)} --again {run_id}{sitting.follow}"
        )
    from loopback.report.item_words import not_noted

    if missing := not_noted(analysis.examination, pasted(sitting.path)):
        screen.note(f"\n{missing}")
    return status_of(analysis)
