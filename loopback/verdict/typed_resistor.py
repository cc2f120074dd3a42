"""Lead and input as a check on the resistor's typed value."""

from __future__ import annotations

from dataclasses import replace

from loopback.identify.setup import SetupFound
from loopback.verdict.decision import Decision
from loopback.verdict.limits import HIGH_INPUT_OHM, SHORT_LEAD_F
from loopback.verdict.result import Reason


def held_to_resistor(decision: Decision, setup: SetupFound | None) -> Decision:
    """Call nothing wire where the resistor seems to be a tenth of what was typed.

    All values scale with it: 300 pF would then be told as 30 pF.

    Parameters
    ----------
    decision : Decision
        What the runs show, were the value true.
    setup : SetupFound or None
        Lead and input as they come out with that value; None without any reference.

    Returns
    -------
    Decision
        The same where lead and input are credible.
    """
    if setup is None or setup.basis == "plain":
        return decision
    c, r = setup.node_c.value, setup.load_r.value
    if c > SHORT_LEAD_F.value or r < HIGH_INPUT_OHM.value:
        return decision
    reasons = [Reason("resistor_doubtful", {"pf": c * 1e12, "ohm": r}), *decision.reasons]
    if decision.path != "wired":
        return replace(decision, reasons=reasons)
    return replace(
        decision, path="undecided", alternatives=("wired", "loaded"), reasons=reasons,
        would_tell=("repeat",), certainty=None,
    )  # fmt: skip
