"""Where a recording of presses or taps begins, when no rig knew."""

from __future__ import annotations

import numpy as np

from loopback.arrays import F64
from loopback.signal.watch import MARK_S, Watch
from loopback.switching.contacts import amplitude_over_time

_SUSTAINED_S = 0.6 * MARK_S
_MEAN_S = 0.02
_SHARE = 0.5
_OF_BOTH = 0.6
"""More than half, so that the fainter of two states is among them; less than all, for the gaps."""
_HOP_S = 1e-3


def place_watch(x: F64, rate_hz: int, watch: Watch) -> F64:
    """Cut a recording made elsewhere so that it begins with its first mark.

    A mark, and the tone itself, sounds for half a second at one level; a pop does not.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        As recorded, from before the first mark on.
    rate_hz : int
        Sample rate.
    watch : Watch
        What was played.

    Returns
    -------
    ndarray of float64, shape (m,)
        From the mark on, to a hundredth of a second; unchanged where no mark is found.
    """
    hop, sustained = round(_HOP_S * rate_hz), round(_SUSTAINED_S / _HOP_S)
    periods = _MEAN_S * watch.tone_hz
    size = np.abs(amplitude_over_time(x, watch.tone_hz, rate_hz, periods))[::hop]
    if len(size) <= sustained:
        return x
    least = np.lib.stride_tricks.sliding_window_view(size, sustained).min(axis=1)
    # For so many of these windows something sounds, in either state of the pedal half of the time.
    sounding_s = watch.seconds - _SUSTAINED_S if watch.steady else 2 * (MARK_S - _SUSTAINED_S)
    share = min(1.0, sounding_s / _HOP_S / len(least))
    limit = _SHARE * float(np.quantile(least, 1 - _OF_BOTH * share))
    if not limit > 0:
        return x
    return x[int(np.argmax(least > limit)) * hop :]
