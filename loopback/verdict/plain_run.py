"""What plain runs show of a passive path when there is no resistor run beside them."""

from __future__ import annotations

import math
from dataclasses import replace

from loopback.quantity import Estimate
from loopback.verdict.decision import Facts
from loopback.verdict.evidence import level_at
from loopback.verdict.limits import PLAIN_FLAT_DB
from loopback.verdict.result import Reason


def series_element(facts: Facts) -> tuple[Estimate | None, Reason] | None:
    """Tell whether the plain run shows something in line.

    Parameters
    ----------
    facts : Facts
        The plain run of the main view counts.

    Returns
    -------
    tuple of (Estimate or None, Reason) or None
        Series resistance where the level resolves it, and the evidence; None: nothing in line.
        When not to use: beside a resistor run, where the joint fit tells more.
    """
    view = facts.main
    if view.plain is None or view.plain.ratio is None or view.level is None:
        return None
    ratio = view.plain.ratio
    f_top = min(20e3, 0.9 * ratio.f_hz[-1])
    middle = view.level
    top = level_at(ratio, f_top) - middle.value
    low = level_at(ratio, 50.0) - middle.value
    u = math.hypot(facts.priors.shape_u_db * (f_top / 20e3) ** 2, 0.002)
    steep = max(5 * u, PLAIN_FLAT_DB.value)
    if top > steep or low < -1.0:
        return None, Reason("transformer", {"top_db": top, "top_khz": f_top / 1e3, "low_db": low})
    if not top < -steep:
        return None
    series = None
    if facts.setup is not None and -1.0 < middle.value < -2 * middle.u:
        r_load = facts.setup.load_r
        factor = 10 ** (-middle.value / 20) - 1
        r = factor * r_load.value
        u_r = math.hypot(r_load.value * middle.u / 8.686 * (1 + factor), factor * r_load.u)
        series = Estimate(r, u_r, "ohm")
    numbers: dict[str, float | str] = {
        "top_db": top,
        "top_khz": f_top / 1e3,
        "level_db": middle.value,
    }
    return series, Reason("series_element", numbers)


def flat(facts: Facts) -> bool:
    """Tell whether no plain run takes treble: a level that is lower all over is a gain as well.

    The lead behind a resistance in line would take treble, or delay the signal; a gain that stands
    a step lower in all pedal runs, as interfaces and pushed knobs leave it, does neither.

    Parameters
    ----------
    facts : Facts
        The plain runs of the bypass position count.

    Returns
    -------
    bool
        True also without any plain run.
    """
    sights = (facts, replace(facts, on=facts.off))
    return all(found is None for found in map(series_element, sights))


def plain_loss(facts: Facts, loss: Estimate) -> Reason:
    """Give the evidence of a load so heavy that the plain lead shows it.

    Parameters
    ----------
    facts : Facts
        For what is believed of the output impedance.
    loss : Estimate
        Level of the plain run, dB, below zero.

    Returns
    -------
    Reason
        With the resistance that would explain it.
    """
    ohm = facts.priors.source_ohm / (10 ** (-loss.value / 20) - 1)
    return Reason("plain_loss", {"db": loss.value, "ohm": ohm})
