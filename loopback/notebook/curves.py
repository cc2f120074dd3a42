"""The curves of an analysis as arrays with their unit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.facts import Analysis, RunFacts
from loopback.plan.runs import Feed, Position, Power
from loopback.quantity import coverage_factor
from loopback.report.run_names import is_bypass, run_name
from loopback.response.band import level_db

CurveKind = Literal["insertion", "phase", "noise"]


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve of one run, as arrays.

    Parameters
    ----------
    name : str
        Of the run, as beside its curve in a picture; a star marks bypass.
    run_id : str
        Id of the run in its examination.
    feed : {"plain", "resistor"}
        The lead.
    power : {"on", "off"} or None
        None for a reference.
    position : {"a", "b", "none"} or None
        Footswitch: as found, pressed once, or there is none; None for a reference.
    in_bypass : bool
        Whether the data found this position to be bypass.
    unit : str
        Of `value` and `half_width`: ``"dB"``, ``"degree"`` or ``"dBFS/Hz"``.
    f_hz : ndarray of float64, shape (k,)
        Rising frequencies, hertz.
    value : ndarray of float64, shape (k,)
        In `unit`.
    half_width : ndarray of float64, shape (k,) or None
        Half of the 95 % interval in `unit`, drift of the gain included; None: not computed for
        this kind.
    """

    name: str
    run_id: str
    feed: Feed
    power: Power | None
    position: Position | None
    in_bypass: bool
    unit: str
    f_hz: F64 = field(repr=False)
    value: F64 = field(repr=False)
    half_width: F64 | None = field(repr=False)


def curves(
    analysis: Analysis,
    kind: CurveKind = "insertion",
    *,
    feed: Feed | None = None,
    power: Power | None = None,
    in_bypass: bool | None = None,
) -> tuple[Curve, ...]:
    """Take the curves of an analysis as arrays.

    Parameters
    ----------
    analysis : Analysis
        From `loopback.analyse`.
    kind : {"insertion", "phase", "noise"}
        insertion: level of each pedal run over its reference, dB. phase: the same ratio's,
        unwrapped, degrees. noise: density in the silence of every run, references included, dBFS
        in 1 Hz.
    feed : {"plain", "resistor"} or None
        Only runs with this lead; None: both.
    power : {"on", "off"} or None
        Only runs with this supply; None: all.
    in_bypass : bool or None
        Only runs in bypass, or only all others; None: all.

    Returns
    -------
    tuple of Curve
        In the order of the runs; empty where no run fits.

    Raises
    ------
    ArgumentError
        If `kind` is none of those named.

    Examples
    --------
    >>> import tempfile
    >>> import numpy as np
    >>> from loopback import analyse, simulate_examination
    >>> with tempfile.TemporaryDirectory() as place:
    ...     made = simulate_examination(place + "/lamp", "quarry-lamp", plan="quick", sweep_s=1.0)
    ...     analysis = analyse(made)
    >>> unpowered = curves(analysis, "insertion", power="off")[0]
    >>> round(float(np.interp(1000.0, unpowered.f_hz, unpowered.value)), 1)  # 1 MΩ, 100 kΩ feed
    -0.7
    """
    if kind not in ("insertion", "phase", "noise"):
        raise ArgumentError(
            f'There are no curves of kind "{kind}".', "", "There are: insertion, phase, noise."
        )
    runs = analysis.pedal_runs
    if kind == "noise":
        runs = (*analysis.references, *runs)
    found = (_curve(facts, kind, analysis.result.bypass_position) for facts in runs)
    return tuple(
        curve
        for curve in found
        if curve is not None
        and feed in (None, curve.feed)
        and power in (None, curve.power)
        and in_bypass in (None, curve.in_bypass)
    )


def _curve(facts: RunFacts, kind: CurveKind, bypass: str | None) -> Curve | None:
    label = facts.run.label
    half: F64 | None = None
    if kind == "noise":
        if facts.noise_f_hz is None or facts.noise_psd is None:
            return None
        f_hz, unit = facts.noise_f_hz, "dBFS/Hz"
        value = 10 * np.log10(np.maximum(2 * facts.noise_psd, np.finfo(np.float64).tiny))
    else:
        if facts.ratio is None:
            return None
        f_hz = facts.ratio.f_hz
        if kind == "insertion":
            unit = "dB"
            value, u_db = level_db(facts.ratio)
            half = coverage_factor() * np.hypot(u_db, facts.ratio.u_gain_db)
        else:
            unit = "degree"
            value = np.degrees(np.unwrap(np.angle(facts.ratio.t)))
    return Curve(
        run_name(facts.run, bypass_position=bypass),
        facts.run.id,
        label.feed,
        label.power,
        label.position,
        is_bypass(label, bypass),
        unit,
        f_hz,
        value,
        half,
    )
