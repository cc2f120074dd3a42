"""What runs say in numbers of a path that hardly passes: level, farads across, ohms to ground."""

from __future__ import annotations

import math

import numpy as np

from loopback.identify.setup import SetupFound
from loopback.plan.runs import Position
from loopback.verdict.evidence import Evidence, level_at, level_between
from loopback.verdict.faults.record import Case

_FLOOR_DB = 6.0
_ALIKE_DB = 0.02


def switches(case: Case) -> bool:
    """Tell whether the runs show that a press changes something.

    Parameters
    ----------
    case : Case
        Result and runs.

    Returns
    -------
    bool
        False also where one position was looked at: a box without a footswitch is no pedal with
        a wrong part.
    """
    apart = positions_apart_db(case)
    return apart is not None and apart > _ALIKE_DB


def across_farad(run: Evidence, setup: SetupFound | None) -> float | None:
    """Capacitance that couples in to out of a dead path, from its level at the treble.

    There the return lead is all the load: ``T H0 = C / (C + C_lead)`` for either feed.

    Parameters
    ----------
    run : Evidence
        A run in which nothing else passes.
    setup : SetupFound or None
        For the capacitance of lead and input; None: not known.

    Returns
    -------
    float or None
        Farads; None without a setup, or where more than half gets across.
    """
    if setup is None or run.ratio is None:
        return None
    f_hz = min(20e3, 0.9 * float(run.ratio.f_hz[-1]))
    share = 10 ** (level_at(run.ratio, f_hz) / 20) * through(run, setup, f_hz)
    return None if share > 0.5 else float(setup.node_c.value * share / (1 - share))


def positions_apart_db(case: Case) -> float | None:
    """Give the largest difference of the two positions with power.

    Parameters
    ----------
    case : Case
        Result and runs.

    Returns
    -------
    float or None
        dB, 50 Hz to 15 kHz; None: one of them was not looked at.
    """
    pairs = [
        _apart_db(one, two)
        for one in case.of("a", powered=True)
        for two in case.of("b", powered=True)
        if one.label.feed == two.label.feed
    ]
    return max(pairs, default=None)


def _apart_db(one: Evidence, two: Evidence) -> float:
    assert one.ratio is not None
    assert two.ratio is not None
    use = (one.ratio.f_hz >= 50.0) & (one.ratio.f_hz <= 15e3)
    apart = np.abs(one.ratio.t[use]) / np.maximum(np.abs(two.ratio.t[use]), 1e-12)
    return float(np.max(np.abs(20 * np.log10(apart))))


def ohm_to_ground(case: Case, position: Position) -> tuple[float, bool]:
    """Resistance to ground of a shorted position.

    Parameters
    ----------
    case : Case
        Result and runs.
    position : str
        Of the footswitch.

    Returns
    -------
    ohm : float
        Ohms; inf where nothing tells.
    bound : bool
        Whether it is no more than an upper bound.
    """
    runs = [*case.of(position, powered=False), *case.of(position, powered=True)]
    runs.sort(key=lambda e: e.label.feed != "plain")
    if not runs:
        return math.inf, True
    # Through the resistor what crosses beside the pedal is as large as tenths of an ohm.
    bound = runs[0].label.feed == "resistor" or in_noise(runs[0])
    return ohm_of(runs[0], case), bound


def ohm_of(run: Evidence, case: Case) -> float:
    """Resistance to ground that leaves the level of a run.

    Parameters
    ----------
    run : Evidence
        A run in which nothing passes but what is not held to ground.
    case : Case
        For the setup.

    Returns
    -------
    float
        Ohms; inf without a setup or a ratio.
    """
    setup = case.setup
    if run.ratio is None or setup is None:
        return math.inf
    share = 10 ** (level_db(run) / 20) * through(run, setup, 1000.0)
    if run.label.feed == "plain":
        source = setup.source_ohm.value
    else:
        source = run.label.resistor_ohm or (setup.resistor.value if setup.resistor else 100e3)
    return source * share / max(1 - share, 1e-9)


def through(run: Evidence, setup: SetupFound, f_hz: float) -> float:
    """Level of the reference itself, over the source.

    Parameters
    ----------
    run : Evidence
        For its feed.
    setup : SetupFound
        Source and load of the reference.
    f_hz : float
        Where.

    Returns
    -------
    float
        Ratio of voltages.
    """
    source = setup.zs_plain if run.label.feed == "plain" else setup.zs_resistor
    at = int(np.argmin(np.abs(np.log(setup.f_hz / f_hz))))
    return float(1 / np.abs(1 + source[at] * setup.y_load[at]))


def level_db(run: Evidence) -> float:
    """Level at 1 kHz over the reference.

    Parameters
    ----------
    run : Evidence
        Any run.

    Returns
    -------
    float
        dB; nan without a ratio.
    """
    return math.nan if run.ratio is None else level_at(run.ratio, 1000.0)


def in_noise(run: Evidence) -> bool:
    """Tell whether a run is hardly above its noise, 200 Hz to 2 kHz.

    Parameters
    ----------
    run : Evidence
        With a ratio.

    Returns
    -------
    bool
        True below 6 dB.
    """
    assert run.ratio is not None
    use = (run.ratio.f_hz >= 200.0) & (run.ratio.f_hz <= 2000.0)
    floor = float(np.median(run.ratio.noise_db[use]))
    return level_between(run.ratio, 200.0, 2000.0) < floor + _FLOOR_DB
