"""Whether the plain runs with and without power are the same, and what that excludes."""

from __future__ import annotations

from loopback.verdict.active import band_edge, gain_offset
from loopback.verdict.decision import Facts
from loopback.verdict.evidence import level_at
from loopback.verdict.plain_run import series_element

SAME_PLAIN_DB = 0.03
"""Two plain runs of one pedal agree within this unless its path changed (computed from drift)."""
SAME_DELAY_S = 10e-6
"""No passive path comes later than this for want of power (judgement)."""


def same_plain(facts: Facts) -> bool:
    """Tell whether the plain runs with and without power agree, from bass to treble.

    Parameters
    ----------
    facts : Facts
        Views of the bypass position.

    Returns
    -------
    bool
        False also when one of them is missing. An ideal buffer beside a relay that falls back
        agrees as well; see `same_and_telling`.
    """
    on, off = facts.on.plain, facts.off.plain
    if on is None or off is None or on.ratio is None or off.ratio is None or not facts.off.passes:
        return False
    if on.polarity is not None and off.polarity is not None and on.polarity != off.polarity:
        return False
    delays = [e.delay.value for e in (on, off) if e.delay is not None]
    if delays and max(delays) - min(delays) > SAME_DELAY_S:
        return False
    if (band_edge(on.ratio) is None) != (band_edge(off.ratio) is None):
        return False
    top = min(20e3, 0.9 * on.ratio.f_hz[-1])
    return all(
        abs(level_at(on.ratio, f_hz) - level_at(off.ratio, f_hz)) < SAME_PLAIN_DB
        for f_hz in (50.0, 1e3, 5e3, top)
    )


def same_and_telling(facts: Facts) -> bool:
    """Tell whether the plain runs with and without power agree in what wire alone would not show.

    What works the same without power is not powered, unless a relay falls back to a twin of the
    stage; to a wire it may, and to a path with the same gain, loss or resonance it does not.

    Parameters
    ----------
    facts : Facts
        Views of the bypass position.

    Returns
    -------
    bool
        True rules a powered stage and a converter out.
    """
    shaped = series_element(facts) is not None or gain_offset(facts) is not None
    return shaped and same_plain(facts)
