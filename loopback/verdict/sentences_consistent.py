"""Which circuits fit the runs, and what else from outside would look the same."""

from __future__ import annotations

from loopback.circuit.hypotheses import HypothesisName
from loopback.verdict.limits import FITTED_G
from loopback.verdict.result import Result

CIRCUITS: dict[HypothesisName, str] = {
    "wire": "wiring and switch contacts alone",
    "shunt": "wiring with a resistor at a jack; an effect's input of high impedance left connected "
    "would look the same",
    "coupled": "an effect's input left connected, or a tone network, behind a capacitor",
    "shelf": "a resistor at a jack and an effect's input or a tone network behind a capacitor",
    "bias": "an effect's input left connected: coupling capacitor, series resistor, bias",
    "inline": "a resistor in line with a load behind it",
    "blocked": "a capacitor in line, as of an electronic switch without buffers",
    "switched": "an electronic switch without buffers, with its capacitors and bias in line",
    "transformer": "a transformer in line",
    "buffer": "one stage, or several; one at the output alone would look the same",
    "loaded_buffer": "a stage, with an effect's input left on the line beside it",
    "open": "nothing but stray capacitance",
    "short": "a short to ground",
}


def consistent_text(result: Result) -> str:
    """Name the circuits that the runs cannot tell apart.

    Parameters
    ----------
    result : Result
        The answer.

    Returns
    -------
    str
        Without a full stop; empty where nothing was fitted.
    """
    names = list(result.consistent)
    shunt = result.shunt
    if result.path == "loaded" and names == ["wire"]:
        return "shielded wiring, or a part that is a capacitor, such as a mute across the output"
    if result.path == "faulty" and names == ["wire"] and result.series_ohm is not None:
        return "wiring with a weak joint in line, or with a part fitted there"
    fitted = shunt is not None and shunt.g_siemens.value - 2 * shunt.g_siemens.u > FITTED_G.value
    if names == ["shunt"] and not fitted and result.path != "undecided":
        return "wiring with leakage, or with a sensing input of very high resistance"
    return "; or ".join(CIRCUITS[name] for name in names)
