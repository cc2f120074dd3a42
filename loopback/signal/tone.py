"""A steady tone for a meter."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.signal.sweep import fade_ends
from loopback.signal.take import Signal

METER_TONE_HZ = 200.0
"""Simple meters read alternating voltages right from 50 to 400 Hz (common practice)."""
_FADE_S = 0.05


def meter_tone(signal: Signal, seconds: float) -> F64:
    """Make a steady sine of 200 Hz at the level of a signal.

    Parameters
    ----------
    signal : Signal
        Its sample rate and peak level are used.
    seconds : float
        How long; 0: nothing.

    Returns
    -------
    ndarray of float64, shape (n,)
        Fraction of full scale, with faded ends.
    """
    n = np.arange(round(seconds * signal.rate_hz))
    tone = signal.amplitude * np.sin(2 * np.pi * METER_TONE_HZ / signal.rate_hz * n)
    if n.size:
        fade = round(min(_FADE_S, seconds / 4) * signal.rate_hz)
        fade_ends(tone, fade, fade, n.size - 1)
    return np.asarray(tone)
