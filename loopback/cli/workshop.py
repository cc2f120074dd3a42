"""The demo's table: five invented kit pedals, and how one of them is examined in a process."""

from __future__ import annotations

import signal
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from os import cpu_count
from pathlib import Path
from typing import Literal

from loopback.cli.folders import folder_name, pasted

_WORKERS = 2


@dataclass(frozen=True, slots=True)
class Order:
    """One pedal on the table.

    Parameters
    ----------
    name : str
        As its builder calls it.
    simulated : str
        Which circuit stands behind it.
    plan : str
        How it is examined.
    story : str
        What the workshop knows before the test.
    claim : str
        What its label says; compared with the result, never used.
    """

    name: str
    simulated: str
    plan: Literal["standard", "no_resistor"]
    story: str
    claim: str = ""


@dataclass(frozen=True, slots=True)
class Examined:
    """What comes back about one pedal.

    Parameters
    ----------
    screen : str
        Its result.
    line : str
        Its result in one line.
    report : Path
        A page that can be opened.
    """

    screen: str
    line: str
    report: Path


TABLE = (
    Order(
        "Harbour Bell",
        "harbour-bell",
        "standard",
        "A clean boost. Its build sheet says: the switch takes the board off the line.",
    ),
    Order(
        "Quarry Lamp",
        "quarry-lamp",
        "standard",
        "An overdrive. Same switch, and a resistor at the jack so that it does not pop.",
    ),
    Order(
        "Tidal Clock",
        "tidal-clock",
        "standard",
        "An old treble booster, rebuilt. Players say it eats treble even when it is off.",
    ),
    Order(
        "Salt Lantern",
        "salt-lantern",
        "standard",
        "An overdrive with a soft switch. Sold as true bypass by whoever had it before.",
        "true bypass",
    ),
    Order(
        "Drift Bottle",
        "drift-bottle",
        "no_resistor",
        "A phaser, tested last, when the resistor lead had already left with a customer.",
    ),
)


def examine(order: Order, place: Path, seed: int, signs: bool) -> Examined:
    """Play the plan, analyse, write the report; all of it lies in a folder of its own."""
    # Only the processes that do this load the libraries; the one that hands out the work does not.
    from loopback.analysis import analyse
    from loopback.examination.incoming import now_text
    from loopback.examination.records import Pedal
    from loopback.guided.simulated_sitting import SimulatedSitting
    from loopback.report.report_files import write_report
    from loopback.report.text import result_screen, short_line

    path = place / folder_name(order.name)
    # All five came to the table with their lamps dark; the plain lead is for that position.
    sitting = SimulatedSitting(order.simulated, order.plan, seed=seed, bypass="a")
    sitting.play_into(path, Pedal(order.name, claim=order.claim, note=order.story))
    analysis = analyse(path)
    # The pictures are in the page; as files they would take as long again.
    written = write_report(analysis, path, path / "report", issued=now_text(), pictures=False)
    return Examined(
        result_screen(analysis, pasted(path), signs=signs),
        short_line(analysis),
        written[0],
    )


@contextmanager
def examined_at_once(
    orders: Sequence[Order], place: Path, signs: bool
) -> Iterator[list[Future[Examined]]]:
    """Examine pedals in two processes; the futures come in the order of the pedals.

    Left by Ctrl-C, what has not begun is dropped and what has begun is finished.
    """
    pool = ProcessPoolExecutor(
        min(_WORKERS, cpu_count() or 1),
        mp_context=get_context("spawn"),
        initializer=_leave_ctrl_c_to_the_parent,
    )
    try:
        yield [
            pool.submit(examine, order, place, seed, signs)
            for seed, order in enumerate(orders, start=1)
        ]
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _leave_ctrl_c_to_the_parent() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
