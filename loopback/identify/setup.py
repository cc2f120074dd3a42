"""What this setup is: load admittance, setup capacitance, load resistance, from reference runs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.least_squares import Parameter, fit_curve
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.plan.runs import Feed, Load, ResistorEnd, RunLabel
from loopback.quantity import Estimate
from loopback.response.reading import RunResponse

LOWEST_FIT_HZ = 20.0
HIGHEST_FIT_HZ = 40_000.0
DB = 20 / math.log(10)
"""Decibels per neper."""


@dataclass(frozen=True, slots=True)
class SetupFound:
    """The setup as the reference runs show it.

    Parameters
    ----------
    basis : {"both", "resistor", "plain"}
        Which reference runs it rests on. With one kind only, priors stand in for the other.
    f_hz : ndarray of float64, shape (k,)
        Grid of the runs.
    y_load : ndarray of complex128, shape (k,)
        Admittance at the pedal's node with coupler, return lead and input, siemens: a measured
        curve for "both", a model for the others. With the resistor at the interface end the
        feeding lead is in it.
    zs_plain, zs_resistor : ndarray of complex128, shape (k,)
        Impedance that feeds the node, ohms.
    z_node : ndarray of complex128, shape (k,)
        Thevenin impedance of the node with the resistor lead, ohms.
    u_scale : float
        Relative standard uncertainty of the scale of `z_node`.
    node_c : Estimate
        Setup capacitance, farads, coupler included.
    load_r : Estimate
        Load resistance, ohms.
    resistor : Estimate or None
        Series resistor, ohms; None without a resistor run.
    resistor_end : {"pedal", "interface"}
        Where it sits.
    source_ohm : Estimate
        Output impedance of the interface; a prior.
    fit_excess : float
        Root of the reduced sum of squares of the fit of a plain R and C to the load; large values
        mean a setup that is not what it is said to be. 0 where nothing was fitted.
    """

    basis: Literal["both", "resistor", "plain"]
    f_hz: F64
    y_load: C128
    zs_plain: C128
    zs_resistor: C128
    z_node: C128
    u_scale: float
    node_c: Estimate
    load_r: Estimate
    resistor: Estimate | None
    resistor_end: ResistorEnd
    source_ohm: Estimate
    fit_excess: float


def find_setup(
    references: Sequence[tuple[RunLabel, RunResponse]],
    *,
    load: Load = "instrument",
    priors: Priors = DEFAULT_PRIORS,
) -> SetupFound | None:
    """Find the setup from whatever reference runs there are.

    With Q the resistor reference over the plain one, ``Y_L = (1 - Q) / (Q Z_s2 - Z_s1)``, which
    follows from ``1/H0 = 1 + Z_s Y_L`` for each. The series resistor is the standard; delay and
    gain between the two runs are unknowns of the fit.

    Parameters
    ----------
    references : sequence of (RunLabel, RunResponse)
        Runs through the coupler; others are passed over.
    load : {"instrument", "line", "plug"}
        Which load's setup is wanted.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    SetupFound or None
        None when there is no reference run with that load.
    """
    chosen = [(lab, r) for lab, r in references if lab.path == "coupler" and lab.load == load]
    plain = _mean([r for lab, r in chosen if lab.feed == "plain"])
    resistor = _mean([r for lab, r in chosen if lab.feed == "resistor"])
    if plain is None and resistor is None:
        return None
    f_hz = chosen[0][1].f_hz
    s = 2j * math.pi * f_hz
    label = next((lab for lab, _ in chosen if lab.feed == "resistor"), chosen[0][0])
    source = Estimate(priors.source_ohm, priors.source_ohm * priors.source_u_log, "ohm")
    zs_plain = np.full(f_hz.shape, complex(priors.source_ohm))
    g0, u_g0 = _load_prior(label, priors)
    standard = _standard(label, priors) if resistor is not None else None
    r_ohm = standard.value if standard is not None else priors.unknown_resistor_ohm
    zs_resistor = 1.0 / (1.0 / r_ohm + s * priors.resistor_parallel_farad) + zs_plain
    u_resistor = standard.u / standard.value if standard is not None else 0.0
    if plain is not None and resistor is not None:
        y_load, c, g, excess = _from_both(plain, resistor, zs_plain, zs_resistor, g0, priors)
        u_scale = math.hypot(u_resistor, priors.reference_gain_u_db / DB)
    elif resistor is not None:
        y_load, c, g, excess = _from_resistor(resistor, r_ohm, zs_resistor, g0, u_g0, priors)
        u_scale = math.hypot(u_resistor, u_g0 / (1.0 / r_ohm + g0))
    else:
        c = Estimate(priors.node_farad, priors.node_u_farad, "farad")
        g = Estimate(g0, u_g0, "siemens")
        y_load, excess, u_scale = np.asarray(g.value + s * c.value, np.complex128), 0.0, 1.0
    c = Estimate(c.value, math.hypot(c.u, c.value * u_resistor), "farad")
    g_value = max(g.value, 1e-9)
    r_load = Estimate(1 / g_value, math.hypot(g.u / g_value**2, u_resistor / g_value), "ohm")
    basis: Literal["both", "resistor", "plain"] = (
        "plain" if resistor is None else "both" if plain is not None else "resistor"
    )
    return SetupFound(
        basis, f_hz, y_load, zs_plain, zs_resistor, 1.0 / (1.0 / zs_resistor + y_load), u_scale,
        c, r_load, standard, label.resistor_end, source, excess,
    )  # fmt: skip


def node_impedance(setup: SetupFound, feed: Feed) -> C128:
    """Thevenin impedance of the pedal's node for a feed, ohms, shape (k,)."""
    zs = setup.zs_plain if feed == "plain" else setup.zs_resistor
    return 1.0 / (1.0 / zs + setup.y_load)


def fit_band(f_hz: F64) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """Mask of the frequencies that fits use: 20 Hz to 40 kHz, short of the end of the sweep."""
    return np.asarray((f_hz >= LOWEST_FIT_HZ) & (f_hz <= min(HIGHEST_FIT_HZ, 0.97 * f_hz[-1])))


def _standard(label: RunLabel, priors: Priors) -> Estimate:
    if label.resistor_ohm is None:
        value = priors.unknown_resistor_ohm
        return Estimate(value, value * priors.unknown_resistor_u, "ohm")
    tolerance = (
        priors.resistor_tolerance if label.resistor_tolerance is None else label.resistor_tolerance
    )
    # A tolerance is a limit: rectangular distribution (JCGM 100:2008, 4.3.7).
    return Estimate(label.resistor_ohm, label.resistor_ohm * tolerance / math.sqrt(3), "ohm")


def _load_prior(label: RunLabel, priors: Priors) -> tuple[float, float]:
    if label.load == "line":
        return priors.line_siemens, priors.line_u_siemens
    if label.load == "plug" and label.load_ohm:
        g = 1.0 / label.load_ohm
        return g + priors.load_siemens, math.hypot(0.03 * g, priors.load_u_siemens)
    return priors.load_siemens, priors.load_u_siemens


def _mean(runs: Sequence[RunResponse]) -> tuple[F64, C128, F64] | None:
    if not runs:
        return None
    first = runs[0]
    f_hz = first.f_hz
    turned = [
        r.h * np.exp(2j * math.pi * f_hz * r.delay_s) for r in runs if r.f_hz.shape == f_hz.shape
    ]
    for i, h in enumerate(turned[1:], start=1):
        turned[i] = h * np.exp(2j * math.pi * f_hz * _slope_s(f_hz, h / turned[0]))
    var = np.mean([r.var for r in runs if r.f_hz.shape == f_hz.shape], axis=0) / len(turned)
    return f_hz, np.mean(turned, axis=0), np.asarray(var)


def _slope_s(f_hz: F64, ratio: C128) -> float:
    """Delay in seconds of a ratio of two like responses, from its phase."""
    phase = np.unwrap(np.angle(ratio))
    omega = 2 * math.pi * f_hz
    return float(-(omega @ (phase - phase[0])) / (omega @ omega))


def scan_delay(f_hz: F64, inverse: C128, design: C128, weight: F64, reach_s: float) -> float:
    """Delay for which ``inverse exp(-jωτ) - 1`` is best a real combination of `design`.

    Parameters
    ----------
    f_hz : ndarray of float64, shape (k,)
        Grid.
    inverse : ndarray of complex128, shape (k,)
        One over the measured ratio.
    design : ndarray of complex128, shape (k, p)
        Columns of the linear model; they do not depend on the delay.
    weight : ndarray of float64, shape (k,)
        One over the standard deviation.
    reach_s : float
        The search runs over plus and minus this, in steps short against a period at the top.

    Returns
    -------
    float
        Seconds, to the step of the scan.
    """
    taus = np.arange(-reach_s, reach_s, 0.08 / f_hz[-1])
    turned = (inverse * np.exp(-2j * math.pi * np.outer(taus, f_hz)) - 1.0) * weight
    a = np.concatenate([(design * weight[:, None]).real, (design * weight[:, None]).imag])
    q, _ = np.linalg.qr(a / np.linalg.norm(a, axis=0))
    target = np.concatenate([turned.real, turned.imag], axis=1)
    left = np.sum(target**2, axis=1) - np.sum((target @ q) ** 2, axis=1)
    return float(taus[int(np.argmin(left))])


def _from_both(
    plain: tuple[F64, C128, F64],
    resistor: tuple[F64, C128, F64],
    zs1: C128,
    zs2: C128,
    g0: float,
    priors: Priors,
) -> tuple[C128, Estimate, Estimate, float]:
    f_hz = plain[0]
    s = 2j * math.pi * f_hz
    q = resistor[1] / plain[1]
    var = np.abs(q) ** 2 * (
        plain[2] / np.abs(plain[1]) ** 2
        + resistor[2] / np.abs(resistor[1]) ** 2
        + discrepancy_var(f_hz, priors)
    )
    use = fit_band(f_hz)
    weight = np.abs(q[use]) ** 2 / np.sqrt(var[use])
    z = zs2 - zs1 / q
    design = np.stack([z[use], s[use] * z[use]], axis=1)
    tau = scan_delay(f_hz[use], 1 / q[use], design, weight, 100e-6)

    def model(p: F64) -> C128:
        y = p[0] + s[use] * p[1]
        turn = np.exp(-s[use] * p[2] + p[3])
        return np.asarray(turn * (1 + zs1[use] * y) / (1 + zs2[use] * y))

    # Measured 1/Q carries exp(+jωτ), so a scan that takes exp(-jωτ) off it returns τ itself.
    turned = 1 / q[use] * np.exp(-s[use] * tau) - 1.0
    lead = turned / z[use]
    c_start = float(np.median(lead.imag[-20:] / (2 * math.pi * f_hz[use][-20:])))
    fitted = fit_curve(
        model,
        (
            Parameter("g", g0, 1e-7),
            Parameter("c", max(c_start, 10e-12), 1e-11),
            Parameter("tau", tau, 1e-7),
            Parameter("gain", 0.0, 1e-3, 0.0, priors.reference_gain_u_db / DB),
        ),
        q[use],
        var[use],
    )
    q = q * np.exp(s * fitted.value("tau"))
    y_load = (1 - q) / (q * zs2 - zs1)
    return (
        y_load,
        Estimate(fitted.value("c"), fitted.u("c"), "farad"),
        Estimate(fitted.value("g"), fitted.u("g"), "siemens"),
        math.sqrt(fitted.reduced),
    )


def _from_resistor(
    resistor: tuple[F64, C128, F64],
    r_ohm: float,
    zs2: C128,
    g0: float,
    u_g0: float,
    priors: Priors,
) -> tuple[C128, Estimate, Estimate, float]:
    """Fit the corner alone: level and conductance cannot be told apart, so the prior decides.

    Magnitude only, 150 Hz to 15 kHz: there the interface itself is flat, and its filters' phase
    stays out of it.
    """
    f_hz, h, _ = resistor
    use = (f_hz >= 150.0) & (f_hz <= min(15e3, 0.9 * f_hz[-1]))
    s = 2j * math.pi * f_hz
    level = np.abs(h[use]).astype(np.complex128)
    var = (2e-3 * np.abs(level)) ** 2

    def model(p: F64) -> C128:
        y = p[0] + s[use] * p[1]
        return np.asarray(np.abs(math.exp(p[2]) / (1 + zs2[use] * y)).astype(np.complex128))

    start = math.log(float(np.abs(level[0]))) + math.log1p(r_ohm * g0)
    fitted = fit_curve(
        model,
        (
            Parameter("g", g0, 1e-7, g0, u_g0),
            Parameter("c", priors.node_farad, 1e-11),
            Parameter("gain", start, 1e-2),
        ),
        level,
        var,
    )
    g, c = fitted.value("g"), fitted.value("c")
    return (
        np.asarray(g + s * c),
        Estimate(c, fitted.u("c"), "farad"),
        Estimate(g, fitted.u("g"), "siemens"),
        math.sqrt(fitted.reduced),
    )


def discrepancy_var(f_hz: F64, priors: Priors) -> F64:
    """Relative variance of a response for detail outside every model, shape (k,)."""
    return np.asarray((priors.discrepancy * (1 + priors.discrepancy_hz / f_hz)) ** 2)
