"""What is in line where no plain run shows it: contacts, or a part that only widens the values."""

from __future__ import annotations

from dataclasses import replace

from loopback.circuit.hypotheses import Hypothesis
from loopback.identify.readings import Readings

CONTACT_OHM = 10.0
"""Standard deviation of what switches and joints have in line, faulty ones among them (common
practice: a sound one has well below 1 ohm)."""
LIGHT_FARAD = 60e-12
"""Wiring alone has less across the line (common practice): no filter with a part in line does."""


def with_contacts(hypothesis: Hypothesis) -> Hypothesis:
    """Let a circuit have no more in line than contacts have.

    Behind the resistor lead alone a resistance in line and a capacitance are told apart by so
    little that a wide prior of the one would be most of the doubt about the other. A part in line
    is a circuit of its own there.

    Parameters
    ----------
    hypothesis : Hypothesis
        Any.

    Returns
    -------
    Hypothesis
        The same where nothing in line may take either sign, or a capacitor is in line too.
    """
    if hypothesis.name in ("blocked", "switched"):
        return hypothesis
    unknowns = tuple(
        u._replace(prior_u=CONTACT_OHM) if u.name == "r_series_ohm" and not u.log else u
        for u in hypothesis.unknowns
    )
    return replace(hypothesis, unknowns=unknowns)


def may_hide_a_part(found: Readings) -> bool:
    """Tell whether what reads as a load across the line may have a part in line as well.

    Parameters
    ----------
    found : Readings
        Of a plain R and C, from runs with the resistor lead alone.

    Returns
    -------
    bool
        True where it is more than wiring.
    """
    return found.c_farad.value > LIGHT_FARAD
