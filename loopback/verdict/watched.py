"""What silences, presses and taps add to a result: reasons, and what is no longer untested."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from loopback.switching.result import PressFigures, TapFigures
from loopback.verdict.codes import Family, NotTestedCode
from loopback.verdict.evidence import Evidence
from loopback.verdict.result import Reason, Result

ADDS_DB = 0.5
"""Less noise than this over the cable is not worth a sentence (judgement)."""
MUTED_S = 0.02
"""Contacts leave a gap of milliseconds; a longer one is a mute (common practice)."""
_SURE = 0.9999


def with_watched(
    result: Result,
    evidence: Sequence[Evidence],
    footswitch: PressFigures | None,
    taps: TapFigures | None,
) -> Result:
    """Add to a result what is heard beside the signal.

    Parameters
    ----------
    result : Result
        From the sweeps.
    evidence : sequence of Evidence
        All runs.
    footswitch, taps : PressFigures, TapFigures or None
        None: nobody pressed, nobody tapped.

    Returns
    -------
    Result
        With further reasons behind the others; a mute while switching leaves relays and
        electronics among the kinds of pedal.
    """
    tested: set[NotTestedCode] = set()
    reasons: list[Reason] = []
    families = result.families
    if result.path != "none" and result.bypass_position is not None:
        reasons += _heard(result, evidence)
    if footswitch is not None:
        tested.add("footswitch_noise")
        reasons += _pressed(footswitch)
        if any(reason.code == "muted_while_switching" for reason in reasons):
            families = tuple(f for f in families if f not in _NEVER_MUTED)
    if taps is not None:
        tested.add("flexing")
        reasons.append(_tapped(taps))
    return replace(
        result,
        reasons=(*result.reasons, *reasons),
        families=families,
        not_tested=tuple(code for code in result.not_tested if code not in tested),
    )


_NEVER_MUTED: tuple[Family, ...] = ("mechanical", "mechanical_with_buffer", "passive_box")


def _heard(result: Result, evidence: Sequence[Evidence]) -> list[Reason]:
    """Find noise and tones of the bypass runs with power."""
    mine = [
        e
        for e in evidence
        if e.usable
        and e.behaviour is not None
        and e.label.path == "pedal"
        and e.label.power != "off"
        and (e.label.position or "none") == result.bypass_position
        and (e.label.load, e.label.direction) == ("instrument", "forward")
    ]
    reasons = []
    for run in reversed(mine):
        behaviour = run.behaviour
        assert behaviour is not None
        weighted = next((n for n in behaviour.noise if n.weighting == "a"), None)
        if weighted is None or weighted.significance < _SURE:
            continue
        if weighted.difference_db.value > ADDS_DB:
            over = weighted.difference_db
            numbers: dict[str, float | str] = {"db": over.value, "u_db": over.half_width()}
            reasons.append(Reason("adds_noise", numbers))
            break
    for run in reversed(mine):
        behaviour = run.behaviour
        assert behaviour is not None
        own = [t for t in behaviour.tones if t.over_reference]
        if own:
            loudest = max(own, key=lambda t: t.tone.level_dbfs.value)
            powered = all(t.only_with_power for t in own)
            reasons.append(
                Reason(
                    "adds_tones",
                    {
                        "count": len(own),
                        "hz": loudest.tone.f_hz.value,
                        "dbfs": loudest.tone.level_dbfs.value,
                        "powered": "yes" if powered else "",
                    },
                )
            )
            break
    return reasons


def _pressed(figures: PressFigures) -> list[Reason]:
    reasons = []
    pops = figures.lit.pops + figures.dark.pops
    presses = figures.lit.presses + figures.dark.presses
    reasons.append(Reason("pops", {"pops": pops, "presses": presses}))
    gaps = [d.gap_s.median.value for d in (figures.lit, figures.dark) if d.gap_s is not None]
    if gaps and min(gaps) > MUTED_S:
        reasons.append(Reason("muted_while_switching", {"ms": 1e3 * min(gaps)}))
    return reasons


def _tapped(taps: TapFigures) -> Reason:
    drops = sum(event.drops_out for event in taps.events)
    return Reason("tapped", {"events": len(taps.events), "drops": drops, "crackles": taps.crackles})
