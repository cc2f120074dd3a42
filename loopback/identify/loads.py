"""The setup with every load there was, and the output impedance where two loads show it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from loopback.identify.lossy_load import with_loss
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import DB, SetupFound, find_setup
from loopback.plan.runs import Load, RunLabel
from loopback.quantity import Estimate
from loopback.response.reading import RunResponse

LOW_HZ, HIGH_HZ = 200.0, 2000.0
"""Where a load plug is a resistor and the instrument input nearly nothing."""


def find_setups(
    references: Sequence[tuple[RunLabel, RunResponse]], *, priors: Priors = DEFAULT_PRIORS
) -> tuple[dict[Load, SetupFound], Priors]:
    """Find the setup for every load whose references suffice.

    A load plug lowers the plain reference by ``(1 + Zs YL) / (1 + Zs YP)``, from which the output
    impedance follows far better than by any prior; the plug itself is then measured with it.

    Parameters
    ----------
    references : sequence of (RunLabel, RunResponse)
        Coupler runs at the examination's own level; others are passed over.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    setups : dict
        By load; empty without references. A second load is in it only with both feeds.
    priors : Priors
        The same with the output impedance as found.
    """
    own = [(lab, r) for lab, r in references if lab.path == "coupler" and not lab.level_db]
    found: dict[Load, SetupFound] = {}
    source = output_ohm(own, priors)
    if source is not None:
        priors = replace(
            priors,
            source_ohm=source.value,
            source_u_log=max(source.u / source.value, 1e-3),
            source_by_resistor=True,
        )
    loads: tuple[Load, ...] = ("instrument", "line", "plug")
    for load in loads:
        feeds = {lab.feed for lab, _ in own if lab.load == load}
        if not feeds or (load != "instrument" and feeds != {"plain", "resistor"}):
            continue
        setup = find_setup(own, load=load, priors=priors)
        if setup is None:
            continue
        if load == "plug" and "instrument" in found:
            setup = _plugged(setup, found["instrument"])
        else:
            setup, u_delay_s = with_loss(setup, priors)
            if load == "instrument":
                priors = replace(priors, reference_delay_u_s=max(u_delay_s, 1e-9))
        found[load] = setup
    return found, priors


def _plugged(plug: SetupFound, instrument: SetupFound) -> SetupFound:
    """Load with a plug: the same lead and input, and a conductance beside them.

    Behind 1 kΩ a capacitance looks like a delay between the references, and is not told from it.
    """
    use = (plug.f_hz >= LOW_HZ) & (plug.f_hz <= HIGH_HZ)
    g = float(np.mean((plug.y_load - instrument.y_load)[use].real))
    y_load = instrument.y_load + g
    return replace(
        plug, y_load=y_load, z_node=1 / (1 / plug.zs_resistor + y_load), node_c=instrument.node_c
    )


def output_ohm(
    references: Sequence[tuple[RunLabel, RunResponse]], priors: Priors
) -> Estimate | None:
    """Output impedance from plain and resistor references with two loads.

    Parameters
    ----------
    references : sequence of (RunLabel, RunResponse)
        Coupler runs.
    priors : Priors
        For the drift of gain between two of them, and where the search begins.

    Returns
    -------
    Estimate or None
        Ohms; None without both feeds at both the instrument input and a load plug, or when the
        levels allow no impedance between 1 ohm and 10 kilohms.
    """
    levels = {}
    for load in ("instrument", "plug"):
        for feed in ("plain", "resistor"):
            mine = [r for lab, r in references if (lab.load, lab.feed) == (load, feed)]
            if not mine:
                return None
            use = (mine[0].f_hz >= LOW_HZ) & (mine[0].f_hz <= HIGH_HZ)
            levels[load, feed] = float(np.mean([np.mean(np.log(np.abs(r.h[use]))) for r in mine]))
    r_ohm = next((lab.resistor_ohm for lab, _ in references if lab.resistor_ohm), None)
    if r_ohm is None:
        r_ohm = priors.unknown_resistor_ohm

    def conductance(load: str, z: float) -> float:
        q = math.exp(levels[load, "resistor"] - levels[load, "plain"])
        return (1 - q) / (q * (r_ohm + z) - z)

    drop = math.exp(levels["plug", "plain"] - levels["instrument", "plain"])

    def off(z: float) -> float:
        yi, yp = conductance("instrument", z), conductance("plug", z)
        return (1 + z * yi) / (1 + z * yp) - drop

    grid = np.geomspace(1.0, 1e4, 200)
    values = [off(float(z)) for z in grid]
    change = next((i for i in range(199) if values[i] * values[i + 1] < 0), None)
    if change is None:
        return None
    low, high = float(grid[change]), float(grid[change + 1])
    for _ in range(60):
        middle = (low + high) / 2
        if off(low) * off(middle) <= 0:
            high = middle
        else:
            low = middle
    slope = (off(high * 1.001) - off(low * 0.999)) / (high * 1.001 - low * 0.999)
    u_gain = 2 * priors.reference_gain_u_db / DB
    return Estimate(low, abs(drop * u_gain / slope), "ohm")
