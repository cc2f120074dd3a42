"""Progress on standard error, only where somebody watches."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from loopback.cli.screen import Screen
from loopback.texts import one_line

Step = Callable[[str], None]
"""Call it with what is being done now; each call but the first is one step forward."""


@contextmanager
def progress(screen: Screen, what: str, steps: int | None = None) -> Iterator[Step]:
    """Show how far something has come.

    Parameters
    ----------
    screen : Screen
        Decides whether anything is shown.
    what : str
        What is being done, in plain letters.
    steps : int or None
        How many steps there will be; None: not known, something moves.

    Yields
    ------
    callable
        See `Step`.
    """
    if not screen.shows_progress:
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn

    columns = (SpinnerColumn("line"), TextColumn("{task.description}", markup=False))
    bar = () if steps is None else (BarColumn(30), TextColumn("{task.completed}/{task.total}"))
    console = Console(stderr=True, no_color=screen.plain or None)
    with Progress(*columns, *bar, console=console, transient=True) as shown:
        task = shown.add_task(what, total=steps)
        begun = False

        def step(now: str) -> None:
            nonlocal begun
            shown.update(task, description=one_line(now, 70), advance=1 if begun else 0)
            begun = True

        yield step
