"""What differs from run to run: gain, treble, delay, leads; a pure function of seed and run."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads

_STREAM_RUN = 1
_STREAM_MATING = 2
_STREAM_TAKE = 3


@dataclass(frozen=True, slots=True)
class Drift:
    """Where one run stands.

    Parameters
    ----------
    gain_db, check_gain_db : float
        Gain of path and check channel relative to nominal.
    treble_db : float
        Level of the path at 20 kHz relative to nominal.
    delay_s : float
        Delay of the path relative to nominal, beyond whole samples.
    jump_samples : int
        What this opening of the stream adds to the latency.
    lead_a_f, return_f : float
        How far the leads' capacitances have walked, farad.
    """

    gain_db: float
    check_gain_db: float
    treble_db: float
    delay_s: float
    jump_samples: int
    lead_a_f: float
    return_f: float


def drift_of_run(interface: InterfaceModel, leads: Leads, seed: int, run: int) -> Drift:
    """Draw what differs in one run: independent parts, and sums of the steps of all runs so far.

    Parameters
    ----------
    interface : InterfaceModel
        Sizes of its drifts.
    leads : Leads
        Size of the leads' walk.
    seed : int
        Of the scenario.
    run : int
        Number of the run, from 1.

    Returns
    -------
    Drift
        The same for the same arguments.
    """
    draws = np.array([_draws(seed, r) for r in range(1, run + 1)])
    now, walked = draws[-1], draws.sum(axis=0)
    common, own = math.sqrt(interface.gain_shared), math.sqrt(1 - interface.gain_shared)
    steady, walk = interface.gain_drift_db, interface.gain_walk_db
    jump = interface.latency_jump_samples
    rng = np.random.default_rng([seed, run, _STREAM_RUN, 1])
    return Drift(
        gain_db=steady * float(common * now[0] + own * now[1])
        + walk * float(common * walked[2] + own * walked[3]),
        check_gain_db=steady * float(common * now[0] + own * now[4])
        + walk * float(common * walked[2] + own * walked[5]),
        treble_db=interface.treble_drift_db * float(now[6]),
        delay_s=interface.delay_drift_s * float(now[7]),
        jump_samples=int(rng.integers(-jump, jump + 1)),
        lead_a_f=leads.walk_f * float(walked[8]),
        return_f=leads.walk_f * float(walked[9]),
    )


def mating_of_run(leads: Leads, seed: int, run: int) -> tuple[float, float]:
    """Capacitance that plugging in this run left at the pedal's input and output end.

    Parameters
    ----------
    leads : Leads
        Size of the scatter.
    seed : int
        Of the scenario.
    run : int
        The run in which that end was plugged last.

    Returns
    -------
    tuple of float
        Farad, input end and output end.
    """
    a, b = np.random.default_rng([seed, run, _STREAM_MATING]).standard_normal(2)
    return leads.mating_f * float(a), leads.mating_f * float(b)


def take_generator(seed: int, run: int, take: int) -> np.random.Generator:
    """Source of chance for one recording: noise, phase of the mains, gain from take to take.

    Parameters
    ----------
    seed : int
        Of the scenario.
    run, take : int
        Numbers from 1; take 0 is the long silence.

    Returns
    -------
    numpy.random.Generator
        Independent of those of all other recordings.
    """
    return np.random.default_rng([seed, run, _STREAM_TAKE, take])


def _draws(seed: int, run: int) -> F64:
    return np.random.default_rng([seed, run, _STREAM_RUN]).standard_normal(10)
