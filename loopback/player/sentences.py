"""What is said to a player: the line on the result screen, and the lines about a whole chain."""

from __future__ import annotations

import math

import numpy as np

from loopback.player.chain import ChainFound, Leads
from loopback.player.change import HEARD_HZ, Change
from loopback.player.pickup import Amplifier
from loopback.quantity import Estimate, coverage_factor, round_together, with_prefix

_NOTHING_DB = 0.1
"""A peak or bass that moves by less is not mentioned (common practice: it is not heard)."""
_FINEST = 0.01
"""No doubt is written smaller, in dB or kHz: the pickup is a typical one, not a measured one."""


def player_line(found: ChainFound, *, short: bool = False) -> str:
    """Say in one line what a pedal changes for a player.

    Parameters
    ----------
    found : ChainFound
        With a first pickup, which is the one spoken of.
    short : bool
        True: the largest change only.

    Returns
    -------
    str
        Largest change, then what becomes of the resonance.
    """
    said = change_sentence(found.changes[0])
    return said.partition("; ")[0] if short else said


def change_sentence(change: Change) -> str:
    """Say what changes for one pickup.

    Parameters
    ----------
    change : Change
        Of one pickup.

    Returns
    -------
    str
        Such as ``at most -0.27 dB ± 0.02, at 7.71 kHz ± 0.03; pickup peak 3.98 → 3.94 kHz ± 0.01``.
        The peak without the pedal is that of the pickup as assumed, so it has no doubt of its own.
    """
    if abs(change.most_db.value) <= change.most_db.half_width():
        parts = [f"no change over {_bound(change)} dB"]
    else:
        parts = [f"at most {signed(change.most_db)}{_place(change.most_hz)}"]
    before, after, rise = change.before, change.after, change.rise_db
    if before is not None and after is not None and rise is not None:
        text = _moved(before.f_hz.value, after.f_hz)
        if abs(rise.value) >= max(_NOTHING_DB, rise.half_width()):
            size, doubt = _rounded(abs(rise.value), rise.half_width())
            text += f", {size} dB ± {doubt} {'higher' if rise.value > 0 else 'lower'}"
        parts.append(text)
    elif before is not None:
        parts.append("the pickup's peak is gone")
    if abs(change.low_db.value) >= max(_NOTHING_DB, change.low_db.half_width()):
        parts.append(f"{signed(change.low_db)} at 200 Hz")
    return "; ".join(parts)


def buffer_sentence(found: ChainFound, names: list[str]) -> str:
    """Say where the first buffer is and what hangs on the pickup.

    Parameters
    ----------
    found : ChainFound
        A chain.
    names : list of str
        Names of its pedals, in their order.

    Returns
    -------
    str
        One or two sentences.
    """
    alone = len(names) == 1
    if found.first_buffer is None:
        who = "It does not buffer" if alone else "None of them buffers"
        return f"{who}: all {found.lead_all_m:g} m of lead hang on the pickup."
    if alone:
        return (
            f"It buffers: only the {found.lead_before_m:g} m of lead before it hang on the pickup."
        )
    before = names[: found.first_buffer - 1]
    also = f" and the pedals before it ({', '.join(before)})" if before else ""
    return (
        f"The first buffer is {names[found.first_buffer - 1]}, number {found.first_buffer}: "
        f"{found.lead_before_m:g} m of lead{also} hang on the pickup; what follows does not."
    )


def assumptions(leads: Leads, amplifier: Amplifier, count: int) -> str:
    """Say what was assumed beside the pedals.

    Parameters
    ----------
    leads : Leads
        Lengths.
    amplifier : Amplifier
        The load.
    count : int
        Number of pedals.

    Returns
    -------
    str
        One sentence.
    """
    patch = f", {leads.patch_m:g} m between pedals" if count > 1 else ""
    return (
        f"Leads of 100 pF/m: {leads.guitar_m:g} m to the first pedal{patch}, "
        f"{leads.amplifier_m:g} m to the amplifier of {with_prefix(amplifier.r_ohm, 'Ω')} and "
        f"{with_prefix(amplifier.c_farad, 'F')}. Compared with the same leads without pedals."
    )


def signed(level: Estimate) -> str:
    """Write a change of level with its sign and its interval.

    Parameters
    ----------
    level : Estimate
        dB.

    Returns
    -------
    str
        Such as ``-0.66 dB ± 0.02``.
    """
    size, doubt = _rounded(abs(level.value), level.half_width())
    sign = "-" if level.value < 0 else "+"
    return f"{sign if float(size) else ''}{size} dB ± {doubt}"


def _bound(change: Change) -> str:
    """Say within what all of the change lies, rounded up."""
    size = np.abs(change.after_db - change.before_db) + coverage_factor() * change.u_db
    most = float(np.max(size[change.f_hz <= HEARD_HZ]))
    return f"{math.ceil(max(most, _FINEST) / _FINEST - 1e-9) * _FINEST:.2f}"


def _place(f_hz: Estimate | None) -> str:
    if f_hz is None:
        return f" up to {HEARD_HZ / 1e3:g} kHz, still growing there"
    value, doubt = _rounded(f_hz.value / 1e3, f_hz.half_width() / 1e3)
    return f", at {value} kHz ± {doubt}"


def _moved(was_hz: float, now: Estimate) -> str:
    value, doubt = _rounded(now.value / 1e3, now.half_width() / 1e3)
    was = f"{was_hz / 1e3:.{len(value.partition('.')[2])}f}"
    if abs(now.value - was_hz) <= now.half_width() or was == value:
        return f"pickup peak stays at {was} kHz within {doubt}"
    return f"pickup peak {was} → {value} kHz ± {doubt}"


def _rounded(value: float, half: float) -> tuple[str, str]:
    """Value and doubt to the same place; no finer than a hundredth, rounded up to it."""
    return round_together(value, half, _FINEST)
