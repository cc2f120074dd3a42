"""The last look at the fits that remain: searched to the very end, and as wide as they must be."""

from __future__ import annotations

from collections.abc import Sequence

from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.identify.contact import with_contacts
from loopback.identify.data import HELD_DELAY_U_S, FitData
from loopback.identify.joint import JointFit
from loopback.identify.nuisance import Nuisances
from loopback.identify.priors import Priors
from loopback.identify.problem import Problem
from loopback.identify.profile import searched_on, with_longer_side

FEW: tuple[HypothesisName, ...] = ("wire", "shunt")
"""Their searches have one end, and come to it."""


def finished(
    fits: Sequence[JointFit],
    names: Sequence[HypothesisName],
    data: FitData,
    plan: Nuisances,
    priors: Priors,
) -> tuple[JointFit, ...]:
    """Finish those passive fits that values are read from.

    Parameters
    ----------
    fits : sequence of JointFit
        All that were tried.
    names : sequence of str
        Those that remain.
    data : FitData
        The runs.
    plan : Nuisances
        What disturbs them.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    tuple of JointFit
        In the same order; the others, and stages, as they were.
    """
    told = {n for n in names if not HYPOTHESES[n].active}
    if "wire" in told:
        told.add("shunt")
    plain = any(run.label.feed == "plain" for run in data.runs)
    # Told by delay, what is in line hangs on the output impedance, whose doubt is lopsided.
    held = plain and all(run.delay_u_s <= HELD_DELAY_U_S for run in data.runs)

    def finish(fit: JointFit) -> JointFit:
        if fit.hypothesis not in told:
            return fit
        hypothesis = HYPOTHESES[fit.hypothesis]
        problem = Problem(hypothesis if plain else with_contacts(hypothesis), data, plan, priors)
        if fit.hypothesis not in FEW:
            fit = searched_on(problem, fit)
        return with_longer_side(problem, fit, ("r_series_ohm",)) if held else fit

    return tuple(finish(fit) for fit in fits)
