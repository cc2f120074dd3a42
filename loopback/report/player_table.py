"""What a row of pedals does for a player, as lines for the screen."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from loopback.player.chain import ChainFound, Leads
from loopback.player.change import Change
from loopback.player.pickup import Amplifier
from loopback.player.sentences import assumptions, buffer_sentence, change_sentence
from loopback.quantity import coverage_factor
from loopback.report.layout import Row, columns, lay_out

SHOWN_HZ = (200.0, 1000.0, 2000.0, 3000.0, 4000.0, 5000.0, 7000.0, 10_000.0)
AUDIBLE = (
    "Common practice: less than 0.1 dB is not heard, 0.5 to 1.5 dB is heard side by side, "
    "more at once."
)


def player_screen(
    found: ChainFound,
    names: Sequence[str],
    leads: Leads,
    amplifier: Amplifier,
    *,
    signs: bool,
) -> str:
    """Write the screen.

    Parameters
    ----------
    found : ChainFound
        What the row does.
    names : sequence of str
        Names of its pedals, in their order.
    leads, amplifier : Leads, Amplifier
        What was assumed beside them.
    signs : bool
        False writes Ω, ± and the arrow out.

    Returns
    -------
    str
        Lines of 80 columns.
    """
    rows = [
        Row("Pedals", " → ".join(names)),
        Row("Assumed", assumptions(leads, amplifier, len(names))),
        Row("Buffer", buffer_sentence(found, list(names))),
    ]
    rows += [
        Row(change.pickup.name.capitalize(), change_sentence(change)) for change in found.changes
    ]
    table = columns(level_table(found.changes), signs=signs)
    rows.append(Row("Change, dB", f"{table}\n{doubt_text(found.changes)}"))
    rows.append(Row("To judge it", f"{AUDIBLE} ± covers 95 %."))
    return lay_out(rows, signs=signs)


def level_table(changes: Sequence[Change]) -> list[list[str]]:
    """Write the change at `SHOWN_HZ`, one line for each pickup under a line of kilohertz.

    Parameters
    ----------
    changes : sequence of Change
        One for each pickup.

    Returns
    -------
    list of lists of str
        Decibels with their sign.
    """
    head = ["kHz", *[f"{f / 1000:g}".rjust(4) for f in SHOWN_HZ]]
    lines = [
        [change.pickup.name, *(_signed(_at(change, f)) for f in SHOWN_HZ)] for change in changes
    ]
    return [head, *lines]


def _at(change: Change, f_hz: float) -> float:
    return float(np.interp(f_hz, change.f_hz, change.after_db - change.before_db))


def _signed(db: float) -> str:
    return f"{db:+.1f}" if abs(db) >= 0.05 else " 0.0"


def doubt_text(changes: Sequence[Change]) -> str:
    """Write within what all numbers of `level_table` are known, 95 %.

    Parameters
    ----------
    changes : sequence of Change
        One for each pickup.

    Returns
    -------
    str
        Such as ``each within ± 0.05 dB``.
    """
    most = max(
        coverage_factor() * float(np.interp(f, change.f_hz, change.u_db))
        for change in changes
        for f in SHOWN_HZ
    )
    return f"each within ± {max(most, 0.05):.1g} dB"
