"""Whether a fit describes the data at all, asked before any comparison."""

from __future__ import annotations

from loopback.circuit.hypotheses import HYPOTHESES
from loopback.identify.joint import JointFit

EXCESS = 1.6
"""Root mean square misfit over what noise and the stated discrepancy allow."""
WORST = 3.5
"""The same over the worst octave of one run."""
BELOW_ZERO = 5.0
"""Standard uncertainties below zero at which a passive value is impossible."""
ONE_END = 8.0
"""The same of one end of a line alone, whose other end has more than that too much."""
LEAST_C_FARAD = 8e-12
LEAST_G_SIEMENS = 50e-9
"""By less than this, systematic effects take a value below zero (computed from drift)."""

MOST_ACROSS_FARAD = 10e-9
MOST_MAIN_HENRY = 10e3
LEAST_INPUT_OHM = 1e3
"""What windings have between them, and inductance, goes up to a hundredth and a tenth of these, and
inputs of effects down to 5 kilohm (common practice): beyond, the fit borrows another circuit."""


def describes(fit: JointFit) -> bool:
    """Tell whether a fit leaves no more than noise and the stated discrepancy.

    A winner among hypotheses none of which does is a false one.

    Parameters
    ----------
    fit : JointFit
        Any.

    Returns
    -------
    bool
        An absolute test, on the data alone; priors have no part in it.
    """
    return fit.excess <= EXCESS and fit.worst <= WORST


def impossible(fit: JointFit) -> str | None:
    """Name of a value that no such circuit has, or None.

    Parameters
    ----------
    fit : JointFit
        Of any hypothesis.

    Returns
    -------
    str or None
        Capacitance, conductance and series resistance may be fitted below zero, so that their
        intervals are honest; far below zero they mean another circuit, and so do parts of a size
        that nobody makes. A stage has few values that could be impossible.
    """
    for name, most in (("c_across_farad", MOST_ACROSS_FARAD), ("l_main_henry", MOST_MAIN_HENRY)):
        if name in fit.names and fit.value(name) > most:
            return name
    if fit.hypothesis == "loaded_buffer":
        return "r_branch_ohm" if fit.value("r_branch_ohm") < LEAST_INPUT_OHM else None
    if HYPOTHESES[fit.hypothesis].active:
        return None
    for names, least in (
        (("c_farad", "c_output_farad"), LEAST_C_FARAD),
        (("g_siemens", "g_output_siemens"), LEAST_G_SIEMENS),
        (("r_series_ohm",), 0.0),
    ):
        there = [n for n in names if n in fit.names]
        if not there:
            continue
        # Ends of a line are hard to tell apart: their sum is what counts, unless one end would
        # have to give back what the other has: a detail of another circuit.
        far = [n for n in there if fit.value(n) < -max(ONE_END * fit.u(n), 10 * least)]
        if len(there) > 1 and far and least:
            return far[0]
        total = sum(fit.value(n) for n in there)
        at = [fit.names.index(n) for n in there]
        block = fit.covariance[at][:, at]
        scale = [
            fit.u(n) / max(fit.covariance[i, i], 1e-300) ** 0.5
            for n, i in zip(there, at, strict=True)
        ]
        u = float(
            sum(scale[i] * block[i, j] * scale[j] for i in range(len(at)) for j in range(len(at)))
        )
        if total < -max(BELOW_ZERO * max(u, 0.0) ** 0.5, least):
            return there[0]
    return None
