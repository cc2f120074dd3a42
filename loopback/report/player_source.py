"""From an analysis to the curves of the picture of what a player hears."""

from __future__ import annotations

from loopback.arrays import F64
from loopback.facts import Analysis
from loopback.player.chain import Leads
from loopback.player.change import HEARD_HZ
from loopback.player.pickup import Amplifier
from loopback.player.sentences import assumptions
from loopback.quantity import coverage_factor
from loopback.report.captions import where_and_when
from loopback.report.figures.curves import Curve, LineKind, Sheet

_LINES: tuple[LineKind, ...] = ("resistor", "plain")


def player_sheet(analysis: Analysis) -> Sheet:
    """Collect the change of level that the pedal in bypass makes for each pickup.

    Parameters
    ----------
    analysis : Analysis
        Without a known path there are no curves.

    Returns
    -------
    Sheet
        dB against the same leads without the pedal.
    """
    found = analysis.player
    curves = (
        []
        if found is None
        else [
            Curve(
                change.pickup.name,
                change.f_hz,
                change.after_db - change.before_db,
                _half_width_db(change.u_db),
                _LINES[number % len(_LINES)],
                number,
            )
            for number, change in enumerate(found.changes)
        ]
    )
    return Sheet(
        f"{analysis.examination.pedal.name}: what a player hears in bypass",
        f"{where_and_when(analysis)} Computed from what stays on the line. "
        f"{assumptions(Leads(), Amplifier(), 1)} Above {HEARD_HZ / 1000:g} kHz a guitar has "
        "next to nothing. Bands cover 95 %.",
        tuple(curves),
        (),
    )


def _half_width_db(u_db: F64) -> F64:
    half: F64 = coverage_factor() * u_db
    return half
