"""A load below zero on a path that also passes without power: what that can be."""

from __future__ import annotations

from loopback.identify.found import Shunt
from loopback.verdict.active import below_zero, converter_excluded, looks_buffered
from loopback.verdict.decision import Decision, Facts, undecided
from loopback.verdict.limits import UNEXPLAINED_DB, WIRING_C
from loopback.verdict.passive import EXCESS, judge_passive, outside_list
from loopback.verdict.result import PathClass, Reason

SHAPELESS_DB = 0.5
"""A resistor and a capacitor miss most stages by less, and coils and tone networks by more."""
BY_ITSELF = ("same_reversed", "determinant_passive")
"""Evidence of a passive path that does not rest on somebody having pulled the plug."""


def judge_below(facts: Facts, reasons: list[Reason]) -> Decision:
    """Judge what gives back more than nothing, and does so without power too.

    A resistor and a capacitor that explain the run, far below zero, are a powered stage: its supply
    was left in, or a battery. A little below zero is two runs exchanged. Where no resistor and
    capacitor explain the run, their values mean nothing: a coil or a tone network does that.

    Parameters
    ----------
    facts : Facts
        The bypass position, with a joint fit.
    reasons : list of Reason
        Evidence so far, with that of passing without power or reversed.

    Returns
    -------
    Decision
        Loaded, or undecided with what is left.
    """
    shunt, found = facts.main.shunt, facts.found
    assert shunt is not None
    assert found is not None
    surely = any(r.code in BY_ITSELF for r in reasons)
    far = looks_buffered(shunt)
    unlike = shunt.residual_db > UNEXPLAINED_DB.value and shunt.excess > EXCESS
    if unlike and (surely or not far):
        return judge_passive(facts, reasons)
    if surely or not far:
        return undecided(
            ("wired", "loaded"), [exchanged(shunt), *reasons], ("repeat",), ("converted",)
        )
    left: tuple[PathClass, ...] = ("buffered", "loaded")
    excluded: tuple[PathClass, ...] = ("wired",)
    if converter_excluded(facts):
        excluded = ("wired", "converted")
    else:
        left = ("buffered", "converted", "loaded")
    if shunt.residual_db > SHAPELESS_DB:
        return undecided(left, [outside_list(found), *reasons], ("reversed", "load_plug"), excluded)
    if -shunt.c_farad.value < WIRING_C.value:  # with a short lead so little may be runs exchanged
        left, excluded = (*left, "wired"), tuple(p for p in excluded if p != "wired")
    numbers: dict[str, float | str] = {
        "pf": shunt.c_farad.value * 1e12, "times_u": below_zero(shunt),
    }  # fmt: skip
    return undecided(
        left,
        [Reason("supply_left_in", numbers), *reasons],
        ("unpowered_bypass", "reversed"),
        excluded,
    )


def exchanged(shunt: Shunt | None) -> Reason:
    """Give the evidence for reference and pedal runs exchanged.

    Parameters
    ----------
    shunt : Shunt or None
        From a resistor run; None: there is none.

    Returns
    -------
    Reason
        With what lies across the line, which is below zero.
    """
    return Reason("exchanged", {"pf": 0.0 if shunt is None else shunt.c_farad.value * 1e12})
