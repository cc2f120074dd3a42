"""What the figures of a footswitch are consistent with; from outside nobody sees more."""

from __future__ import annotations

from loopback.quantity import Estimate
from loopback.switching.result import Cause, DirectionFigures, Figure, Press

_GROWN = 1.5
_SURE = 3.0
_LONG_TAIL_S = 0.1
_MUTED_S = 0.02
_ONE_SIDED = 3.0


def find_causes(lit: DirectionFigures, dark: DirectionFigures) -> tuple[Cause, ...]:
    """Name what is known to look like this.

    Parameters
    ----------
    lit, dark : DirectionFigures
        Either direction.

    Returns
    -------
    tuple of Cause
        Likeliest first; empty where nothing stands out.
    """
    causes: list[Cause] = []
    grown = {name: g for name, d in (("lit", lit), ("dark", dark)) if (g := _grown(d)) is not None}
    if grown:
        causes.append(Cause("leakage", grown))
    tails = [t for d in (lit, dark) if (t := d.tail) is not None and t.value >= _LONG_TAIL_S]
    if tails:
        longest = max(tails, key=lambda t: t.value)
        causes.append(Cause("electrolytic", {"tail_s": longest.value, "u_s": longest.u}))
    if _only(lit, dark) and "lit" not in grown:
        ratio = _size(lit) / max(_size(dark), dark.silence_peak_99)
        causes.append(Cause("lamp", {"ratio": ratio}))
        causes.append(Cause("effect_gain", {"ratio": ratio}))
    gaps = [d.gap_s.median.value for d in (lit, dark) if d.gap_s is not None]
    if gaps and min(gaps) > _MUTED_S:
        causes.append(Cause("relay_mute", {"gap_s": min(gaps)}))
    return tuple(causes)


def _grown(figures: DirectionFigures) -> float | None:
    """Tell how many times larger the press after a rest is, where that is beyond doubt."""
    rested = figures.rested
    if rested is None or not rested.is_pop:
        return None
    pairs = [(rested.pop.peak.value, rested.pop.peak.u, figures.peak)]
    least = figures.silence_peak_99
    if rested.step is not None:
        jump = rested.step.jump
        pairs.append((abs(jump.value), jump.u, figures.dc_step))
    for value, u, usual in pairs:
        if usual is None:  # no pop without the rest: silence is what it grew from
            usual = Figure(Estimate(least, 0.0, ""), Estimate(least, 0.0, ""))
        most = abs(usual.worst.value)
        doubt = (u**2 + usual.worst.u**2) ** 0.5
        if value > max(least, _GROWN * most) and value - most > _SURE * doubt:
            return value / max(abs(usual.median.value), least)
    return None


def _only(lit: DirectionFigures, dark: DirectionFigures) -> bool:
    return lit.peak is not None and _size(lit) > _ONE_SIDED * max(_size(dark), dark.silence_peak_99)


def _size(figures: DirectionFigures) -> float:
    return 0.0 if figures.peak is None else figures.peak.median.value


def rested_press(presses: tuple[Press, ...]) -> Press | None:
    """Choose the press after the longest rest.

    Parameters
    ----------
    presses : tuple of Press
        Of one direction.

    Returns
    -------
    Press or None
        None when no rest was long.
    """
    rested = [press for press in presses if press.rested]
    return max(rested, key=lambda press: press.rest_s, default=None)
