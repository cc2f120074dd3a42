"""What this setup is: load admittance, setup capacitance, load resistance, from reference runs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from loopback.arrays import C128, F64
from loopback.identify.load_curve import load_from_both, load_from_resistor, mean_response
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.weights import DB as DB
from loopback.identify.weights import discrepancy_var as discrepancy_var
from loopback.identify.weights import fit_band as fit_band
from loopback.plan.runs import Load, ResistorEnd, RunLabel
from loopback.quantity import Estimate
from loopback.response.reading import RunResponse


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
    plain = mean_response([r for lab, r in chosen if lab.feed == "plain"])
    resistor = mean_response([r for lab, r in chosen if lab.feed == "resistor"])
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
        y_load, c, g, excess = load_from_both(plain, resistor, zs_plain, zs_resistor, g0, priors)
        u_scale = math.hypot(u_resistor, priors.reference_gain_u_db / DB)
    elif resistor is not None:
        y_load, c, g, excess = load_from_resistor(resistor, r_ohm, zs_resistor, g0, u_g0, priors)
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
