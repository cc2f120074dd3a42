"""From the runs of one pedal to the result: presence, table, path, without power, size."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from loopback.identify.chain_found import Witness
from loopback.identify.learned import SetupLearned
from loopback.identify.priors import DEFAULT_PRIORS, Priors
from loopback.identify.setup import SetupFound
from loopback.identify.shunt import closed_form_shunt
from loopback.identify.whole_samples import Clock
from loopback.plan.runs import Load
from loopback.quantity import Estimate
from loopback.verdict.codes import Family, NotTestedCode, TellCode
from loopback.verdict.decision import Decision, Facts
from loopback.verdict.evidence import Evidence
from loopback.verdict.fitted import CLOCK_U_S, Fitting, delay_known, fit_position
from loopback.verdict.grade import grade_load
from loopback.verdict.in_line import part_in_line
from loopback.verdict.limits import LEAST_INPUT_OHM
from loopback.verdict.passing import Misfit, Table, build_table, judge_power
from loopback.verdict.path import decide_path
from loopback.verdict.presence import pedal_proven
from loopback.verdict.result import GradeName, PathClass, PowerClass, Reason, Result
from loopback.verdict.silicon import with_silicon
from loopback.verdict.typed_resistor import held_to_resistor
from loopback.verdict.view import look

FAMILIES_OF: dict[PathClass, tuple[Family, ...]] = {
    "wired": ("mechanical", "relay_fail_safe", "relay_latching"),
    "loaded": ("mechanical", "relay_fail_safe", "relay_latching", "electronic", "passive_box"),
    "buffered": ("electronic", "mechanical_with_buffer"),
    "converted": ("digital",),
}


def judge(
    evidence: Sequence[Evidence],
    setup: SetupFound | None,
    *,
    priors: Priors = DEFAULT_PRIORS,
    analogue_floor: bool = True,
    setups: Mapping[Load, SetupFound] | None = None,
    learned: SetupLearned | None = None,
    clock: Clock | None = None,
    witnesses: Sequence[Witness] = (),
) -> Result:
    """Judge one pedal from any subset of its runs.

    Parameters
    ----------
    evidence : sequence of Evidence
        Pedal runs in the order made; runs of other paths and refused ones are passed over.
    setup : SetupFound or None
        From the reference runs with the instrument load; None without any.
    priors : Priors
        Stated beliefs.
    analogue_floor : bool
        False when the recordings show no analogue noise floor: a digital return was recorded.
    setups : mapping or None
        Setup by load, for runs with a second one; None: `setup` alone.
    learned : SetupLearned or None
        How steady the setup is; None: as the priors have it.
    clock : Clock or None
        What holds delays where there is no check cable; None: nothing does.
    witnesses : sequence of Witness
        AD - BC wherever runs showed it; those of other states are passed over.

    Returns
    -------
    Result
        The three lines and what they rest on.
    """
    pedal = [e for e in evidence if e.label.path == "pedal" and e.label.load == "instrument"]
    usable = [e for e in pedal if e.usable]
    if not usable:
        return _without_runs(pedal)
    table = build_table(usable, _misfit(setup, priors))
    power, power_alternatives, families = judge_power(table)
    proven, largest_db = pedal_proven(usable, priors)
    if not analogue_floor or not proven:
        out = " ".join(e.run_id for e in pedal if e.refused)
        reason = (
            Reason("same_as_reference", {"db": largest_db, "refused": out})
            if analogue_floor
            else Reason("digital_return", {})
        )
        plain_only = all(e.label.feed == "plain" for e in usable)
        if analogue_floor and plain_only and len({e.label.position for e in usable}) == 1:
            # Where there was one position and no resistor, a pedal had no occasion to show itself.
            return _bare("undecided", reason, ("resistor_runs",))
        return _bare("none", reason, ("repeat",))
    if setups is None:
        setups = {} if setup is None else {"instrument": setup}
    how = Fitting(setups, learned, priors, clock)
    whole = [e for e in evidence if e.label.path == "pedal"]
    found = fit_position(whole, table.bypass, how) if _worth_fitting(table) else None
    on, off = (look(usable, table.bypass, power, setup, priors) for power in (True, False))
    facts = Facts(
        on=on,
        off=off,
        turned=look(usable, table.bypass, True, setup, priors, "reversed"),
        table=table,
        setup=setup,
        priors=priors,
        found=found,
        witnesses=_of_bypass(witnesses, whole, table),
        timed=any(delay_known(view.plain, clock) for view in (on, off)),
    )
    decision = held_to_resistor(with_silicon(decide_path(facts), facts), setup)
    if decision.path in ("buffered", "converted"):  # a stage cannot have kept its last state
        power_alternatives = tuple(p for p in power_alternatives if p != "keeps_last")
    reasons = list(decision.reasons)
    if any(s in ("open", "short") for p, s in table.powered.items() if p != table.bypass):
        reasons.append(Reason("other_position_dead", {}))
        if decision.path in ("buffered", "converted"):
            # Which of the two is bypass cannot be seen: what passes may be the engaged effect.
            decision = replace(
                decision,
                alternatives=(*decision.alternatives, "silent"),
                certainty=min(decision.certainty or 0.0, 0.7),
            )
    lost = _unpowered_refused(pedal, table)
    if lost:
        reasons.append(Reason("unpowered_refused", {"refused": " ".join(lost)}))
    if not table.sure:
        reasons.append(Reason("bypass_unclear", {}))
    passing = table.powered.get(table.bypass) not in ("open", "short") if table.bypass else True
    if passing and any(e.polarity == -1 for e in facts.main.runs):
        reasons.append(Reason("inverted", {}))
    if setup is None:
        reasons.append(Reason("no_setup", {}))
    elif setup.basis == "both" and setup.load_r.value < LEAST_INPUT_OHM.value:
        reasons.append(Reason("low_input", {"ohm": setup.load_r.value}))
    return Result(
        path=decision.path,
        alternatives=decision.alternatives,
        power=power,
        grades=_grades(decision),
        bypass_position=table.bypass,
        certainty=decision.certainty,
        shunt=decision.shunt,
        reasons=tuple(reasons),
        would_tell=_would_tell(
            decision, table, power, power_alternatives, plain_missing=facts.main.plain is None
        ),
        power_alternatives=power_alternatives,
        families=_families(decision, families),
        network=decision.network,
        buffer=decision.buffer,
        series_ohm=decision.series_ohm,
        plain=facts.main.bounds,
        excluded=decision.excluded,
        not_tested=_not_tested(decision, facts, clock),
        consistent=decision.consistent,
        in_line=part_in_line(decision.consistent, found),
        resistor=None if found is None or setup is None else setup.resistor,
        setup_c=None if found is None or setup is None else setup.node_c,
    )


PASSING = ("passes", "altered")


def _worth_fitting(table: Table) -> bool:
    """Tell whether the bypass position lets anything through that a circuit could explain."""
    if table.bypass is None:
        return False
    state = table.powered.get(table.bypass, table.unpowered.get(table.bypass))
    return state in PASSING


def _unpowered_refused(runs: Sequence[Evidence], table: Table) -> list[str]:
    """Refused runs without power, in positions of which no other run without power counts."""
    return [
        e.run_id
        for e in runs
        if e.refused
        and e.label.power == "off"
        and e.label.direction == "forward"
        and (e.label.position or "none") not in table.unpowered
    ]


def _of_bypass(
    witnesses: Sequence[Witness], runs: Sequence[Evidence], table: Table
) -> tuple[Witness, ...]:
    """Keep the witnesses of the bypass position, with power where there is any."""
    mine = {
        e.run_id
        for e in runs
        if (e.label.position or "none") == table.bypass
        and (e.label.power != "off" or not table.powered)
    }
    return tuple(w for w in witnesses if set(w.run_ids) <= mine)


def _misfit(setup: SetupFound | None, priors: Priors) -> Misfit | None:
    if setup is None or setup.basis == "plain":
        return None

    def misfit(evidence: Evidence) -> float:
        if evidence.ratio is None:
            return 0.0
        return closed_form_shunt(evidence.ratio, setup, priors=priors).residual_db

    return misfit


def _without_runs(pedal: Sequence[Evidence]) -> Result:
    if not pedal:
        return _bare("undecided", Reason("no_pedal_runs", {}), ("pedal_runs",))
    if all(e.ratio is None for e in pedal) and not all(e.refused for e in pedal):
        return _bare("undecided", Reason("no_reference", {}), ("reference",))
    return _bare("undecided", Reason("no_usable_runs", {}), ("repeat",))


def _bare(path: PathClass, reason: Reason, would_tell: tuple[TellCode, ...]) -> Result:
    return Result(path, (), "untested", (), None, None, None, (reason,), would_tell)


def _grades(decision: Decision) -> tuple[GradeName, ...]:
    passive: tuple[PathClass, ...] = ("wired", "loaded")
    if decision.path == "undecided":
        if not decision.alternatives or decision.alternatives[0] not in passive:
            return ()
    elif decision.path not in passive:
        return ()
    network, shunt = decision.network, decision.shunt
    if network is not None:
        g = 1 / network.r_ohm.value
        u_g = network.r_ohm.u / network.r_ohm.value**2
        return grade_load(network.c_farad, Estimate(g, u_g, "siemens"), decision.series_ohm)
    if shunt is None:
        return ()
    return grade_load(shunt.c_farad, shunt.g_siemens, decision.series_ohm)


def _families(decision: Decision, families: tuple[Family, ...]) -> tuple[Family, ...]:
    if decision.path == "undecided":
        return families
    allowed = FAMILIES_OF.get(decision.path, ())
    return tuple(f for f in families if f in allowed)


def _would_tell(
    decision: Decision,
    table: Table,
    power: PowerClass,
    power_alternatives: tuple[PowerClass, ...],
    *,
    plain_missing: bool,
) -> tuple[TellCode, ...]:
    tells: list[TellCode] = list(decision.would_tell)
    if power == "untested" and "unpowered_bypass" not in tells:
        tells.append("unpowered_bypass")
    elif power_alternatives:
        tells.append("power_cycle")
    if decision.path in ("wired", "loaded") and plain_missing:
        tells.append("plain_runs")
    if len(table.powered) == 1 and "none" not in table.powered:
        tells.append("other_position")
    return tuple(dict.fromkeys(tells))


def _not_tested(decision: Decision, facts: Facts, clock: Clock | None) -> tuple[NotTestedCode, ...]:
    codes: list[NotTestedCode] = []
    if decision.path in ("wired", "loaded", "undecided") and decision.series_ohm is None:
        codes.append("series_resistance")
    if facts.main.shunt is None and facts.main.passes:
        codes.append("line_load")
    if facts.off.state is None:
        codes.append("without_power")
    if facts.on.state is None:
        codes.append("with_power")
    if facts.table.bypass in ("a", "b") and len(facts.table.powered) < 2:
        codes.append("other_position")
    if not any(e.delay is not None for e in facts.main.runs):
        # The clock of one stream holds a delay but for whole samples, and ohms in line with it.
        held = clock is not None and clock.u_s <= CLOCK_U_S and facts.found is not None
        codes.append("whole_delay" if held else "delay")
    return (*codes, "footswitch_noise", "flexing")
