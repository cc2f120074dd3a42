"""A passive path: wiring alone, or something that stays on the line or in line."""

from __future__ import annotations

import math
from dataclasses import replace

from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.identify.found import Shunt
from loopback.identify.identify import Identified, read_together
from loopback.identify.joint import JointFit
from loopback.quantity import Estimate
from loopback.verdict.active import gain_offset
from loopback.verdict.codes import TellCode
from loopback.verdict.decision import Decision, Facts, undecided
from loopback.verdict.evidence import level_at
from loopback.verdict.fitted import network_of, passive_fit, passive_names, shunt_of
from loopback.verdict.limits import (
    FITTED_G,
    IN_TO_OUT_OHM,
    JOINT_OHM,
    PLAIN_FLAT_DB,
    UNEXPLAINED_DB,
    WIRING_C,
)
from loopback.verdict.plain_run import flat, plain_loss, series_element
from loopback.verdict.probability import DECIDED, capped, probability_below
from loopback.verdict.result import PathClass, Reason

EXCESS = 3.0
"""A misfit counts when it is this many times what noise and known imperfections allow."""
FAULT_U = 5.0
"""Standard uncertainties beyond the limit at which a joint is called faulty: few pedals have one,
and among the many that have none drift alone would make a fault of one in forty."""


def judge_passive(facts: Facts, reasons: list[Reason]) -> Decision:
    """Decide between wired, loaded and a part in line for a path that is known to be passive.

    Parameters
    ----------
    facts : Facts
        Views of the bypass position, and the joint fit of its runs.
    reasons : list of Reason
        Evidence so far.

    Returns
    -------
    Decision
        Wired, loaded, faulty, or undecided between them near a limit.
    """
    if facts.found is None or facts.setup is None:
        return _by_level_alone(facts, reasons)
    names = passive_names(facts.found)
    fit = passive_fit(facts.found)
    if fit is None:
        return _not_in_the_list(facts.found, reasons)
    readings = read_together(facts.found.fits, names, plain=_plain_in_fit(facts))
    assert readings is not None
    shunt, series = shunt_of(fit, readings, facts.setup), readings.series_ohm
    base = Decision("loaded", capped(1.0), shunt=shunt, series_ohm=series, consistent=names)
    misfit = Reason("plain_rc", {"db": fit.residual_db})
    # A resistor in line with no more than wiring around it is a joint, whichever end has how much.
    joint = names[0] == "inline" and series is not None and _wiring(shunt) >= DECIDED
    if not joint and not {"wire", "shunt"} & set(names):
        evidence = [_structure(names[0], facts, readings.g_siemens), _rc_misses(facts.found)]
        return replace(
            base, reasons=[*(r for r in evidence if r is not None), *reasons],
            network=network_of(fit, readings),
        )  # fmt: skip
    return _by_size(base, shunt, series, facts, [*reasons, misfit])


def _by_size(
    base: Decision, shunt: Shunt, series: Estimate | None, facts: Facts, reasons: list[Reason]
) -> Decision:
    """Judge a plain R and C across the line by its limits, then what lies in line."""
    inside_c = probability_below(shunt.c_farad, WIRING_C.value)
    inside_g = probability_below(shunt.g_siemens, FITTED_G.value)
    inside = inside_c * inside_g
    evidence = [*_shunt_reasons(shunt, inside_c, inside_g), *reasons]
    if inside <= 1 - DECIDED:
        return replace(base, certainty=capped(1 - inside), reasons=evidence)
    if inside < DECIDED:
        nearer = ("c", inside_c) if inside_c < inside_g else ("g", inside_g)
        near = Reason("near_limit", {"what": nearer[0], "probability": nearer[1]})
        tell: TellCode = "matings"
        if facts.setup is not None and facts.setup.basis != "both":
            tell = "plain_reference"
        elif series is None:
            tell = "plain_runs"  # a part in line would pass for capacitance
        return _open(base, ("wired", "loaded"), [near, *evidence], (tell,), max(inside, 1 - inside))
    if series is None:
        untested = Reason("in_line_untested", {})
        return _open(base, ("wired", "faulty"), [untested, *evidence], ("plain_runs",), inside)
    in_line = 1 - probability_below(series, IN_TO_OUT_OHM.value)
    by = "delay" if facts.timed else "treble"
    part = Reason("series_resistance", {"ohm": series.value, "u_ohm": series.u, "by": by})
    surely = series.value - FAULT_U * series.u > IN_TO_OUT_OHM.value
    if surely and not facts.timed and flat(facts):
        return _by_flat_level(base, series, facts, evidence)
    if surely:
        return replace(
            base, path="faulty", certainty=capped(in_line), reasons=[part, *evidence],
            alternatives=("loaded",),
        )  # fmt: skip
    straight = probability_below(series, JOINT_OHM.value)
    if straight < DECIDED or in_line >= DECIDED:
        wide = Reason("in_line_unresolved", {"ohm": _upper(series)})
        return _open(
            base, ("wired", "faulty"), [wide, *evidence], ("check_cable", "load_plug"), straight
        )
    return replace(base, path="wired", certainty=capped(inside * straight), reasons=evidence)


def _by_flat_level(
    base: Decision, series: Estimate, facts: Facts, evidence: list[Reason]
) -> Decision:
    """Leave open whether a gain moved or a joint is weak; all of the resistance is in doubt."""
    level = facts.main.level or facts.off.level
    loss = 0.0 if level is None else level.value
    lower = Reason("flat_level", {"db": loss, "ohm": _upper(series)})
    doubtful = replace(series, u=max(series.u, series.value / 1.645))
    tell: tuple[TellCode, ...] = ("check_cable", "repeat")
    found = _open(base, ("wired", "faulty"), [lower, *evidence], tell, 0.0)
    return replace(found, series_ohm=doubtful, certainty=None)


def surely_loads(shunt: Shunt | None) -> bool:
    """Tell whether the first sight of a state already shows more than wiring.

    Parameters
    ----------
    shunt : Shunt or None
        From a resistor run, in closed form; None: there is none.

    Returns
    -------
    bool
        By its size, or because no plain R and C explains it.
    """
    if shunt is None:
        return False
    if shunt.residual_db > UNEXPLAINED_DB.value and shunt.excess > EXCESS:
        return True
    return _wiring(shunt) <= 1 - DECIDED


def _wiring(shunt: Shunt) -> float:
    """Probability that what lies across the line is no more than wiring."""
    inside = probability_below(shunt.c_farad, WIRING_C.value)
    return inside * probability_below(shunt.g_siemens, FITTED_G.value)


def _open(
    base: Decision,
    alternatives: tuple[PathClass, ...],
    reasons: list[Reason],
    would_tell: tuple[TellCode, ...],
    certainty: float,
) -> Decision:
    return replace(
        base, path="undecided", certainty=certainty, reasons=reasons, alternatives=alternatives,
        excluded=("buffered", "converted"), would_tell=would_tell,
    )  # fmt: skip


def _upper(series: Estimate) -> float:
    return max(series.value, 0.0) + 1.645 * series.u


def _plain_in_fit(facts: Facts) -> bool:
    """Tell whether a plain run is among those that were fitted together."""
    if facts.main.plain is not None:
        return True
    proven = facts.found is not None and facts.found.passivity == "proven"
    return proven and facts.off.plain is not None


def _not_in_the_list(found: Identified, reasons: list[Reason]) -> Decision:
    """Judge a passive path that no circuit of the list explains."""
    best = _closest(found)
    outside = outside_list(found)
    # Another circuit may come close; what no R and C explains is not wiring.
    plain = found.fit("shunt") or best
    unlike = plain.residual_db > UNEXPLAINED_DB.value and plain.excess > EXCESS
    if unlike or best.residual_db > UNEXPLAINED_DB.value:
        return Decision("loaded", 0.99, [outside, *reasons])
    return undecided(("wired", "loaded"), [outside, *reasons], ("repeat",), ("converted",))


def outside_list(found: Identified) -> Reason:
    """Give the evidence that no circuit of the list explains the runs.

    Parameters
    ----------
    found : Identified
        Joint fit, with a passive circuit among its fits.

    Returns
    -------
    Reason
        What the closest of them misses.
    """
    best = _closest(found)
    return Reason("outside_list", {"db": best.residual_db, "times": best.excess})


def nearly_passive(found: Identified) -> bool:
    """Tell whether a passive circuit comes close enough for one that is not in the list.

    Parameters
    ----------
    found : Identified
        Joint fit, with a passive circuit among its fits.

    Returns
    -------
    bool
        A switch of transistors with a capacitor at either end needs power, and is no stage.
    """
    return _closest(found).residual_db < UNEXPLAINED_DB.value


def _closest(found: Identified) -> JointFit:
    passive = (f for f in found.fits if not HYPOTHESES[f.hypothesis].active)
    return min(passive, key=lambda f: f.excess)


def _rc_misses(found: Identified) -> Reason | None:
    plain = found.fit("shunt")
    return None if plain is None else Reason("residual", {"db": plain.residual_db})


def _structure(name: HypothesisName, facts: Facts, g: Estimate) -> Reason | None:
    """Evidence for a circuit that is more than a plain R and C, as the runs show it."""
    view = facts.main
    if name in ("inline", "transformer") and view.plain is not None and view.plain.ratio:
        ratio = view.plain.ratio
        f_top = min(20e3, 0.9 * ratio.f_hz[-1])
        middle = level_at(ratio, 1e3)
        numbers: dict[str, float | str] = {
            "top_db": level_at(ratio, f_top) - middle,
            "top_khz": f_top / 1e3,
            "low_db": level_at(ratio, 50.0) - middle,
            "level_db": middle,
        }
        return Reason("series_element" if name == "inline" else "transformer", numbers)
    if name in ("inline", "transformer"):
        return Reason("part_in_line", {"kind": name})
    if name in ("blocked", "switched"):
        return Reason("series_capacitor", {"ohm": 1 / g.value if g.value > 0 else math.inf})
    if view.resistor is None or view.resistor.ratio is None:
        return None
    ratio = view.resistor.ratio
    low_hz = max(20.0, float(ratio.f_hz[2]))
    low, middle = level_at(ratio, low_hz), level_at(ratio, 1e3)
    return Reason("lf_rise", {"middle_db": middle, "low_db": low, "low_hz": low_hz})


def _by_level_alone(facts: Facts, reasons: list[Reason]) -> Decision:
    """Judge plain runs: they show parts in line and gross loads, and nothing else."""
    in_line = series_element(facts)
    if in_line is not None:
        series, evidence = in_line
        return Decision("loaded", capped(1.0), [evidence, *reasons], series_ohm=series)
    loss = facts.main.level
    offset = gain_offset(facts)
    if offset is not None and offset.value > 0:
        numbers: dict[str, float | str] = {"db": offset.value}
        return Decision("loaded", 0.99, [Reason("step_up", numbers), *reasons])
    if loss is not None and loss.value < -max(5 * loss.u, PLAIN_FLAT_DB.value):
        return Decision(
            "loaded", 0.99, [plain_loss(facts, loss), *reasons], would_tell=("resistor_runs",)
        )
    return undecided(
        ("wired", "loaded"),
        [Reason("no_resistor", {}), *reasons],
        ("resistor_runs",),
        excluded=("buffered", "converted"),
        certainty=0.99,
    )


def _shunt_reasons(shunt: Shunt, inside_c: float, inside_g: float) -> list[Reason]:
    reasons = []
    g, c = shunt.g_siemens, shunt.c_farad
    if g.value > 2 * g.u and inside_g < DECIDED:
        reasons.append(Reason("shunt_resistance", {"ohm": 1 / g.value}))
    if inside_c < DECIDED:
        reasons.append(Reason("shunt_capacitance", {"pf": c.value * 1e12}))
    return reasons
