"""What is played while somebody presses or taps: a steady tone, or silence between two marks.

One recording is laid out as::

    mark   settle   rest   press, press, ...   rest   press, press, ...   settle   mark

The marks are short tones: they tell the analysis which path the signal takes at either end. The
second half begins after another rest, with the direction that the first half did not begin with,
so that either direction has one press after a rest.
"""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.signal.watch_sweeps import sweep_period

TONE_HZ = 5000.0
"""High enough to time a gap to a tenth of a millisecond, low enough for every band edge."""
MARK_S = 0.5
SETTLE_S = 0.5
FADE_S = 0.02


WatchKind = Literal["presses", "tap"]
"""What is done meanwhile: the footswitch is pressed; joints and jacks are tapped and bent."""


class Watch(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One stretch of watching the line; also the record of it beside the recording.

    Attributes
    ----------
    steady : bool
        True: the tone sounds all the time. False: only the two marks sound.
    tone_hz, level_dbfs : float
        Frequency and peak level of tone and marks.
    presses : int
        How many presses are asked for; 0 when there is tapping instead.
    interval_s : float
        From one press to the next.
    rest_s : float
        How long nobody touches anything before the first press of either half; with taps: how
        long the line is watched.
    corner_hz : float or None
        High-pass corner of the interface's input; None: not known.
    sweep_s : float
        Length of one of the short sweeps that sound in place of the tone, the marks too, while
        somebody taps; left out where a tone sounds.
    """

    steady: bool
    tone_hz: float = TONE_HZ
    level_dbfs: float = -20.0
    presses: int = 20
    interval_s: float = 1.5
    rest_s: float = 10.0
    corner_hz: float | None = None
    sweep_s: float | msgspec.UnsetType = msgspec.UNSET

    @property
    def sweeps(self) -> float | None:
        """Length of one short sweep; None: a tone sounds."""
        return None if isinstance(self.sweep_s, msgspec.UnsetType) else self.sweep_s

    @property
    def kind(self) -> WatchKind:
        """What is done meanwhile."""
        return "presses" if self.presses else "tap"

    @property
    def seconds(self) -> float:
        """Duration of the whole, seconds."""
        times = press_times(self)
        last = float(times[-1]) + self.interval_s if len(times) else MARK_S + SETTLE_S + self.rest_s
        return last + SETTLE_S + MARK_S


def watch_problem(watch: Watch) -> tuple[str, str] | None:
    """Say what about a watch cannot be.

    Parameters
    ----------
    watch : Watch
        As given or read.

    Returns
    -------
    tuple of str, or None
        Field and problem; None: all is well.
    """
    if not 100 <= watch.tone_hz <= 20_000:
        return "tone_hz", f"A tone of {watch.tone_hz:g} Hz"
    if not -80 <= watch.level_dbfs <= 0:
        return "level_dbfs", f"A level of {watch.level_dbfs:g} dBFS"
    if not 0 <= watch.presses <= 400:
        return "presses", f"{watch.presses} presses"
    if not 0.5 <= watch.interval_s <= 60:
        return "interval_s", f"{watch.interval_s:g} s between presses"
    if not 0 <= watch.rest_s <= 600:
        return "rest_s", f"A rest of {watch.rest_s:g} s"
    if watch.corner_hz is not None and not 0 < watch.corner_hz < 50:
        return "corner_hz", f"A corner of {watch.corner_hz:g} Hz"
    if watch.sweeps is not None and not 0.02 <= watch.sweeps <= 1:
        return "sweep_s", f"A short sweep of {watch.sweeps:g} s"
    if watch.sweeps is not None and (watch.presses or not watch.steady):
        return "sweep_s", "Short sweeps while somebody presses"
    return None


def press_times(watch: Watch) -> F64:
    """Moments at which a press is asked for.

    Parameters
    ----------
    watch : Watch
        Number, interval, rest.

    Returns
    -------
    ndarray of float64, shape (presses,)
        Seconds from the first sample.
    """
    half = (watch.presses + 1) // 2
    half += half % 2 == 0  # odd, so that the second half begins with the other direction
    numbers = np.arange(watch.presses, dtype=np.float64)
    rests = np.where(numbers < half, 1, 2)
    return np.asarray(MARK_S + SETTLE_S + rests * watch.rest_s + numbers * watch.interval_s)


def envelope_of(watch: Watch, rate_hz: int) -> F64:
    """Amplitude of the tone over time.

    Parameters
    ----------
    watch : Watch
        Level and layout.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (n,)
        Fraction of full scale.

    Raises
    ------
    ArgumentError
        If the watch cannot be.
    """
    if problem := watch_problem(watch):
        raise ArgumentError(f"{problem[1]} cannot be played.")
    out = np.zeros(round(watch.seconds * rate_hz))
    mark, fade = round(MARK_S * rate_hz), round(FADE_S * rate_hz)
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / fade)
    sounding = [slice(0, len(out))] if watch.steady else [slice(0, mark), slice(-mark, None)]
    for part in sounding:
        out[part] = 10.0 ** (watch.level_dbfs / 20)
        out[part][:fade] *= ramp
        out[part][-fade:] *= ramp[::-1]
    return out


def render_watch(watch: Watch, rate_hz: int) -> F64:
    """Make the samples.

    Parameters
    ----------
    watch : Watch
        What is played.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (n,)
        Fraction of full scale.
    """
    envelope = envelope_of(watch, rate_hz)
    if watch.sweeps is not None:
        return envelope * np.resize(sweep_period(watch.sweeps, rate_hz), len(envelope))
    return np.asarray(
        envelope * np.sin(2 * np.pi * watch.tone_hz / rate_hz * np.arange(len(envelope)))
    )
