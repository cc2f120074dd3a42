"""What is heard in bypass: hum, whine, noise that comes with power."""

from __future__ import annotations

import math
from collections.abc import Sequence

from loopback.noise.survey import ToneCompared
from loopback.quantity import Estimate
from loopback.verdict.evidence import Evidence, level_at, slope_per_decade
from loopback.verdict.faults.dead_numbers import across_farad
from loopback.verdict.faults.record import Case, Clue, FaultCode
from loopback.verdict.faults.signatures import (
    HUM_DB,
    NOISE_DB,
    RISES_DB,
    SCREEN_F,
    Match,
)
from loopback.verdict.limits import DEAD_SLOPE_DB
from loopback.verdict.passing import run_state

_WHINE_HZ = 800.0
_COMB_LINES = 3
_SAME = 2e-3
_HOWL_DBFS = -60.0
_NOISE_U = 5.0
_HUM_SHOWS_DB = 6.0


def heard(case: Case) -> list[Match]:
    """Look at the silences of the bypass runs.

    Parameters
    ----------
    case : Case
        Result and runs.

    Returns
    -------
    list of Match
        At most one for each of hum, tones and noise.
    """
    position = case.result.bypass_position
    if position is None:
        return []
    on, off = case.of(position, powered=True), case.of(position, powered=False)
    whine = _tones(on)
    found = [_hum(case, on, off), whine, None if whine else _noise(case, on, off)]
    return [match for match in found if match is not None]


def _hum(case: Case, on: Sequence[Evidence], off: Sequence[Evidence]) -> Match | None:
    measured = [(e, over) for e in (*on, *off) if (over := _hum_over(e, case)) is not None]
    loud = [(e, over) for e, over in measured if over.interval()[0] > HUM_DB.value]
    if not loud:
        return None
    run, over = max(loud, key=lambda pair: pair[1].value)
    clues = [Clue("hum", {"db": over.value, "u": over.u, "feed": run.label.feed})]
    without = _hums_without_power(case, run, off)
    if without is False:
        clues.append(Clue("hum_powered_only", {}))
        return Match("supply_hum", tuple(clues))
    if without:
        clues.append(Clue("hum_unpowered", {}))
    beside: tuple[FaultCode, ...] = ("screen_open",) if without else ("screen_open", "supply_hum")
    farad = _crosstalk(case)
    if farad is not None:
        clues.append(Clue("crosstalk", {"farad": farad}))
        return Match("screen_open", tuple(clues))
    return Match("ground_missing", tuple(clues), beside=beside)


def _hum_over(run: Evidence, case: Case) -> Estimate | None:
    """Mains lines of a run over those of its reference; of a quiet reference, over its floor."""
    survey = None if run.behaviour is None else run.behaviour.survey
    if survey is None or survey.mains is None or run.ratio is None:
        return None
    references = [
        e.behaviour.survey
        for e in case.evidence
        if e.label.path == "coupler"
        and e.label.feed == run.label.feed
        and e.behaviour is not None
        and e.behaviour.survey is not None
    ]
    if not references:
        return None
    own = survey.mains.sum_dbfs
    known = [s.mains.sum_dbfs for s in references if s.mains is not None]
    if known:
        loudest = max(known, key=lambda e: e.value)
        return Estimate(own.value - loudest.value, math.hypot(own.u, loudest.u), "dB")
    least = max(s.limit_at(survey.mains.f_hz.value) for s in references)
    return Estimate(own.value - least, own.u, "dB")


def _hums_without_power(case: Case, loud: Evidence, off: Sequence[Evidence]) -> bool | None:
    """Tell whether it hums without power as well; None: no run without power tells."""
    if loud.label.power == "off":
        return True
    for run in off:
        over = _hum_over(run, case)
        if over is not None:
            return over.interval()[0] > HUM_DB.value - _HUM_SHOWS_DB
    # Without a long silence, the noise of the short ones: hum so loud raises it.
    same = [e for e in off if e.label.feed == loud.label.feed and e.noise is not None]
    if not same or loud.noise is None or loud.noise.value < _HUM_SHOWS_DB:
        return None
    quiet = same[-1].noise
    assert quiet is not None
    return quiet.value > loud.noise.value / 2


def _crosstalk(case: Case) -> float | None:
    """Capacitance from in to out past an effect that is off; None: no more than lugs have."""
    position = case.result.bypass_position
    for run in reversed(case.runs):
        other = (run.label.position or "none") != position and run.label.power == "off"
        if not other or run.ratio is None or run_state(run) in ("short", "altered"):
            continue
        # A tenth of the level: tens of picofarads get across too well to count as dead.
        steep = slope_per_decade(run.ratio) > DEAD_SLOPE_DB.value
        if steep and level_at(run.ratio, 200.0) < -20.0:
            farad = across_farad(run, case.setup)
            if farad is not None and farad > SCREEN_F.value:
                return farad
    return None


def _tones(on: Sequence[Evidence]) -> Match | None:
    """Tones of the pedal's own that are gone without power."""
    for run in reversed(on):
        tones = () if run.behaviour is None else run.behaviour.tones
        mine = [
            t
            for t in tones
            if t.over_reference and t.only_with_power and t.tone.f_hz.value > _WHINE_HZ
        ]
        if not mine:
            continue
        loudest = max(mine, key=lambda t: t.tone.level_dbfs.value).tone
        numbers: dict[str, float | str] = {
            "hz": loudest.f_hz.value,
            "dbfs": loudest.level_dbfs.value,
            "count": len(mine),
        }
        clues = (Clue("tones", numbers),)
        base = _comb(mine)
        if base is not None:
            return Match("supply_comb", (*clues, Clue("comb", {"hz": base, "count": len(mine)})))
        if loudest.level_dbfs.value > _HOWL_DBFS:
            return Match("input_open", clues, 0.8, beside=("supply_whine",))
        return Match("supply_whine", clues)
    return None


def _comb(tones: Sequence[ToneCompared]) -> float | None:
    """Find the frequency of which all tones are multiples; None with fewer than three."""
    hertz = sorted(t.tone.f_hz.value for t in tones)
    if len(hertz) < _COMB_LINES:
        return None
    for parts in (1, 2, 3):
        base = hertz[0] / parts
        if all(abs(f / base / round(f / base) - 1) < _SAME for f in hertz):
            return base
    return None


def _noise(case: Case, on: Sequence[Evidence], off: Sequence[Evidence]) -> Match | None:
    """Find noise that comes with power; with bleed into the treble less of it is telling."""
    # A stage has noise of its own, and so has what is one most likely.
    if {case.result.path, *case.result.alternatives[:1]} & {"buffered", "converted", "none"}:
        return None
    found = [
        Estimate(one.value - two.value, math.hypot(one.u, two.u), "dB")
        for with_power in on
        for without in off
        if with_power.label.feed == without.label.feed
        and (one := with_power.noise) is not None
        and (two := without.noise) is not None
    ]
    if not found:
        return None
    u = math.sqrt(sum(e.u**2 for e in found)) / len(found)
    more = Estimate(sum(e.value for e in found) / len(found), u, "dB")
    clue = Clue("noise_powered", {"db": more.value, "u": more.u})
    rises = _rises(case)
    if rises is not None and more.interval()[0] > 0:
        return Match("input_open", (clue, rises))
    if more.value > max(NOISE_DB.value, _NOISE_U * more.u):
        return Match("input_open", (clue,), 0.6, beside=("supply_whine",))
    return None


def _rises(case: Case) -> Clue | None:
    """Bleed of the effect that grows with frequency, as through stray capacitance."""
    for bleed in case.bleed:
        if bleed.kind != "effect_in_bypass":
            continue
        levels = {one.f_hz: one for one in bleed.levels}
        high, middle = levels.get(10_000.0), levels.get(1_000.0)
        if high is None or middle is None or high.level_db is None:
            continue
        at_middle = middle.below_db if middle.level_db is None else middle.level_db.value
        if high.level_db.value - at_middle > RISES_DB.value:
            numbers: dict[str, float | str] = {"db": high.level_db.value, "u": high.level_db.u}
            return Clue("rises", numbers)
    return None
