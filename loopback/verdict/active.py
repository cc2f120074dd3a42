"""Signs of an active stage or a converter, and signs that the path is passive."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from loopback.identify.found import Shunt
from loopback.quantity import Estimate
from loopback.response.reading import Ratio
from loopback.verdict.decision import Facts
from loopback.verdict.evidence import Evidence, level_at, middle_level
from loopback.verdict.limits import (
    BUFFER_BELOW_ZERO,
    CONVERTER_DELAY_S,
    GAIN_OFFSET_DB,
)
from loopback.verdict.result import Reason

Passivity = Literal["proven", "changes", "open", "disproven"]
"""proven: the same without power or reversed; changes: passes without power, but differently;
open: never looked at; disproven: dead without power or reversed."""

HALF, SURE = 0.5, 0.9999
"""AD - BC is 1 or 0; a witness tells which when an interval of that coverage is on one side."""
LEAST_PART_OF_NODE = 0.2
"""A buffer takes at least this part of the setup capacitance off the source (computed, for input
capacitances up to 220 pF and short leads); less is more like two runs exchanged."""


def passivity(facts: Facts) -> tuple[Passivity, list[Reason]]:
    """Say whether the path works without power, or backwards, as it does otherwise.

    Parameters
    ----------
    facts : Facts
        Views of the bypass position.

    Returns
    -------
    tuple of (str, list of Reason)
        The word and its evidence.
    """
    on, off, turned, found = facts.on, facts.off, facts.turned, facts.found
    for witness in facts.witnesses:
        low, high = witness.value.interval(SURE)
        numbers: dict[str, float | str] = {"det": witness.value.value, "u_det": witness.value.u}
        if low > HALF:
            return "proven", [Reason("determinant_passive", numbers)]
        if high < HALF:
            return "disproven", [Reason("determinant_active", numbers)]
    if turned.state is not None:
        if not turned.passes:
            return "disproven", [Reason("dead_reversed", {})]
        if on.shunt and turned.shunt and found is not None and found.passivity == "proven":
            return "proven", [Reason("same_reversed", _gap(on.shunt, turned.shunt))]
    if off.state is None or on.state is None:
        return "open", []
    if not off.passes:
        return "disproven", [Reason("dead_without_power", _depth(off.plain, off.resistor))]
    if on.shunt and off.shunt and found is not None:
        gap = _gap(on.shunt, off.shunt)
        return (
            ("proven", [Reason("same_without_power", gap)])
            if found.passivity == "proven"
            else ("changes", [Reason("changes_without_power", gap)])
        )
    level = _level_gap(facts)
    return "open", [Reason("passes_without_power", {} if level is None else {"level_db": level})]


def below_zero(shunt: Shunt | None) -> float:
    """How many standard uncertainties a capacitance lies below zero; 0 without one.

    Parameters
    ----------
    shunt : Shunt or None
        From a resistor run; None: there is none.

    Returns
    -------
    float
        Zero or more, dimensionless.
    """
    if shunt is None:
        return 0.0
    c = shunt.difference or shunt.c_farad
    return max(0.0, -c.value / c.u)


def looks_buffered(shunt: Shunt | None) -> bool:
    """Tell whether the capacitance is as far below zero as only a buffer takes it.

    Parameters
    ----------
    shunt : Shunt or None
        From a resistor run; None: there is none.

    Returns
    -------
    bool
        False without a shunt.
    """
    if shunt is None or below_zero(shunt) < BUFFER_BELOW_ZERO.value:
        return False
    return -shunt.c_farad.value > LEAST_PART_OF_NODE * shunt.node_c_farad


def looks_exchanged(shunt: Shunt | None) -> bool:
    """Tell whether it is below zero, but by no more than wiring: two runs exchanged.

    Parameters
    ----------
    shunt : Shunt or None
        From a resistor run; None: there is none.

    Returns
    -------
    bool
        False without a shunt.
    """
    return below_zero(shunt) >= BUFFER_BELOW_ZERO.value and not looks_buffered(shunt)


def gain_offset(facts: Facts) -> Estimate | None:
    """Level of the plain run that no passive load explains, dB; None when there is none.

    Parameters
    ----------
    facts : Facts
        The plain run is compared with what the shunt of the resistor run would do to it.

    Returns
    -------
    Estimate or None
        Only when it lies beyond five standard uncertainties and the limit.
    """
    view = facts.on
    if view.plain is None or view.plain.ratio is None or view.level is None:
        return None
    expected = u_expected = 0.0
    if view.shunt is not None:
        g = max(view.shunt.g_siemens.value, 0.0)
        expected = -20 * math.log10(1 + facts.priors.source_ohm * g)
        u_expected = abs(expected) * facts.priors.source_u_log
    off = view.level.value - expected
    u = math.hypot(view.level.u, u_expected)
    if abs(off) > max(5 * u, GAIN_OFFSET_DB.value):
        return Estimate(off, u, "dB")
    return None


def converter_signs(facts: Facts) -> list[Reason]:
    """Return the evidence for a converter: a delay, or the steep end of a converter's band.

    Parameters
    ----------
    facts : Facts
        Views of the bypass position.

    Returns
    -------
    list of Reason
        Empty when nothing points to one.
    """
    reasons = []
    for e in facts.main.runs:
        if e.delay is not None and e.delay.value - 5 * e.delay.u > CONVERTER_DELAY_S.value:
            reasons.append(Reason("delay", {"ms": e.delay.value * 1e3, "u_ms": 1.96e3 * e.delay.u}))
            break
    edges = [band_edge(e.ratio) for e in facts.main.runs if e.ratio is not None]
    edge = next((f_hz for f_hz in edges if f_hz is not None), None)
    if edge is not None:
        reasons.append(Reason("band_edge", {"khz": edge / 1e3}))
    return reasons


def band_edge(ratio: Ratio) -> float | None:
    """Find the end of a converter's band: a cliff between 12 and 25 kHz, with either lead.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.

    Returns
    -------
    float or None
        Hertz, where the level is 3 dB under that at 10 kHz, if it falls by 20 dB within half an
        octave from there and does not come back; no passive path of few parts does that. None
        when there is none, or when the sweep ends too early to tell.
    """
    f_hz = ratio.f_hz
    level = 20 * np.log10(np.maximum(np.abs(ratio.t), 1e-12)) - level_at(ratio, 10e3)
    low = np.flatnonzero((level < -3.0) & (f_hz > 12e3) & (f_hz < 25e3))
    if low.size == 0:
        return None
    edge = float(f_hz[low[0]])
    deep = np.flatnonzero((level < -20.0) & (f_hz > edge) & (f_hz <= edge * 2**0.5))
    if deep.size == 0 or float(np.max(level[deep[0] :])) > -15.0:
        return None
    return edge


def converter_excluded(facts: Facts) -> bool:
    """Tell whether delay or an unlimited band rules a converter out.

    Parameters
    ----------
    facts : Facts
        Views of the bypass position.

    Returns
    -------
    bool
        False also when neither can be told.
    """
    runs = facts.main.runs
    if any(e.delay is not None and e.delay.value + 5 * e.delay.u < 50e-6 for e in runs):
        return True
    plain = facts.main.plain
    if plain is None or plain.ratio is None or plain.ratio.f_hz[-1] < 27e3:
        return False
    return level_at(plain.ratio, 26e3) - middle_level(plain.ratio).value > -3.0


def _gap(one: Shunt, two: Shunt) -> dict[str, float | str]:
    c, g = two.c_farad.value - one.c_farad.value, two.g_siemens.value - one.g_siemens.value
    return {
        "c_pf": c * 1e12,
        "g_ns": g * 1e9,
        "on_ohm": 1 / one.g_siemens.value if one.g_siemens.value > 0 else math.inf,
        "off_ohm": 1 / two.g_siemens.value if two.g_siemens.value > 0 else math.inf,
    }


def _depth(*runs: Evidence | None) -> dict[str, float | str]:
    for e in runs:
        if e is not None and e.ratio is not None:
            return {"db_1k": level_at(e.ratio, 1e3)}
    return {}


def _level_gap(facts: Facts) -> float | None:
    if facts.on.level is None or facts.off.level is None:
        return None
    return facts.off.level.value - facts.on.level.value
