"""A live level meter while sound is recorded, only where somebody watches."""

from __future__ import annotations

import math
from typing import Any

from loopback.cli.screen import Screen

_CELLS = 30
_LOWEST_DBFS = -60.0


class LevelMeter:
    """A line that moves on standard error: how far the run is, and the latest input peak.

    Parameters
    ----------
    screen : Screen
        Decides whether anything is shown.
    """

    def __init__(self, screen: Screen) -> None:
        self._screen = screen
        self._live: Any = None

    def __call__(self, done: float, peak: float) -> None:
        """Show the state of a run.

        Parameters
        ----------
        done : float
            Part done; 1 ends the line.
        peak : float
            Latest input peak, fraction of full scale.
        """
        if not self._screen.shows_progress:
            return
        if done >= 1.0:
            self.close()
            return
        if self._live is None:
            from rich.console import Console
            from rich.live import Live

            console = Console(stderr=True, no_color=self._screen.plain or None)
            self._live = Live(console=console, transient=True, auto_refresh=False)
            self._live.start()
        self._live.update(meter_line(done, peak), refresh=True)

    def close(self) -> None:
        """Take the line away."""
        if self._live is not None:
            self._live.stop()
            self._live = None


def meter_line(done: float, peak: float) -> str:
    """Draw a level, and how far a run is.

    Parameters
    ----------
    done : float
        Part done, 0 to 1.
    peak : float
        Latest input peak, fraction of full scale.

    Returns
    -------
    str
        One line of plain letters.
    """
    level = 20 * math.log10(peak) if peak > 0 else -math.inf
    share = (max(level, _LOWEST_DBFS) - _LOWEST_DBFS) / -_LOWEST_DBFS
    cells = min(_CELLS, round(share * _CELLS))
    bar = "#" * cells + "." * (_CELLS - cells)
    shown = f"{level:6.1f} dBFS" if math.isfinite(level) else "  nothing  "
    warning = "  TOO HOT" if peak >= 0.999 else ""
    return f"      |{bar}|  peak {shown}  {done * 100:3.0f} %{warning}"
