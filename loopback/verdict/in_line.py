"""Values of the part in line, from the fit of the one circuit that remains."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.circuit.hypotheses import HypothesisName
from loopback.identify.found import PartInLine
from loopback.identify.identify import Identified


def part_in_line(
    consistent: Sequence[HypothesisName], found: Identified | None
) -> PartInLine | None:
    """Take the values of a capacitor or a transformer in line out of its fit.

    Parameters
    ----------
    consistent : sequence of str
        Circuits that the runs cannot tell apart.
    found : Identified or None
        Joint fit; None where nothing was fitted.

    Returns
    -------
    PartInLine or None
        None where another circuit remains beside it, or none of the two does.
    """
    if found is None or len(consistent) != 1:
        return None
    fit = found.fit(consistent[0])
    if fit is None:
        return None
    known = fit.estimates
    match fit.hypothesis:
        case "blocked":
            return PartInLine(c_farad=known["c_series_farad"])
        case "transformer":
            return PartInLine(
                main_henry=known["l_main_henry"],
                leak_henry=known["l_leak_henry"],
                ratio=known["ratio"],
            )
    return None
