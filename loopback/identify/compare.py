"""Which hypotheses remain: adequacy first, then nesting by interval, then a stated threshold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.identify.adequacy import describes, impossible
from loopback.identify.joint import JointFit

NESTED = 9.0
"""A special case stands unless more unknowns lower the sum of squares by this: three standard
uncertainties from the value that makes it the special case."""
EVIDENCE = 7.0
"""Of two unlike circuits the worse is excluded at odds of e⁷, about 1000 to 1."""

Passivity = Literal["proven", "open", "disproven"]
"""proven: the same without power, or reversed; disproven: dead then; open: not looked at, or
passes with a different response."""
Why = Literal[
    "misfit",
    "impossible_value",
    "simpler_suffices",
    "special_case",
    "evidence",
    "passive",
    "active",
]


@dataclass(frozen=True, slots=True)
class Excluded:
    """One hypothesis that is out.

    Parameters
    ----------
    hypothesis : str
        Which.
    why : str
        misfit: it does not describe the data; impossible_value: only with a value that no such
        circuit has; simpler_suffices, special_case: a nested one does as well, or does not;
        evidence: another is much more probable; passive, active: it works without power, or not.
    number : float
        Misfit, or what the sums of squares or logarithms of evidence differ by.
    """

    hypothesis: HypothesisName
    why: Why
    number: float = 0.0


@dataclass(frozen=True, slots=True)
class Comparison:
    """What remains.

    Parameters
    ----------
    winner : str or None
        The only hypothesis that remains; None when none or several do.
    consistent : tuple of str
        All that remain, most probable first: to be named together.
    excluded : tuple of Excluded
        The others, and why.
    """

    winner: HypothesisName | None
    consistent: tuple[HypothesisName, ...]
    excluded: tuple[Excluded, ...]


def compare(fits: Sequence[JointFit], passivity: Passivity) -> Comparison:
    """Compare fits of several hypotheses to the same data.

    Parameters
    ----------
    fits : sequence of JointFit
        On the same runs and nuisances.
    passivity : {"proven", "open", "disproven"}
        What runs without power or reversed show. With one load an ideal buffer is exactly a shunt,
        so a stage that describes the data stays beside a passive circuit that does unless this
        excludes it; no evidence settles it.

    Returns
    -------
    Comparison
        With no winner where none describes the data: a circuit outside the list.
    """
    out: list[Excluded] = []
    left: dict[HypothesisName, JointFit] = {}
    for fit in fits:
        active = HYPOTHESES[fit.hypothesis].active
        if active and passivity == "proven":
            out.append(Excluded(fit.hypothesis, "passive"))
        elif not describes(fit):
            out.append(Excluded(fit.hypothesis, "misfit", max(fit.excess, fit.worst)))
        elif impossible(fit) is not None:
            out.append(Excluded(fit.hypothesis, "impossible_value"))
        else:
            left[fit.hypothesis] = fit
    for name in list(left):
        richer = [left[w] for w in _above(name) if w in left]
        better = [r for r in richer if left[name].chi2 - r.chi2 >= NESTED]
        if better:
            gain = left[name].chi2 - min(r.chi2 for r in better)
            out.append(Excluded(name, "special_case", gain))
            del left[name]
            continue
        for r in richer:
            out.append(Excluded(r.hypothesis, "simpler_suffices", left[name].chi2 - r.chi2))
            del left[r.hypothesis]
    for active in (False, True):
        alike = [f for n, f in left.items() if HYPOTHESES[n].active == active]
        best = max((f.evidence for f in alike), default=0.0)
        for f in alike:
            if best - f.evidence > EVIDENCE:
                out.append(Excluded(f.hypothesis, "evidence", best - f.evidence))
                del left[f.hypothesis]
    ranked = sorted(left.values(), key=lambda f: -f.evidence)
    names = tuple(f.hypothesis for f in ranked)
    return Comparison(names[0] if len(names) == 1 else None, names, tuple(out))


def _above(name: HypothesisName) -> list[HypothesisName]:
    """Return all hypotheses of which `name` is a special case, nearest first."""
    found: list[HypothesisName] = []
    waiting = list(HYPOTHESES[name].within)
    while waiting:
        one = waiting.pop(0)
        if one not in found:
            found.append(one)
            waiting.extend(HYPOTHESES[one].within)
    return found
