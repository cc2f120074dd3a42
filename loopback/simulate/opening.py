"""One opening of the stream: a run as it really is."""

from __future__ import annotations

from dataclasses import dataclass

from loopback.simulate.imperfections_drift import Drift
from loopback.simulate.leads import Chance
from loopback.simulate.line import Line
from loopback.simulate.scenario import Actual


@dataclass(frozen=True, slots=True)
class Opening:
    """What is decided when a stream is opened.

    Parameters
    ----------
    run : int
        Number of the run, from 1.
    actual : Actual
        What is really connected.
    drift : Drift
        How gain, treble and delay stand.
    line : Line
        What the run does to what is played.
    chance : Chance
        How the leads lie.
    latency : int
        Samples.
    beside : Line or None
        What input 1 hears when the return lead is in input 2 and there is no check cable.
    """

    run: int
    actual: Actual
    drift: Drift
    line: Line
    chance: Chance
    latency: int
    beside: Line | None
