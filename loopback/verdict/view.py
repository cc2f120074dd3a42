"""The bypass position seen with power, without it and reversed: runs turned into values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from loopback.identify.found import PlainBounds, Shunt
from loopback.identify.plain import plain_bounds
from loopback.identify.priors import Priors
from loopback.identify.setup import SetupFound
from loopback.identify.shunt import closed_form_shunt
from loopback.plan.runs import Direction, Position
from loopback.quantity import Estimate
from loopback.verdict.evidence import Evidence, middle_level
from loopback.verdict.passing import RunState, run_state


@dataclass(frozen=True, slots=True)
class View:
    """One state of the pedal through both leads.

    Parameters
    ----------
    plain, resistor : Evidence or None
        The last usable run of each feed.
    state : str or None
        Whether it passes; None: never looked at.
    shunt : Shunt or None
        First sight of the resistor runs in closed form: a sign of a stage, or of runs exchanged,
        and what differs between two states; the values of a result come from the joint fit. None
        without such a run, without a setup, or where nothing passes.
    bounds : PlainBounds or None
        From the plain run, likewise.
    level : Estimate or None
        Level of the plain run, 200 Hz to 2 kHz, dB.
    """

    plain: Evidence | None
    resistor: Evidence | None
    state: RunState | None
    shunt: Shunt | None
    bounds: PlainBounds | None
    level: Estimate | None

    @property
    def passes(self) -> bool:
        """True when it was looked at and lets a signal through."""
        return self.state in ("passes", "altered")

    @property
    def runs(self) -> tuple[Evidence, ...]:
        """The runs there are."""
        return tuple(e for e in (self.plain, self.resistor) if e is not None)


def look(
    runs: Sequence[Evidence],
    position: Position | None,
    powered: bool,
    setup: SetupFound | None,
    priors: Priors,
    direction: Direction = "forward",
) -> View:
    """Gather the usable runs of one power, position and direction.

    Parameters
    ----------
    runs : sequence of Evidence
        All pedal runs, in the order made.
    position : str or None
        Switch position; None gives an empty view.
    powered : bool
        True also takes runs about whose power nobody said anything.
    setup : SetupFound or None
        None: no values are computed.
    priors : Priors
        Stated beliefs.
    direction : {"forward", "reversed"}
        Which way round.

    Returns
    -------
    View
        Empty fields where there is no run.
    """
    mine = [
        e
        for e in runs
        if e.usable
        and (e.label.position or "none") == position
        and (e.label.power != "off") == powered
        and e.label.direction == direction
        and not e.label.level_db
    ]
    plain = next((e for e in reversed(mine) if e.label.feed == "plain"), None)
    resistor = [e for e in mine if e.label.feed == "resistor"]
    last = resistor[-1] if resistor else None
    states = [run_state(e) for e in (plain, last) if e is not None]
    state = next((s for s in states if s is not None), None)
    passes = state in ("passes", "altered")
    shunt = bounds = level = None
    if passes and plain is not None and plain.ratio is not None:
        level = middle_level(plain.ratio)
        bounds = None if setup is None else plain_bounds(plain.ratio, setup, priors=priors)
    if passes and resistor and setup is not None and setup.basis != "plain":
        shunt = _shunt_of(resistor, setup, priors)
    return View(plain, last, state, shunt, bounds, level)


def _shunt_of(runs: Sequence[Evidence], setup: SetupFound, priors: Priors) -> Shunt | None:
    """One shunt from all matings; runs of one mating share its scatter, so the last one counts."""
    by_mating = {e.label.mating: e.ratio for e in runs if e.ratio is not None}
    if not by_mating:
        return None
    n = len(by_mating)
    found = [closed_form_shunt(r, setup, matings=n, priors=priors) for r in by_mating.values()]
    if n == 1:
        return found[0]
    last = found[-1]
    c = sum(s.c_farad.value for s in found) / n
    g = sum(s.g_siemens.value for s in found) / n
    difference = last.difference
    return replace(
        last,
        c_farad=Estimate(c, last.c_farad.u, "farad"),
        g_siemens=Estimate(g, last.g_siemens.u, "siemens"),
        difference=None
        if difference is None
        else Estimate(c - priors.coupler_farad, difference.u, "farad"),
    )
