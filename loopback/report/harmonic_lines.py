"""Harmonics in words: each order over the signal, with its doubt."""

from __future__ import annotations

from loopback.quality.behaviour import Behaviour
from loopback.quantity import Estimate, round_together
from loopback.response.distortion import middle_harmonics

ORDINALS = {2: "2nd", 3: "3rd", 4: "4th", 5: "5th"}
_FINEST_DB = 0.01
"""Nothing is printed finer: nobody needs it."""


def harmonic_texts(behaviour: Behaviour | None) -> dict[str, str]:
    """Write the harmonics of a run, from 300 Hz to 2 kHz.

    Parameters
    ----------
    behaviour : Behaviour or None
        Of a run.

    Returns
    -------
    dict of str to str
        By order, such as ``"2nd"``; empty where none was looked for.
    """
    if behaviour is None or behaviour.distortion is None:
        return {}
    return {
        ORDINALS[h.order]: (
            f"below {h.limit_db:.0f} dB" if h.level_db is None else over_signal(h.level_db)
        )
        for h in middle_harmonics(behaviour.distortion)
    }


def over_signal(estimate: Estimate) -> str:
    """Write a level over that of the signal, never finer than a hundredth of a decibel.

    Parameters
    ----------
    estimate : Estimate
        In dB.

    Returns
    -------
    str
        Such as ``"-23.24 dB ± 0.02"``.
    """
    return " dB ± ".join(round_together(estimate.value, estimate.half_width(), _FINEST_DB))
