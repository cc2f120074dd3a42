"""The joint fit as the verdict uses it: its runs, and its numbers as records of the result."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.identify.data import PedalRun
from loopback.identify.found import BufferInput, Network, Shunt
from loopback.identify.identify import Identified, identify
from loopback.identify.joint import JointFit
from loopback.identify.learned import SetupLearned
from loopback.identify.priors import Priors
from loopback.identify.readings import Readings, readings_of
from loopback.identify.setup import SetupFound
from loopback.identify.whole_samples import Clock, held_by_clock
from loopback.plan.runs import Load, Position
from loopback.response.reading import Ratio
from loopback.verdict.evidence import Evidence

BEHIND: tuple[HypothesisName, ...] = ("coupled", "shelf", "bias")
"""Circuits with a resistor that reaches the line through a capacitor."""
RESOLVED = 0.5
"""An output resistance is told when the half-width of its interval is a smaller part of it; with
one load it is all but its prior."""
CLOCK_U_S = 5e-9
"""A clock that holds delays worse than this is not used (judgement)."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """What a joint fit is made with.

    Parameters
    ----------
    setups : mapping
        Setup by load.
    learned : SetupLearned or None
        How steady the setup is; None: as the priors have it.
    priors : Priors
        Stated beliefs.
    clock : Clock or None
        What holds delays without a check cable; None: nothing does.
    """

    setups: Mapping[Load, SetupFound]
    learned: SetupLearned | None
    priors: Priors
    clock: Clock | None = None


def fit_position(
    evidence: Sequence[Evidence],
    position: Position | None,
    how: Fitting,
) -> Identified | None:
    """Fit all usable runs of one switch position at the examination's own level.

    Parameters
    ----------
    evidence : sequence of Evidence
        All pedal runs, of any load and direction.
    position : str or None
        Switch position.
    how : Fitting
        Setups and beliefs.

    Returns
    -------
    Identified or None
        None without a resistor run among them: plain runs alone are judged by what they exclude.
    """
    runs = [
        PedalRun(
            e.label,
            _timed(e, how.clock),
            int(e.run_id),
            tuple(int(i) for i in e.ratio.reference_ids),
        )
        for e in evidence
        if e.usable
        and e.ratio is not None
        and (e.label.position or "none") == position
        and not e.label.level_db
    ]
    feeds = {r.label.feed for r in runs if r.label.load == "instrument"}
    setup = how.setups.get("instrument")
    if "resistor" not in feeds or setup is None or setup.basis == "plain":
        return None
    return identify(runs, how.setups, learned=how.learned, priors=how.priors)


def delay_known(evidence: Evidence | None, clock: Clock | None) -> bool:
    """Tell whether anything holds the delay of a run: a check cable, or the clock of its stream.

    Parameters
    ----------
    evidence : Evidence or None
        The run; None: there is none.
    clock : Clock or None
        What holds delays without a check cable; None: nothing does.

    Returns
    -------
    bool
        False also where the run was not compared with a reference.
    """
    if evidence is None or evidence.ratio is None:
        return False
    return _timed(evidence, clock).delay_held


def _timed(evidence: Evidence, clock: Clock | None) -> Ratio:
    ratio = evidence.ratio
    assert ratio is not None
    if clock is None or clock.u_s > CLOCK_U_S or ratio.delay_held:
        return ratio
    held = held_by_clock(ratio, clock.rate_hz)
    if held is None:
        return ratio
    samples = ratio.delay_s * clock.rate_hz
    own = (samples - round(samples)) / clock.rate_hz
    return replace(ratio, t=held, delay_s=own, delay_held=True)


def passive_names(found: Identified) -> tuple[HypothesisName, ...]:
    """Return the passive circuits that remain, most probable first.

    Parameters
    ----------
    found : Identified
        Joint fit.

    Returns
    -------
    tuple of str
        Empty when none describes the runs.
    """
    return tuple(n for n in found.comparison.consistent if not HYPOTHESES[n].active)


def active_names(found: Identified) -> tuple[HypothesisName, ...]:
    """Return the stages that remain, most probable first.

    Parameters
    ----------
    found : Identified
        Joint fit.

    Returns
    -------
    tuple of str
        Empty when none describes the runs, or the path was proven passive.
    """
    return tuple(n for n in found.comparison.consistent if HYPOTHESES[n].active)


def passive_fit(found: Identified) -> JointFit | None:
    """Return the fit that a passive path's numbers come from.

    For wiring alone that is the one with a conductance beside it, so that it has an interval.

    Parameters
    ----------
    found : Identified
        Joint fit.

    Returns
    -------
    JointFit or None
        None when no passive circuit remains.
    """
    names = passive_names(found)
    if not names:
        return None
    name = names[0]
    if name == "wire" and found.fit("shunt") is not None:
        name = "shunt"
    return found.fit(name)


def shunt_of(fit: JointFit, readings: Readings, setup: SetupFound) -> Shunt:
    """Give what lies across the line as the result carries it.

    Parameters
    ----------
    fit : JointFit
        Of a passive circuit.
    readings : Readings
        Of that fit.
    setup : SetupFound
        Of the instrument input.

    Returns
    -------
    Shunt
        Unbounded values.
    """
    return Shunt(
        c_farad=readings.c_farad,
        g_siemens=readings.g_siemens,
        residual_db=fit.residual_db,
        resistor_ohm=setup.resistor.value if setup.resistor is not None else float("nan"),
        node_c_farad=setup.node_c.value,
        excess=fit.excess,
    )


def network_of(fit: JointFit, readings: Readings) -> Network | None:
    """Give the load behind a capacitor.

    Parameters
    ----------
    fit : JointFit
        Of a passive circuit.
    readings : Readings
        Of that fit.

    Returns
    -------
    Network or None
        None for circuits without one.
    """
    if fit.hypothesis not in BEHIND or readings.coupling_farad is None:
        return None
    g = readings.g_siemens
    return Network(
        g.inverse("ohm"),
        readings.coupling_farad,
        readings.c_farad,
        fit.residual_db,
        readings.direct_g_siemens if fit.hypothesis == "shelf" else None,
    )


def buffer_of(found: Identified, setup: SetupFound, *, with_gain: bool) -> BufferInput | None:
    """Give input, gain and output of a stage.

    Parameters
    ----------
    found : Identified
        Joint fit.
    setup : SetupFound
        Of the instrument input.
    with_gain : bool
        True when a plain run shows the gain.

    Returns
    -------
    BufferInput or None
        None when no stage explains the runs.
    """
    names = active_names(found)
    fit = found.fit(names[0]) if names else None
    if fit is None:
        return None
    r = readings_of(fit)
    output = r.output_ohm
    if output is not None and output.half_width() > RESOLVED * output.value:
        output = None
    return BufferInput(
        r.g_siemens,
        r.c_farad,
        r.gain_db if with_gain else None,
        setup.resistor_end == "interface",
        output,
    )
