"""Proof that a pedal was in the path at all."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from loopback.identify.priors import Priors
from loopback.identify.weights import DB, discrepancy_var
from loopback.response.reading import Ratio
from loopback.verdict.evidence import Evidence
from loopback.verdict.limits import CONVERTER_DELAY_S
from loopback.verdict.passing import run_state

ENOUGH = 5.0
"""Standard uncertainties by which a run has to differ from the reference."""


def difference_from_reference(ratio: Ratio, priors: Priors) -> tuple[float, float]:
    """Largest level difference from the reference, and the same in standard uncertainties.

    Parameters
    ----------
    ratio : Ratio
        A pedal run over its reference.
    priors : Priors
        For the drift of the treble shape and the scatter of the plugs.

    Returns
    -------
    tuple of float
        dB (means over sixths of the band between 50 Hz and 20 kHz), and dimensionless.
    """
    f_hz = ratio.f_hz
    use = (f_hz >= 50.0) & (f_hz <= 20e3)
    level = 20 * np.log10(np.maximum(np.abs(ratio.t[use]), 1e-12))
    noise = DB * np.sqrt(ratio.var[use] / np.maximum(np.abs(ratio.t[use]) ** 2, 1e-24))
    # Two plugs re-made on a setup of 400 pF, at most, above the corner of the resistor lead.
    plugs = DB * math.sqrt(2) * priors.mating_u_farad / priors.node_farad
    worst_db = worst_u = 0.0
    for part in np.array_split(np.arange(len(level)), 6):
        if part.size == 0:
            continue
        mean = abs(float(np.mean(level[part])))
        shape = priors.shape_u_db * float(np.mean((f_hz[use][part] / 20e3) ** 2))
        random = float(np.mean(noise[part])) / math.sqrt(part.size)
        detail = DB * float(np.sqrt(np.mean(discrepancy_var(f_hz[use][part], priors))))
        u = math.sqrt(ratio.u_gain_db**2 + shape**2 + random**2 + detail**2 + plugs**2)
        worst_db, worst_u = max(worst_db, mean), max(worst_u, mean / u)
    return worst_db, worst_u


def pedal_proven(runs: Sequence[Evidence], priors: Priors) -> tuple[bool, float]:
    """Tell whether some run differs from the reference for a reason that only a pedal has.

    Parameters
    ----------
    runs : sequence of Evidence
        Pedal runs.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    tuple of (bool, float)
        Whether one does, and the largest difference seen in dB.
    """
    proven, largest = False, 0.0
    for e in runs:
        if not e.usable or e.ratio is None:
            continue
        db, in_u = difference_from_reference(e.ratio, priors)
        largest = max(largest, db)
        delayed = e.delay is not None and e.delay.value - 2 * e.delay.u > CONVERTER_DELAY_S.value
        if in_u > ENOUGH or delayed or e.distorts or run_state(e) in ("open", "short"):
            proven = True
    return proven, largest
