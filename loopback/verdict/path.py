"""The path in bypass: the order in which the rules are asked."""

from __future__ import annotations

from dataclasses import replace

from loopback.verdict.active import (
    below_zero,
    converter_excluded,
    converter_signs,
    gain_offset,
    looks_buffered,
    looks_exchanged,
    passivity,
)
from loopback.verdict.codes import TellCode
from loopback.verdict.decision import Decision, Facts, undecided
from loopback.verdict.evidence import level_at, slope_per_decade
from loopback.verdict.fitted import active_names, buffer_of, passive_names
from loopback.verdict.less_than_nothing import exchanged, judge_below
from loopback.verdict.limits import STAGE_OFFSET_DB, STEADY_DB, WIRING_C
from loopback.verdict.passive import judge_passive, nearly_passive, outside_list, surely_loads
from loopback.verdict.probability import capped
from loopback.verdict.result import PathClass, Reason
from loopback.verdict.unpowered import same_and_telling, same_plain

FALL_BACK = 0.998
"""How sure a passive path is when both positions pass without power: a relay may have fallen back
from a buffer whose input happens to match this lead in both R and C."""


def decide_path(facts: Facts) -> Decision:
    """Ask, in this order: does it pass, is it steady, converted, active, passive with what.

    A path is called wired or loaded only when it is known to be passive: it passes without power
    with the same load, or reversed, or AD - BC is 1. With one load, an ideal buffer is exactly
    the shunt ``Y_in - Y_L``, so nothing less will do.

    Parameters
    ----------
    facts : Facts
        The bypass position, the table, and the joint fit.

    Returns
    -------
    Decision
        Undecided, with what is left and what would tell, wherever the data do not suffice.
    """
    main = facts.main
    if facts.table.bypass is None or main.state is None:
        return undecided((), [Reason("no_bypass_position", {})], ("other_position", "repeat"))
    if not main.passes:
        return _nothing_passes(facts)
    unsteady = max((e.repeat_db for e in main.runs), default=0.0)
    if unsteady > STEADY_DB.value:
        return Decision(
            "faulty", 0.95, [Reason("not_steady", {"db": unsteady})], would_tell=("repeat",)
        )
    unpowered = same_and_telling(facts)
    converted = converter_signs(facts)
    # A passive path may come late without a converter, but it has no cliff.
    if converted and (not unpowered or any(r.code == "band_edge" for r in converted)):
        return _with_stage(Decision("converted", capped(1.0), converted), facts)
    passive, reasons = passivity(facts)
    if facts.found is None:
        return _without_fit(facts, passive, reasons, unpowered=unpowered)
    stage, circuit = active_names(facts.found), passive_names(facts.found)
    # In closed form a network may look like a plain load below zero: the fit knows better.
    network = bool(circuit) and not {"wire", "shunt"} & set(circuit)
    below = not network and (looks_exchanged(main.shunt) or looks_buffered(main.shunt))
    if passive == "proven":
        return judge_below(facts, reasons) if below else _proven_passive(facts, reasons)
    if unpowered and not below and passive == "open":
        return _proven_passive(facts, [Reason("same_plain_without_power", {}), *reasons])
    # Dead without power and below zero is a stage, however short the lead that it drives.
    if below and looks_exchanged(main.shunt) and passive != "disproven":
        return undecided(("wired", "buffered"), [exchanged(main.shunt), *reasons], ("repeat",))
    seems = below and looks_buffered(main.shunt)
    if seems and not stage and passive in ("open", "changes"):
        # It works without power, or nobody looked, and no stage explains what it does.
        return undecided(
            ("buffered", "loaded"), [outside_list(facts.found), *reasons],
            ("reversed", "load_plug"), ("wired",),
        )  # fmt: skip
    if (stage and not circuit) or seems:
        needs_power = passive == "disproven"
        signs = _signs_of_a_stage(facts, needs_power=needs_power)
        shown = any(r.code in ("dead_reversed", "determinant_active") for r in reasons)
        if needs_power and not (below or shown) and nearly_passive(facts.found):
            left: tuple[PathClass, ...] = ("buffered", "loaded")
            near = [*signs, *reasons, _lookalike(facts)]
            return undecided(left, near, ("reversed", "load_plug"), ("wired",))
        return _buffered(facts, [*signs, *reasons])
    if any(r.code in ("dead_reversed", "determinant_active") for r in reasons):
        return _buffered(facts, reasons)
    if passive == "changes":
        return _changes(facts, reasons)
    if passive == "disproven":
        return _dead_without_help(facts, reasons)
    return _passive_or_not(facts, reasons)


def _proven_passive(facts: Facts, reasons: list[Reason]) -> Decision:
    """Judge what is known to be passive, and say how far that knowledge goes."""
    found = judge_passive(facts, reasons)
    if any(r.code in ("same_reversed", "determinant_passive") for r in reasons):
        return found
    others = [s for p, s in facts.table.unpowered.items() if p != facts.table.bypass]
    if facts.table.bypass == "none" or any(s in ("open", "short") for s in others):
        return found  # what falls back without power does so in both positions
    certainty = None if found.certainty is None else found.certainty * FALL_BACK
    return replace(
        found, reasons=[*found.reasons, Reason("may_fall_back", {})], certainty=certainty
    )


def _without_fit(facts: Facts, passive: str, reasons: list[Reason], *, unpowered: bool) -> Decision:
    """Judge without any resistor run: what the plain runs alone show and exclude."""
    if unpowered and passive == "open":
        return _proven_passive(facts, [Reason("same_plain_without_power", {}), *reasons])
    needs_power = passive == "disproven"
    active = _signs_of_a_stage(facts, needs_power=needs_power)
    if active or any(r.code == "dead_reversed" for r in reasons):
        return _buffered(facts, [*active, *reasons])
    if passive == "disproven":
        left: tuple[PathClass, ...] = ("buffered", "loaded", "wired")
        if not converter_excluded(facts):
            left = ("buffered", "converted", "loaded", "wired")
        return undecided(left, [*reasons, Reason("no_resistor", {})], ("resistor_runs",))
    return _plain_only(facts, reasons)


def _nothing_passes(facts: Facts) -> Decision:
    main, table = facts.main, facts.table
    kind = "dead_short" if main.state == "short" else "dead_open"
    run = next((e for e in main.runs if e.ratio is not None), None)
    numbers: dict[str, float | str] = {}
    if run is not None and run.ratio is not None:
        numbers = {"db_1k": level_at(run.ratio, 1e3), "slope_db": slope_per_decade(run.ratio)}
    reason = Reason("dead_short", numbers) if kind == "dead_short" else Reason("dead_open", numbers)
    if facts.on.state is None:
        return undecided(("silent", "buffered", "faulty"), [reason], ("powered_bypass",))
    if facts.off.passes:
        # A relay whose powered path is dead, or the two labels of power exchanged.
        passes = Reason("passes_without_power", {})
        left: tuple[PathClass, ...] = ("faulty", "buffered", "silent")
        return undecided(left, [reason, passes], ("powered_bypass",))
    plays = any(s in ("altered", "passes") for p, s in table.powered.items() if p != table.bypass)
    if plays:
        return Decision("silent", 0.95, [reason, Reason("other_position_works", {})], ("faulty",))
    return Decision("faulty", 0.95, [reason], ("silent",))


def _signs_of_a_stage(facts: Facts, *, needs_power: bool) -> list[Reason]:
    on = facts.on
    reasons = []
    negative = looks_buffered(on.shunt) or (needs_power and looks_exchanged(on.shunt))
    if on.shunt is not None and negative:
        numbers: dict[str, float | str] = {
            "pf": on.shunt.c_farad.value * 1e12,
            "times_u": below_zero(on.shunt),
        }
        reasons.append(Reason("negative_capacitance", numbers))
        if on.resistor is not None and on.resistor.ratio is not None:
            lift = level_at(on.resistor.ratio, min(20e3, 0.9 * on.resistor.ratio.f_hz[-1]))
            reasons.append(Reason("treble_lift", {"db": lift}))
    offset = gain_offset(facts)
    # A loss that also stands without power is a passive one; a gain never is.
    if offset is not None and (offset.value > 0 or not facts.off.passes):
        reasons.append(Reason("gain_offset", {"db": offset.value, "u_db": 1.96 * offset.u}))
    return reasons


def _buffered(facts: Facts, reasons: list[Reason]) -> Decision:
    dead = any(
        r.code in ("dead_without_power", "dead_reversed", "determinant_active") for r in reasons
    )
    gain_only = facts.found is None and {"gain_offset"} == {r.code for r in reasons}
    if gain_only:
        # A transformer steps up, and a choke with the lead resonates: a gain needs no power.
        left: tuple[PathClass, ...] = ("buffered", "loaded")
        if not converter_excluded(facts):
            left = ("buffered", "converted", "loaded")
        return undecided(left, reasons, ("unpowered_bypass", "resistor_runs"), ("wired",))
    if not converter_excluded(facts):
        alternatives: tuple[PathClass, ...] = ("converted",)
        found = Decision(
            "buffered", 0.9, [*reasons, Reason("delay_unknown", {})], alternatives,
            would_tell=("check_cable",),
        )  # fmt: skip
        return _with_stage(found, facts)
    offset = next((r for r in reasons if r.code == "gain_offset"), None)
    small = offset is not None and abs(float(offset.numbers["db"])) < STAGE_OFFSET_DB.value
    if facts.found is None and (small or not dead):  # an offset of the plain run is all there is
        return undecided(
            ("buffered", "loaded"), reasons, ("unpowered_bypass", "resistor_runs"), ("wired",)
        )
    return _with_stage(Decision("buffered", capped(1.0), reasons), facts)


def _with_stage(decision: Decision, facts: Facts) -> Decision:
    """Add input, gain and output of the stage that explains the runs, where one does."""
    if facts.found is None or facts.setup is None:
        return decision
    stage = buffer_of(facts.found, facts.setup, with_gain=facts.on.plain is not None)
    return replace(decision, buffer=stage, consistent=active_names(facts.found))


def _changes(facts: Facts, reasons: list[Reason]) -> Decision:
    """Judge what passes without power with another load: silicon on it, or a stage that rests.

    A load that both states show, and that wiring cannot be, is a load either way.
    """
    with_power = judge_passive(facts, reasons)
    if with_power.path == "loaded" and surely_loads(facts.off.shunt):
        return replace(with_power, certainty=0.99)
    return _beside_a_stage(with_power, [*reasons, _lookalike(facts)], ("reversed", "load_plug"))


def _dead_without_help(facts: Facts, reasons: list[Reason]) -> Decision:
    """Judge what needs power or a direction and shows no stage: a switch that rests, or a twin."""
    if _opens(facts):
        return judge_passive(facts, reasons)
    passive = judge_passive(facts, [])
    # A latching relay that was last in the other position is dead here too.
    cycle: tuple[TellCode, ...] = ("power_cycle",) if facts.table.last != facts.table.bypass else ()
    return _beside_a_stage(
        passive,
        [*reasons, *passive.reasons, _lookalike(facts)],
        (*cycle, "reversed", "load_plug"),
        excluded=(),
    )


def _opens(facts: Facts) -> bool:
    """Tell whether an electronic switch in line, open without power, explains what no stage does.

    Its capacitors stand between source and load: gain, input and bass all follow from the same few
    parts, which a stage would have to match one by one.
    """
    found = facts.found
    if found is None or active_names(found):
        return False
    names = set(passive_names(found))
    return bool(names) and names <= {"blocked", "switched"} and facts.on.plain is not None


def _passive_or_not(facts: Facts, reasons: list[Reason]) -> Decision:
    """Nothing looked at it without power in a way that tells."""
    off_needed = not (facts.off.passes and facts.off.shunt is not None)
    found = judge_passive(facts, reasons)
    tell: TellCode = "powered_bypass" if facts.on.state is None else "unpowered_bypass"
    return _beside_a_stage(
        found,
        [*found.reasons, _lookalike(facts)],
        (tell,) if off_needed or facts.on.state is None else ("reversed", "load_plug"),
        excluded=("converted",) if converter_excluded(facts) else (),
    )


def _beside_a_stage(
    found: Decision,
    reasons: list[Reason],
    would_tell: tuple[TellCode, ...],
    excluded: tuple[PathClass, ...] = ("converted",),
) -> Decision:
    """Leave a passive answer open against a stage with the same response; its numbers stay."""
    first = found.alternatives if found.path == "undecided" else (found.path,)
    return replace(
        found, path="undecided", reasons=reasons, would_tell=(*would_tell, *found.would_tell),
        alternatives=tuple(dict.fromkeys((*first, "buffered"))), excluded=excluded,
    )  # fmt: skip


def _plain_only(facts: Facts, reasons: list[Reason]) -> Decision:
    """Without a resistor: what the plain runs alone exclude."""
    table = facts.table
    others = [s for p, s in table.unpowered.items() if p != table.bypass]
    rests = facts.off.passes and bool(others) and all(s in ("open", "short") for s in others)
    same = facts.on.state is not None and same_plain(facts)
    if rests and same:
        return judge_passive(facts, reasons)
    left: tuple[PathClass, ...] = ("wired", "loaded", "buffered")
    if not (same or converter_excluded(facts)):
        left = (*left, "converted")
    return undecided(
        left,
        [Reason("no_resistor", {}), *reasons],
        ("resistor_runs", "unpowered_bypass") if facts.off.state is None else ("resistor_runs",),
    )


def _lookalike(facts: Facts) -> Reason:
    shunt = facts.main.shunt
    node = shunt.node_c_farad if shunt is not None else WIRING_C.value
    return Reason("lookalike", {"pf": node * 1e12})
