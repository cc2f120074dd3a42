"""From the bypass runs of a pedal to what it is: all hypotheses, compared, as on a meter."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.identify.adequacy import describes, impossible
from loopback.identify.bias_starts import bias_starts, bias_starts_of_branch
from loopback.identify.compare import Comparison, Passivity, compare
from loopback.identify.contact import may_hide_a_part, with_contacts
from loopback.identify.data import PedalRun, prepare
from loopback.identify.finish import finished
from loopback.identify.joint import ALL_FOLLOWED, JointFit, fit_hypothesis
from loopback.identify.learned import SetupLearned, learn
from loopback.identify.likeness import same_path
from loopback.identify.nuisance import plan_nuisances
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.readings import Readings, readings_of
from loopback.identify.setup import SetupFound
from loopback.identify.starts import first_sight, starts_of
from loopback.identify.switch_starts import blocks, switch_starts
from loopback.plan.runs import Load

Tell = Literal["unpowered_bypass", "powered_bypass", "reversed", "load_plug", "resistor_runs"]
LADDER: tuple[tuple[HypothesisName, ...], ...] = (
    ("wire", "shunt"),
    ("coupled", "inline"),
    ("shelf", "bias", "blocked"),
    ("switched",),
    ("transformer",),
)
"""Passive circuits, simple ones first: the next rung is tried when none yet describes the data."""
FAR_BELOW = 0.2
"""A stage takes at least this part of the setup capacitance off the source (computed, for input
capacitances up to 220 pF and short leads)."""
SERIES_OHM = 100.0
"""In to out: more than any contact that is not a fault (common practice)."""
BELOW_EDGE = 0.7
"""Fits end at this part of a converter's band edge."""
DEAD = 0.03
"""A run this far down, against a coupler, lets nothing through (-30 dB)."""


@dataclass(frozen=True, slots=True)
class Identified:
    """What the runs of one bypass position say the path is.

    Parameters
    ----------
    fits : tuple of JointFit
        Every hypothesis that was tried.
    comparison : Comparison
        What remains of them.
    passivity : {"proven", "open", "disproven"}
        What runs without power and reversed show.
    readings : Readings or None
        As on a meter, of the most probable hypothesis; for wire, of the shunt, so that its
        conductance has an interval too. None when none describes the data.
    would_tell : tuple of str
        Runs that would settle what is open, the easiest first.
    """

    fits: tuple[JointFit, ...]
    comparison: Comparison
    passivity: Passivity
    readings: Readings | None
    would_tell: tuple[Tell, ...]

    def fit(self, name: HypothesisName) -> JointFit | None:
        """Return the fit of a hypothesis; None when it was not tried."""
        return next((f for f in self.fits if f.hypothesis == name), None)


def identify(
    runs: Sequence[PedalRun],
    setups: Mapping[Load, SetupFound],
    *,
    learned: SetupLearned | None = None,
    priors: Priors = DEFAULT_PRIORS,
) -> Identified | None:
    """Identify the path of one switch position from all its usable runs.

    Parameters
    ----------
    runs : sequence of PedalRun
        All runs of that position: with and without power, of any feed, load and direction.
    setups : mapping
        Setup by load; runs of other loads are passed over.
    learned : SetupLearned or None
        How steady the setup is; None: as the priors have it, without any reference of its own.
    priors : Priors
        Stated beliefs.

    Returns
    -------
    Identified or None
        None when there is no run to fit. When not to use: where nothing passes with power.
    """
    known = [r for r in runs if r.label.load in setups]
    forward = [r for r in known if r.label.direction == "forward"]
    powered = [r for r in forward if r.label.power != "off"] or forward
    if not powered:
        return None
    others = [r for r in known if r not in powered]
    learned = learn(()) if learned is None else learned
    passivity, same = _passivity(powered, others, learned)
    # Without power or reversed the same: one more look at the same circuit.
    used = [*powered, *same]
    data = prepare(used, setups, priors, min(_edge_hz(r) for r in used) * BELOW_EDGE)
    plan = plan_nuisances(data, learned, priors)
    seen = first_sight(data, priors)
    fits: list[JointFit] = []
    plain = any(r.label.feed == "plain" for r in used)

    def attempt(name: HypothesisName) -> None:
        hypothesis = HYPOTHESES[name] if plain else with_contacts(HYPOTHESES[name])
        starts = starts_of(hypothesis, seen)
        for fit in fits:
            if fit.hypothesis == "coupled" and name == "bias":
                starts = bias_starts(hypothesis, {k: e.value for k, e in fit.estimates.items()})
            if fit.hypothesis == "shelf" and name == "bias":
                values = {k: e.value for k, e in fit.estimates.items()}
                starts = [*starts, *bias_starts_of_branch(hypothesis, values)]
            if fit.hypothesis == "blocked" and name == "switched":
                starts = switch_starts(hypothesis, {k: e.value for k, e in fit.estimates.items()})
        # These have more than one end that describes the runs: each start is followed.
        size = ALL_FOLLOWED if name in ("inline", "bias", "switched") else len(starts)
        groups = [starts[i : i + size] for i in range(0, len(starts), size)]
        found = [fit_hypothesis(hypothesis, data, plan, one, priors) for one in groups]
        fits.append(min(found, key=lambda fit: fit.chi2))

    stage = False
    if passivity != "proven":
        attempt("buffer")
        if not describes(fits[0]):
            attempt("loaded_buffer")
        stage = any(possible(f) for f in fits)
    off_the_source = seen.c_farad < -FAR_BELOW * seen.node_c_farad
    for rung in LADDER:
        coupled = next((f for f in fits if f.hypothesis == "coupled"), None)
        for name in rung:
            # A coupled resistor that describes the data leaves one question: its bias network.
            if coupled is not None and possible(coupled) and name != "bias":
                continue
            if name != "switched" or blocks(fits):
                attempt(name)
        if stage and off_the_source:
            break  # no passive circuit takes the lead off the source
        if _settled(fits):
            break
    shunt = next((f for f in fits if f.hypothesis == "shunt"), None)
    tried = any(f.hypothesis == "inline" for f in fits)
    if not (plain or tried or shunt is None) and may_hide_a_part(readings_of(shunt)):
        attempt("inline")
    comparison = compare(fits, passivity)
    ended = finished(fits, comparison.consistent, data, plan, priors)
    return Identified(
        ended,
        comparison,
        passivity,
        read_together(ended, comparison.consistent, plain=plain),
        _would_tell(used, comparison, passivity),
    )


def _passivity(
    powered: Sequence[PedalRun], others: Sequence[PedalRun], learned: SetupLearned
) -> tuple[Passivity, list[PedalRun]]:
    """Compare runs without power or reversed with their twins; those alike are returned."""
    same: list[PedalRun] = []
    dead = False
    for run in others:
        twin = next((p for p in powered if p.group == run.group), None)
        if twin is None:
            continue
        if float(abs(run.ratio.t[len(run.ratio.t) // 2])) < DEAD:
            dead = True
        elif run.label.direction == "reversed":
            # A passive path may be lopsided: the fit decides whether it is the same circuit.
            same.append(run)
        elif same_path(run, twin, learned):
            same.append(run)
    telling = [r for r in same if r.label.feed == "resistor"]
    if telling:
        return "proven", same
    return ("disproven" if dead else "open"), same


def read_together(
    fits: Sequence[JointFit], names: Sequence[HypothesisName], *, plain: bool
) -> Readings | None:
    """Read the most probable of several circuits, with the doubt about which one it is.

    Parameters
    ----------
    fits : sequence of JointFit
        All that were tried.
    names : sequence of str
        Those that remain, most probable first; stages and passive circuits are not mixed: the
        first one's kind counts.
    plain : bool
        Whether a run without resistor was fitted: behind the resistor alone a series resistance
        and a capacitance cannot be told apart, so none is then read, and the values of a load reach
        as far as those of a circuit with a part in line.

    Returns
    -------
    Readings or None
        None without any name.
    """
    if not names:
        return None
    by_name = {f.hypothesis: f for f in fits}
    first = "shunt" if names[0] == "wire" and "shunt" in by_name else names[0]
    found = readings_of(by_name[first])
    if found.g_siemens.u == 0 and "shunt" in by_name:
        # A circuit without any conductance has none to be in doubt about; a plain one has.
        found = replace(
            found, g_siemens=replace(found.g_siemens, u=by_name["shunt"].u("g_siemens"))
        )
    elif first == "coupled" and "bias" in by_name and possible(by_name["bias"]):
        # The simpler circuit suffices, but its resistances have no doubt about what it leaves out.
        richer = readings_of(by_name["bias"])
        found = replace(found, g_siemens=richer.g_siemens, series_ohm=richer.series_ohm)
    hidden = by_name.get("inline")
    if not plain and first == "shunt" and hidden is not None and may_hide_a_part(found):
        found = found.widened(readings_of(hidden)) if possible(hidden) else found
    active = HYPOTHESES[first].active
    for name in names[1:]:
        if HYPOTHESES[name].active == active:
            found = found.widened(readings_of(by_name[name]))
    return found if plain or active else replace(found, series_ohm=None)


def _would_tell(
    runs: Sequence[PedalRun], comparison: Comparison, passivity: Passivity
) -> tuple[Tell, ...]:
    tells: list[Tell] = []
    if not any(r.label.feed == "resistor" for r in runs):
        tells.append("resistor_runs")
    kinds = {HYPOTHESES[n].active for n in comparison.consistent}
    if len(kinds) > 1 or not kinds:
        if passivity == "open":
            tells.append("unpowered_bypass")
        tells += ["reversed", "load_plug"]
    return tuple(tells)


def _settled(fits: Sequence[JointFit]) -> bool:
    """Tell whether the passive fits so far suffice: one is possible, and hints at nothing more."""
    passive = [f for f in fits if possible(f) and not HYPOTHESES[f.hypothesis].active]
    names = {f.hypothesis for f in passive}
    if not names:
        return False
    if names <= {"wire", "shunt"} and len(fits) < 4:
        # A series resistance of more than a contact's is an element in line.
        simple = passive[-1]
        r, u = simple.value("r_series_ohm"), simple.u("r_series_ohm")
        return abs(r) < max(3 * u, SERIES_OHM)
    # Half of what a bias network shows can hide in a coupled resistor: both are asked.
    return names != {"coupled"} or any(f.hypothesis == "bias" for f in fits)


def _edge_hz(run: PedalRun) -> float:
    """Steep end of a converter's band, hertz; infinite where there is none."""
    f_hz, size = run.ratio.f_hz, np.abs(run.ratio.t)
    reference = float(np.median(size[(f_hz > 6e3) & (f_hz < 9e3)]))
    low = np.flatnonzero((size < 0.5 * reference) & (f_hz > 9e3))
    if low.size == 0:
        return math.inf
    edge = float(f_hz[low[0]])
    beyond = size[f_hz >= 1.4 * edge]
    return edge if beyond.size and float(beyond.max()) < 0.1 * reference else math.inf


def possible(fit: JointFit) -> bool:
    """Tell whether a fit describes the data with values that its circuit can have.

    Parameters
    ----------
    fit : JointFit
        Of any hypothesis.

    Returns
    -------
    bool
        False for a perfect fit whose parts nobody makes.
    """
    return describes(fit) and impossible(fit) is None
