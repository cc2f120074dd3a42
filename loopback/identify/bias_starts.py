"""Where the search for a bias network begins: in circuits already fitted that hold a part of it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from loopback.circuit.hypotheses import Hypothesis


def bias_starts(hypothesis: Hypothesis, coupled: Mapping[str, float]) -> list[list[float]]:
    """List start values of a bias network that split the parts of a fitted coupled resistor.

    Parameters
    ----------
    hypothesis : Hypothesis
        ``bias``.
    coupled : mapping
        Values of the fitted ``coupled`` by name.

    Returns
    -------
    list of list of float
        The last one is far on purpose: from close by, the search may keep a series resistance that
        the simpler circuit had put in the place of the detail.
    """
    r, c = coupled["r_branch_ohm"], max(coupled["c_farad"], 5e-12)
    c_bias, c_plain = max(0.75 * c, 20e-12), min(0.3 * c, 30e-12)
    made = []
    for part, more, across, plain in (
        (0.03, 1.0, c_bias, c_plain), (0.3, 1.0, c_bias, c_plain), (0.7, 1.0, 4 * c_bias, c_plain),
        (0.03, 9.0, 60e-12, 15e-12),
    ):  # fmt: skip
        values = {
            "r_series_ohm": 0.0, "c_branch_farad": more * coupled["c_branch_farad"],
            "r_stopper_ohm": part * r, "r_bias_ohm": (1 - part) * r, "c_bias_farad": across,
            "c_farad": plain,
        }  # fmt: skip
        made.append([values[u.name] for u in hypothesis.unknowns])
    return made


def bias_starts_of_branch(hypothesis: Hypothesis, shelf: Mapping[str, float]) -> list[list[float]]:
    """List start values of a bias network whose bend in the treble a fitted shelf has found.

    Its branch is then the series resistor with the capacitance behind it, and what lies beside it
    the bias resistor; only the coupling capacitor, whose corner is in the bass, is missing.

    Parameters
    ----------
    hypothesis : Hypothesis
        ``bias``.
    shelf : mapping
        Values of the fitted ``shelf`` by name.

    Returns
    -------
    list of list of float
        Empty where nothing lies beside the branch.
    """
    g, stopper = shelf["g_siemens"], shelf["r_branch_ohm"]
    if g <= 0 or g * stopper >= 1:
        return []
    values = {
        "r_series_ohm": 0.0, "r_stopper_ohm": stopper, "r_bias_ohm": 1 / g - stopper,
        "c_bias_farad": shelf["c_branch_farad"], "c_farad": max(shelf["c_farad"], 5e-12),
    }  # fmt: skip
    return [
        [{**values, "c_branch_farad": g / (2 * math.pi * f)}[u.name] for u in hypothesis.unknowns]
        for f in (3.0, 12.0, 50.0)
    ]
