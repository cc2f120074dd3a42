"""Curves that are computed from what was found, as named columns: what a player hears, presses."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from loopback.arrays import F64
from loopback.player.change import Change
from loopback.quantity import coverage_factor
from loopback.switching.result import DirectionFigures, PressFigures


def player_columns(change: Change) -> dict[str, F64]:
    """Take the change that one pickup notices apart.

    Parameters
    ----------
    change : Change
        With the pedal in bypass against the same leads without it.

    Returns
    -------
    dict
        Level over frequency without and with the pedal, and the difference with its half-width.
    """
    return {
        "frequency (Hz)": change.f_hz,
        "level without the pedal (dB)": change.before_db,
        "level with the pedal (dB)": change.after_db,
        "change (dB)": change.after_db - change.before_db,
        "half-width 95 % of change (dB)": coverage_factor() * change.u_db,
    }


def pickup_word(change: Change) -> str:
    """Make a word for a file name of the pickup's name.

    Parameters
    ----------
    change : Change
        Of one pickup.

    Returns
    -------
    str
        Lower-case letters, digits and underscores.
    """
    return re.sub(r"[^a-z0-9]+", "_", change.pickup.name.lower()).strip("_")


def press_columns(found: PressFigures) -> dict[str, F64]:
    """Take all presses in silence apart.

    Parameters
    ----------
    found : PressFigures
        Of one run of presses.

    Returns
    -------
    dict
        One row for each press: which way, when, its peak, and what silence reaches.
    """
    lit = np.array([press.direction == "lit" for press in found.presses], dtype=bool)
    silence = (found.lit.silence_peak_99, found.dark.silence_peak_99)
    peaks = [press.pop.peak for press in found.presses]
    return {
        "press (1)": np.arange(1.0, len(peaks) + 1),
        "1 effect on, 0 effect off (1)": lit.astype(np.float64),
        "moment (s)": np.array([press.at_s for press in found.presses], dtype=np.float64),
        f"peak ({found.unit})": np.array([peak.value for peak in peaks], dtype=np.float64),
        f"half-width 95 % of peak ({found.unit})": np.array(
            [peak.half_width() for peak in peaks], dtype=np.float64
        ),
        f"99 % of silence below ({found.unit})": np.where(lit, *silence),
    }


def course_columns(found: PressFigures) -> Iterator[tuple[str, dict[str, F64]]]:
    """Take the course of the highest press of either direction apart.

    Parameters
    ----------
    found : PressFigures
        Of one run of presses.

    Yields
    ------
    name : str
        ``"on"`` or ``"off"``.
    columns : dict
        Lowest and highest value over time.
    """
    ways: tuple[tuple[str, DirectionFigures], ...] = (("on", found.lit), ("off", found.dark))
    for name, figures in ways:
        wave = figures.wave
        if wave is not None and len(wave.t_s):
            yield (
                name,
                {
                    "time (s)": wave.t_s,
                    f"lowest ({found.unit})": wave.low,
                    f"highest ({found.unit})": wave.high,
                },
            )
