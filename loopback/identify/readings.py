"""What a meter would read: values that every hypothesis has, computed from its own unknowns."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from loopback.arrays import F64
from loopback.circuit.hypotheses import HYPOTHESES
from loopback.identify.joint import JointFit
from loopback.identify.setup import DB
from loopback.quantity import Estimate

Values = dict[str, float]
TREBLE_HZ, TOP_HZ = 2000.0, 20e3
"""Where the middle of the audio band ends, and the band itself (convention)."""


@dataclass(frozen=True, slots=True)
class Readings:
    """A path as on a meter; every figure is unbounded and may lie below zero.

    Parameters
    ----------
    c_farad : Estimate
        Tip to sleeve: capacitance that acts at all frequencies. Of an active path, its input.
    g_siemens : Estimate
        Tip to sleeve: conductance in the middle of the audio band. Of an active path, its input.
    direct_g_siemens : Estimate
        What an ohmmeter would find: what a coupling capacitor blocks is not in it.
    series_ohm : Estimate or None
        In to out; None for an active path.
    coupling_farad : Estimate or None
        Capacitor in front of the load; None where there is none, or where it loads the treble only.
    gain_db : Estimate or None
        Of an active path.
    output_ohm : Estimate or None
        Of an active path.
    """

    c_farad: Estimate
    g_siemens: Estimate
    direct_g_siemens: Estimate
    series_ohm: Estimate | None
    coupling_farad: Estimate | None = None
    gain_db: Estimate | None = None
    output_ohm: Estimate | None = None

    def widened(self, other: Readings) -> Readings:
        """Add the doubt about which of two circuits it is.

        Parameters
        ----------
        other : Readings
            Of another circuit that describes the same runs.

        Returns
        -------
        Readings
            These values; each uncertainty reaches as far as that of the other circuit does.
        """
        return replace(
            self,
            c_farad=_reaching(self.c_farad, other.c_farad),
            g_siemens=_reaching(self.g_siemens, other.g_siemens),
            direct_g_siemens=_reaching(self.direct_g_siemens, other.direct_g_siemens),
            series_ohm=_reaching(self.series_ohm, other.series_ohm)
            if self.series_ohm is not None and other.series_ohm is not None
            else self.series_ohm,
        )


def _reaching(one: Estimate, other: Estimate) -> Estimate:
    return replace(one, u=max(one.u, math.hypot(other.u, other.value - one.value)))


def readings_of(fit: JointFit) -> Readings:
    """Read a fit as a meter would.

    Parameters
    ----------
    fit : JointFit
        Of any hypothesis but those on which nothing passes.

    Returns
    -------
    Readings
        With uncertainties by first-order propagation of the whole covariance (JCGM 100:2008, 5.2).
    """

    def of(function: Callable[[Values], float], unit: str) -> Estimate:
        return _carried(fit, function, unit)

    name = fit.hypothesis
    if HYPOTHESES[name].active:
        # A corner below the band is not seen; then the two conductances are told only as a sum.
        return Readings(
            c_farad=of(lambda v: v["c_input_farad"], "farad"),
            g_siemens=of(lambda v: v["g_pulldown_siemens"] + 1 / v["r_input_ohm"], "siemens"),
            direct_g_siemens=of(lambda v: v["g_pulldown_siemens"], "siemens"),
            series_ohm=None,
            gain_db=of(lambda v: DB * (v["gain_neper"] - math.log1p(_bled(v))), "dB"),
            output_ohm=of(lambda v: v["r_output_ohm"] / (1 + _bled(v)), "ohm"),
        )
    series = of(lambda v: v["r_series_ohm"], "ohm") if "r_series_ohm" in fit.names else None
    corner_hz = _corner_hz(fit) if "r_branch_ohm" in fit.names else 0.0
    # A branch with its corner above the band is a capacitance, and no load in the middle of it;
    # with the corner in the treble it is no load in the middle either, where something else is.
    of_treble = corner_hz > (TREBLE_HZ if name == "shelf" else TOP_HZ)
    beyond = corner_hz > TOP_HZ

    def across(v: Values) -> float:
        branch = v["c_branch_farad"] if beyond else 0.0
        return v.get("c_farad", 0.0) + v.get("c_output_farad", 0.0) + branch

    c = of(across, "farad")

    def direct(v: Values) -> float:
        return v.get("g_siemens", 0.0) + (
            0.0 if name in ("blocked", "switched") else v.get("g_output_siemens", 0.0)
        )

    def middle(v: Values) -> float:
        g = v.get("g_siemens", 0.0) + v.get("g_output_siemens", 0.0) + v.get("g_bias_siemens", 0.0)
        return g + (0.0 if of_treble else _branch(v))

    coupling = None
    if "c_branch_farad" in fit.names and not of_treble:
        coupling = of(lambda v: v["c_branch_farad"], "farad")
    return Readings(
        c, of(middle, "siemens"), of(direct, "siemens"), series, coupling_farad=coupling
    )


def _corner_hz(fit: JointFit) -> float:
    return 1 / (2 * math.pi * fit.value("r_branch_ohm") * fit.value("c_branch_farad"))


def _bled(v: Values) -> float:
    """Output resistance over the resistor behind the output: what it takes off both."""
    return v["r_output_ohm"] / v["r_bleed_ohm"]


def _branch(v: Values) -> float:
    if "r_bias_ohm" in v:
        return 1 / (v["r_stopper_ohm"] + v["r_bias_ohm"])
    return 1 / v["r_branch_ohm"] if "r_branch_ohm" in v else 0.0


def _carried(fit: JointFit, function: Callable[[Values], float], unit: str) -> Estimate:
    unknowns = HYPOTHESES[fit.hypothesis].unknowns

    def at(search: F64) -> float:
        values = {
            u.name: math.exp(min(x, 80.0)) if u.log else x * u.step
            for u, x in zip(unknowns, search.tolist(), strict=True)
        }
        return function(values)

    steps = np.eye(len(unknowns)) * 1e-4
    slope = np.array([(at(fit.search + h) - at(fit.search - h)) / 2e-4 for h in steps])
    variance = float(slope @ fit.covariance @ slope)
    common = tuple((cause, float(slope @ moved)) for cause, moved in fit.common.items())
    return Estimate(at(fit.search), math.sqrt(max(variance, 0.0)), unit, common=common)
