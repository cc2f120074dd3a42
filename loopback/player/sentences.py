"""What is said to a player: the line on the result screen, and the lines about a whole chain."""

from __future__ import annotations

from loopback.player.chain import ChainFound, Leads
from loopback.player.change import Change
from loopback.player.pickup import Amplifier
from loopback.quantity import Estimate, with_prefix

_NOTHING_DB = 0.05
"""A peak that moves up or down by less is not mentioned."""


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
        Such as ``at most -0.27 dB ± 0.01, at 7.7 kHz; pickup peak 3.98 → 3.94 kHz``.
    """
    half = change.most_db.half_width()
    if abs(change.most_db.value) <= half:
        parts = [f"no change over {abs(change.most_db.value) + half:.2f} dB"]
    else:
        parts = [f"at most {signed(change.most_db)}, at {change.most_hz / 1e3:.1f} kHz"]
    before, after = change.before, change.after
    if before is not None and after is not None:
        was, now = f"{before.f_hz.value / 1e3:.2f}", f"{after.f_hz.value / 1e3:.2f}"
        text = f"pickup peak {was} → {now} kHz" if was != now else f"pickup peak stays at {was} kHz"
        rise = after.height_db.value - before.height_db.value
        if abs(rise) >= max(_NOTHING_DB, after.height_db.half_width()):
            text += f", {abs(rise):.1f} dB {'higher' if rise > 0 else 'lower'}"
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
    half = max(level.half_width(), 0.01)
    places = 2 if half < 0.1 else 1
    return f"{level.value:+.{places}f} dB ± {half:.{places}f}"
