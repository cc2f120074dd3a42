"""Loud and soft treated differently: silicon on the line, or a joint that rectifies.

Wire, resistors and capacitors pass every level alike. A path that does not is never called straight
through, whatever its R and C; a load has one more thing in it.
"""

from __future__ import annotations

from dataclasses import replace

from loopback.response.linearity import Linearity
from loopback.verdict.decision import Decision, Facts
from loopback.verdict.result import PathClass, Reason
from loopback.verdict.view import View

SILICON_CODES = ("level_dependent", "harmonics_raised", "bends_unpowered")
_CLAIMED = 0.95
"""How sure a path is that was only found by its distortion: it may be a joint or a mute as well."""


def with_silicon(decision: Decision, facts: Facts) -> Decision:
    """Qualify a decision about the path by what its runs show of loud and soft.

    Parameters
    ----------
    decision : Decision
        From the levels and responses alone.
    facts : Facts
        Views of the bypass position, with and without power.

    Returns
    -------
    Decision
        Unchanged where no run is marked.
    """
    on, off = _marks(facts.on), _marks(facts.off)
    if off and not on and facts.on.state is not None:
        off = [Reason("bends_unpowered", reason.numbers) for reason in off[:1]]
    marks = on or off
    if not marks or not facts.main.passes:
        return decision
    told = replace(decision, reasons=[*decision.reasons, *marks])
    wired = decision.path == "wired" or (
        decision.path == "undecided" and "wired" in decision.alternatives
    )
    if not wired:
        return told
    # What needs power to bend, or stops bending with it, is no joint.
    both = facts.off.state is None or facts.on.state is None or (on and _marks(facts.off))
    left: tuple[PathClass, ...] = ("loaded", "faulty") if both else ("loaded",)
    left = (*left, *(p for p in decision.alternatives if p not in ("wired", *left)))
    first = replace(
        told,
        reasons=[*marks, *decision.reasons],
        excluded=tuple(dict.fromkeys((*decision.excluded, "wired"))),
        would_tell=tuple(dict.fromkeys((*decision.would_tell, "second_level"))),
    )
    if len(left) == 1:
        return replace(first, path="loaded", alternatives=(), certainty=_CLAIMED, excluded=())
    return replace(first, path="undecided", alternatives=left, certainty=_CLAIMED)


def _marks(view: View) -> list[Reason]:
    """Collect what marks the runs of one state, the strongest of each kind."""
    found = [
        e.behaviour.linearity
        for e in view.runs
        if e.behaviour is not None and e.behaviour.linearity is not None and not e.distorts
    ]
    reasons = []
    steps = [step for one in found if (step := _step(one)) is not None]
    if steps:
        reasons.append(max(steps, key=lambda r: abs(float(r.numbers["db"]))))
    raised = [one for one in found if one.harmonics_raised == "yes" and one.over_reference_db]
    if raised:
        worst = max(raised, key=_over)
        numbers: dict[str, float | str] = {"order": worst.over_order or 0, "db": _over(worst)}
        own = next((h.level_db for h in worst.harmonics if h.order == worst.over_order), None)
        if own is not None:
            numbers["own_db"] = own.value
        reasons.append(Reason("harmonics_raised", numbers))
    return reasons


def _step(found: Linearity) -> Reason | None:
    step = found.level_step_db or found.second_level_db
    if found.level_dependent != "yes" or step is None:
        return None
    return Reason("level_dependent", {"db": step.value, "u_db": step.half_width()})


def _over(found: Linearity) -> float:
    return found.over_reference_db.value if found.over_reference_db is not None else 0.0
