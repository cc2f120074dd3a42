"""A decision about the path, and what the rules that make it are given."""

from __future__ import annotations

from dataclasses import dataclass, field

from loopback.circuit.hypotheses import HypothesisName
from loopback.identify.chain_found import Witness
from loopback.identify.found import BufferInput, Network, Shunt
from loopback.identify.identify import Identified
from loopback.identify.priors import Priors
from loopback.identify.setup import SetupFound
from loopback.quantity import Estimate
from loopback.verdict.codes import TellCode
from loopback.verdict.passing import Table
from loopback.verdict.result import PathClass, Reason
from loopback.verdict.view import View


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything the path rules look at.

    Parameters
    ----------
    on, off, turned : View
        Bypass position with power, without, and with in and out exchanged (with power).
    table : Table
        Power and switch table.
    setup : SetupFound or None
        None without any reference.
    priors : Priors
        Stated beliefs.
    found : Identified or None
        Joint fit of all runs of the bypass position; None where there is nothing to fit.
    witnesses : tuple of Witness
        AD - BC of the bypass position, where a second load or a reversed run shows it.
    timed : bool
        Whether a check cable or the clock holds the delay of the plain run.
    """

    on: View
    off: View
    turned: View
    table: Table
    setup: SetupFound | None
    priors: Priors
    found: Identified | None = None
    witnesses: tuple[Witness, ...] = ()
    timed: bool = False

    @property
    def main(self) -> View:
        """The view that the answer is about: with power where there is one."""
        return self.on if self.on.state is not None else self.off


@dataclass(frozen=True, slots=True)
class Decision:
    """What a rule found.

    Parameters
    ----------
    path : str
        The class.
    certainty : float or None
        Probability behind it.
    reasons : list of Reason
        Most telling first.
    alternatives, excluded : tuple of str
        What stays possible, and what does not.
    would_tell : tuple of str
        Runs that would settle it.
    shunt : Shunt or None
        What lies across the line of a passive path.
    network : Network or None
        For a load behind a capacitor.
    buffer : BufferInput or None
        For an active path.
    series_ohm : Estimate or None
        In to out; may be no more than a bound.
    consistent : tuple of str
        Circuits that the runs cannot tell apart, most probable first.
    """

    path: PathClass
    certainty: float | None
    reasons: list[Reason] = field(default_factory=list)
    alternatives: tuple[PathClass, ...] = ()
    excluded: tuple[PathClass, ...] = ()
    would_tell: tuple[TellCode, ...] = ()
    shunt: Shunt | None = None
    network: Network | None = None
    buffer: BufferInput | None = None
    series_ohm: Estimate | None = None
    consistent: tuple[HypothesisName, ...] = ()


def undecided(
    alternatives: tuple[PathClass, ...],
    reasons: list[Reason],
    would_tell: tuple[TellCode, ...],
    excluded: tuple[PathClass, ...] = (),
    certainty: float | None = None,
) -> Decision:
    """Make the answer "cannot tell", with what is left and what would tell.

    Parameters
    ----------
    alternatives : tuple of str
        Classes that stay possible.
    reasons : list of Reason
        Evidence, most telling first.
    would_tell : tuple of str
        Runs that would settle it.
    excluded : tuple of str
        Classes that the data rule out.
    certainty : float or None
        Probability of what is excluded or near.

    Returns
    -------
    Decision
        With path "undecided".
    """
    return Decision("undecided", certainty, reasons, alternatives, excluded, would_tell)
