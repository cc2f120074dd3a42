"""A passive path: wiring alone, or something that stays on the line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from loopback.identify.found import Network, Shunt
from loopback.identify.network import coupled_load
from loopback.identify.plain import series_from_delay
from loopback.quantity import Estimate
from loopback.verdict.decision import Decision, Facts, undecided
from loopback.verdict.evidence import level_at
from loopback.verdict.limits import FITTED_G, IN_TO_OUT_OHM, PLAIN_FLAT_DB, PLAIN_RC_DB, WIRING_C
from loopback.verdict.probability import capped, probability_below
from loopback.verdict.result import Reason

DECIDED = 0.975
"""A statement needs this probability: the whole 95 % interval inside the limit."""
EXCESS = 3.0
"""A misfit counts when it is this many times what noise and known imperfections allow."""


def judge_passive(facts: Facts, reasons: list[Reason]) -> Decision:
    """Decide between wired and loaded for a path that is known to be passive.

    Parameters
    ----------
    facts : Facts
        Views of the bypass position; one of them has a resistor run.
    reasons : list of Reason
        Evidence so far.

    Returns
    -------
    Decision
        Wired, loaded, or undecided between them near a limit.
    """
    view = facts.main
    in_line = series_element(facts)
    if in_line is not None:
        series, evidence = in_line
        return Decision("loaded", capped(1.0), [evidence, *reasons], series_ohm=series)
    shunt = view.shunt
    if shunt is None:
        loss = view.level
        if loss is not None and loss.value < -max(5 * loss.u, PLAIN_FLAT_DB.value):
            ohm = facts.priors.source_ohm / (10 ** (-loss.value / 20) - 1)
            return Decision(
                "loaded", 0.99, [Reason("plain_loss", {"db": loss.value, "ohm": ohm}), *reasons],
                would_tell=("resistor_runs",),
            )  # fmt: skip
        return undecided(
            ("wired", "loaded"),
            [Reason("no_resistor", {}), *reasons],
            ("resistor_runs",),
            excluded=("buffered", "converted"),
            certainty=0.99,
        )
    if shunt.residual_db > PLAIN_RC_DB.value and shunt.excess > EXCESS:
        network, evidence_list = _network(facts, shunt)
        return Decision(
            "loaded",
            capped(1.0),
            [*evidence_list, *reasons],
            network=network,
            series_ohm=None if network is None else _series(facts, _beyond(network, facts)),
        )
    series = _series(facts, (shunt.difference or shunt.c_farad, shunt.g_siemens.value))
    inside_c = probability_below(shunt.c_farad, WIRING_C.value)
    inside_g = probability_below(shunt.g_siemens, FITTED_G.value)
    inside = inside_c * inside_g
    plain_fit = Reason("plain_rc", {"db": shunt.residual_db})
    evidence_list = [*_shunt_reasons(shunt, inside_c, inside_g), *reasons, plain_fit]
    if inside <= 1 - DECIDED:
        return Decision("loaded", capped(1 - inside), evidence_list, series_ohm=series)
    inside_r = 1.0 if series is None else probability_below(series, IN_TO_OUT_OHM.value)
    if series is not None and inside >= DECIDED and inside_r <= 1 - DECIDED:
        part = Reason("series_resistance", {"ohm": series.value})
        certainty = capped(1 - inside_r)
        return Decision("faulty", certainty, [part, *evidence_list], ("loaded",), series_ohm=series)
    if inside >= DECIDED:
        return Decision("wired", capped(inside), evidence_list, series_ohm=series)
    nearer = ("c", inside_c) if inside_c < inside_g else ("g", inside_g)
    near = Reason("near_limit", {"what": nearer[0], "probability": nearer[1]})
    found = undecided(
        ("wired", "loaded"),
        [near, *evidence_list],
        ("matings",) if facts.setup and facts.setup.basis == "both" else ("plain_reference",),
        excluded=("buffered", "converted"),
        certainty=max(inside, 1 - inside),
    )
    return replace(found, series_ohm=series)


def _beyond(network: Network, facts: Facts) -> tuple[Estimate, float]:
    """Capacitance over that of the coupler, and conductance, of a network in the treble."""
    c = network.c_farad
    beyond = Estimate(c.value - facts.priors.coupler_farad, c.u, "farad")
    return beyond, 1 / network.r_ohm.value


def _series(facts: Facts, across: tuple[Estimate, float]) -> Estimate | None:
    """Series resistance where the delay of the plain run is held; None elsewhere."""
    plain, setup = facts.main.plain, facts.setup
    if plain is None or plain.ratio is None or plain.delay is None or setup is None:
        return None
    return series_from_delay(
        plain.ratio, setup, across[0], across[1], max(plain.delay.u, 1e-10), priors=facts.priors
    )


def series_element(facts: Facts) -> tuple[Estimate | None, Reason] | None:
    """Tell whether the plain run shows something in line that no shunt explains.

    Parameters
    ----------
    facts : Facts
        The plain run of the main view counts.

    Returns
    -------
    tuple of (Estimate or None, Reason) or None
        Series resistance where the level resolves it, and the evidence; None: nothing in line.
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
    expected_top = expected_middle = 0.0
    if view.shunt is not None:
        expected_middle, expected_top = _plain_effect(facts, view.shunt, f_top)
    unexplained = top - (expected_top - expected_middle)
    u_total = math.hypot(u, facts.priors.source_u_log * abs(expected_top))
    lifted = unexplained > max(5 * u_total, PLAIN_FLAT_DB.value)
    if lifted or low < -1.0:
        return None, Reason("transformer", {"top_db": top, "top_khz": f_top / 1e3, "low_db": low})
    dropped = unexplained < -max(5 * u_total, PLAIN_FLAT_DB.value)
    u_level = math.hypot(middle.u, facts.priors.source_u_log * abs(expected_middle))
    level_off = middle.value - expected_middle
    down = level_off < -max(5 * u_level, PLAIN_FLAT_DB.value)
    if not dropped and not (down and facts.main.shunt is not None):
        return None
    series = None
    if facts.setup is not None and -1.0 < level_off < -2 * u_level:
        r_load = facts.setup.load_r
        factor = 10 ** (-level_off / 20) - 1
        r = factor * r_load.value
        u_r = math.hypot(r_load.value * u_level / 8.686 * (1 + factor), factor * r_load.u)
        series = Estimate(r, u_r, "ohm")
    numbers: dict[str, float | str] = {
        "top_db": top,
        "top_khz": f_top / 1e3,
        "level_db": middle.value,
    }
    return series, Reason("series_element", numbers)


def _plain_effect(facts: Facts, shunt: Shunt, f_top: float) -> tuple[float, float]:
    """Level in dB at 1 kHz and at `f_top` that a shunt leaves with the plain lead."""
    setup = facts.setup
    if setup is None:
        return 0.0, 0.0
    found = []
    for f in (1e3, f_top):
        y_load = complex(
            np.interp(f, setup.f_hz, setup.y_load.real),
            np.interp(f, setup.f_hz, setup.y_load.imag),
        )
        z = 1 / (1 / facts.priors.source_ohm + y_load)
        y = shunt.g_siemens.value + 2j * math.pi * f * shunt.c_farad.value
        found.append(-20 * math.log10(abs(1 + z * y)))
    return found[0], found[1]


def _network(facts: Facts, shunt: Shunt) -> tuple[Network | None, list[Reason]]:
    view, setup = facts.main, facts.setup
    if view.resistor is None or view.resistor.ratio is None or setup is None:
        return None, []
    ratio = view.resistor.ratio
    network = coupled_load(ratio, setup, priors=facts.priors)
    reasons = []
    explained = network is not None and network.residual_db < 0.3 * shunt.residual_db
    low_hz = max(20.0, float(ratio.f_hz[2]))
    low, middle = level_at(ratio, low_hz), level_at(ratio, 1e3)
    if explained and (low > middle + 0.05 or shunt.lf_rise_db > 0.02):
        reasons.append(Reason("lf_rise", {"middle_db": middle, "low_db": low, "low_hz": low_hz}))
    reasons.append(Reason("residual", {"db": shunt.residual_db}))
    return (network if explained else None), reasons


def _shunt_reasons(shunt: Shunt, inside_c: float, inside_g: float) -> list[Reason]:
    reasons = []
    g, c = shunt.g_siemens, shunt.c_farad
    if g.value > 2 * g.u and inside_g < DECIDED:
        reasons.append(Reason("shunt_resistance", {"ohm": 1 / g.value}))
    if inside_c < DECIDED:
        reasons.append(Reason("shunt_capacitance", {"pf": c.value * 1e12}))
    return reasons
