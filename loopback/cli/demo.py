"""``loopback demo``: the whole job on five simulated pedals."""

from __future__ import annotations

from pathlib import Path

import click

from loopback.cli.folders import free_folder, pasted
from loopback.cli.options import Verb, common
from loopback.cli.progress import progress
from loopback.cli.screen import screen_of

_OPENING = """\
A small workshop has five kit pedals on the table tonight. Before the lids are
closed, each is asked the same: what does it do to the line when it is off?
Pedals, leads and interface are simulated; everything else is the real thing."""

_RULE = "-" * 80


@click.command("demo", cls=Verb, examples=("loopback demo", "loopback demo --into somewhere-else"))
@click.option(
    "--into", type=click.Path(path_type=Path), default=Path("demo"), help="Folder.  [demo]"
)
@common
@click.pass_context
def command(context: click.Context, into: Path) -> None:
    """Test five simulated pedals, show the results, and leave everything to look at.

    The recordings, results and reports go to the folder demo, or demo-2 if there is one already.
    """
    screen = screen_of(context)
    place = free_folder(into)
    screen.note(_OPENING)
    with progress(screen, "Testing", None) as step:
        step("Loading what measuring needs")
        from loopback.cli.workshop import TABLE, examined_at_once
        from loopback.report.layout import Row, lay_out

        lines: list[Row] = []
        files: list[str] = []
        place.mkdir(parents=True)
        with examined_at_once(TABLE, place, screen.signs) as futures:
            for order, future in zip(TABLE, futures, strict=True):
                step(f"Testing {order.name}")
                examined = future.result()
                story = Row(order.name, order.story)
                screen.note(f"\n{_RULE}\n{lay_out([story], signs=screen.signs)}")
                screen.result(f"\n{examined.screen}")
                lines.append(Row(order.name, examined.line.partition(": ")[2]))
                files.append(str(examined.report))
    screen.result(f"\n{_RULE}\nThe table tonight\n")
    screen.result(lay_out(lines, signs=screen.signs))
    first = pasted(place / "quarry-lamp")
    following = Row("Next", f"loopback show {first} --all\nloopback plot {first}")
    screen.note("\n" + lay_out([following], signs=screen.signs))
    screen.note("\nReports to open in a browser")
    screen.note("\n".join(f"  {file}" for file in files))
