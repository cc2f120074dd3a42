"""How steady a setup is: drift of gain and treble, scatter of plugs, as believed or as learned."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SetupLearned:
    """Sizes of what differs from run to run on one setup, each a standard deviation.

    Parameters
    ----------
    gain_u_db : float
        Gain, independent from run to run.
    walk_u_db : float
        Step of a random walk of the gain from run to run.
    shape_u_db : float
        Level at 20 kHz against 1 kHz.
    mating_u_farad : float
        Capacitance of one plug from plugging it again.
    references : int
        How many reference runs stand behind it beside the priors.
    trust_runs : bool
        True: a run whose own doubt of gain (`Ratio.u_gain_db`) is larger keeps it.
    """

    gain_u_db: float = 0.0020
    walk_u_db: float = 0.0010
    shape_u_db: float = 0.0010
    mating_u_farad: float = 0.18e-12
    references: int = 0
    trust_runs: bool = False


BELIEVED = SetupLearned()
"""Common practice for a warmed-up interface and leads taped down."""
