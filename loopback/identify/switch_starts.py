"""When an electronic switch is looked for, and where: from one capacitor that takes its place."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from loopback.circuit.hypotheses import HYPOTHESES, Hypothesis
from loopback.identify.joint import JointFit

PARTS = ((2.0, 2.0), (1.2, 6.0), (6.0, 1.2))
"""Two capacitors in series that make one, each over it."""
IN_LINE = 0.1
"""Part of the sum of squares of all others at which a capacitor in line is looked at closer."""


def blocks(fits: Sequence[JointFit]) -> bool:
    """Tell whether a capacitor in line explains nearly all that no part across the line does.

    Parameters
    ----------
    fits : sequence of JointFit
        All that were tried so far.

    Returns
    -------
    bool
        False too where ``blocked`` was not tried, or is the only passive one.
    """
    passive = {f.hypothesis: f.chi2 for f in fits if not HYPOTHESES[f.hypothesis].active}
    others = [chi2 for name, chi2 in passive.items() if name != "blocked"]
    return bool(others) and passive.get("blocked", math.inf) < IN_LINE * min(others)


def switch_starts(hypothesis: Hypothesis, blocked: Mapping[str, float]) -> list[list[float]]:
    """List start values of a switch between two capacitors that split the one already fitted.

    Parameters
    ----------
    hypothesis : Hypothesis
        ``switched``.
    blocked : mapping
        Values of the fitted ``blocked`` by name.

    Returns
    -------
    list of list of float
        What lies across the line is shared by the input, the bias and the output.
    """
    g = max(blocked["g_siemens"] + blocked["g_output_siemens"], 1e-7)
    c = blocked["c_farad"] + blocked["c_output_farad"]
    values = {
        "g_siemens": 0.0, "g_bias_siemens": 0.6 * g, "g_output_siemens": 0.4 * g,
        "c_farad": 0.5 * c, "c_output_farad": 0.5 * c, "r_series_ohm": blocked["r_series_ohm"],
    }  # fmt: skip
    one = blocked["c_series_farad"]
    return [
        [
            {**values, "c_first_farad": a * one, "c_series_farad": b * one}[u.name]
            for u in hypothesis.unknowns
        ]
        for a, b in PARTS
    ]
