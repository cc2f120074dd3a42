"""The plan of one take: silence, check tones, sweep up, check tones, sweep down, check tones."""

from __future__ import annotations

import math
from functools import lru_cache

import msgspec
import numpy as np

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.signal.layout import Layout, Segment, SegmentName, Tone
from loopback.signal.sweep import fade_ends, sweep_constant_s, synchronised_sweep

LOWEST_HZ = 10.0
HIGHEST_HZ = 40_000.0
HIGHEST_FRACTION = 0.47
"""The sweep stops here as a fraction of the sample rate, below every converter's own filter."""
DEFAULT_LEVEL_DBFS = -12.0
DEFAULT_CEILING_DBFS = -12.0
TONE_STEP_DB = 20.0
MIDDLE_TONE_HZ = 1000.0
LOW_TONE_HZ = 80.0
"""Not 100 Hz: that is a line of 50 Hz mains, and 80 Hz is 20 Hz away from the nearest of any."""
HIGH_TONE_HZ = 10_000.0

_LEAD_S = 0.5
TONE_S = 0.12
_TONE_GAP_S = 0.02
_SETTLE_S = 0.1
_REST_S = 0.6
_TAIL_S = 1.0
_END_S = 0.2
_TONE_FADE_S = 0.008
_SHORT_LEAD_S = 0.02
_SHORT_TAIL_S = 0.08
_SHORT_LOWEST_HZ = 20.0
_FADE_IN_S = 0.03
_FADE_OUT_S = 0.004


class Signal(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """Everything needed to make the same samples again; also the document beside a signal file.

    Attributes
    ----------
    rate_hz : int
        Sample rate.
    f1_hz, f2_hz : float
        Lowest and highest frequency of the sweep.
    cycles : int
        The whole number ``f1 L``: it makes the sweep start at phase zero, and fixes its duration.
    level_dbfs : float
        Peak of sweep and full-level tones.
    short : bool
        True: one upward sweep and no tones, for live readings; never in a document.
    """

    rate_hz: int
    f1_hz: float
    f2_hz: float
    cycles: int
    level_dbfs: float
    short: bool = False

    @property
    def constant_s(self) -> float:
        """L of the synchronised sweep, seconds."""
        return self.cycles / self.f1_hz

    @property
    def sweep_s(self) -> float:
        """Duration of one sweep, seconds."""
        return self.constant_s * math.log(self.f2_hz / self.f1_hz)

    @property
    def full_to_hz(self) -> float:
        """Highest frequency that is played at full level: there the fade at the end begins."""
        return self.f2_hz * math.exp(-_FADE_OUT_S / self.constant_s)

    @property
    def amplitude(self) -> float:
        """Peak of the sweep as a fraction of full scale."""
        return float(10.0 ** (self.level_dbfs / 20))


def plan_signal(
    rate_hz: int = 96_000,
    seconds: float = 4.0,
    level_dbfs: float = DEFAULT_LEVEL_DBFS,
    ceiling_dbfs: float = DEFAULT_CEILING_DBFS,
) -> Signal:
    """Choose the sweep for a sample rate and a duration.

    The number of cycles is rounded so that every harmonic stays in step; the duration gives way,
    the frequencies never (Novak, Lotton and Simon 2015).

    Parameters
    ----------
    rate_hz : int
        Sample rate, 44 100 to 192 000 Hz.
    seconds : float
        Wanted duration of each sweep.
    level_dbfs : float
        Peak level.
    ceiling_dbfs : float
        The level may not exceed this; raising it is the caller's explicit decision.

    Returns
    -------
    Signal
        The parameters; `layout_of` and `render_take` do the rest.

    Raises
    ------
    ArgumentError
        If a value lies outside what can be played.
    """
    if not 44_100 <= rate_hz <= 192_000:
        raise ArgumentError(
            f"A sample rate of {rate_hz} Hz was asked for.",
            "Below 44.1 kHz the treble is missing, above 192 kHz nothing is gained.",
            "Use 48k or 96k.",
        )
    if not 1.0 <= seconds <= 30.0:
        raise ArgumentError(
            f"A sweep of {seconds:g} s was asked for.",
            "Under 1 s the lowest octave is lost, over 30 s drift wins.",
            "Use 2 to 10 seconds.",
        )
    if not -80.0 <= level_dbfs <= 0.0:
        raise ArgumentError(
            f"A level of {level_dbfs:g} dBFS was asked for.", "", "Use -40 to -6 dBFS."
        )
    if level_dbfs > ceiling_dbfs:
        raise ArgumentError(
            f"A level of {level_dbfs:g} dBFS is above the ceiling of {ceiling_dbfs:g} dBFS.",
            "A hot interface then puts several volts into an unpowered pedal.",
            f"Keep the level, or raise the ceiling knowingly: --ceiling {level_dbfs:g}.",
        )
    f2_hz = min(HIGHEST_HZ, HIGHEST_FRACTION * rate_hz)
    cycles = max(1, round(LOWEST_HZ * sweep_constant_s(LOWEST_HZ, f2_hz, seconds)))
    return Signal(rate_hz, LOWEST_HZ, f2_hz, cycles, level_dbfs)


def short_signal(rate_hz: int, level_dbfs: float = DEFAULT_LEVEL_DBFS) -> Signal:
    """Choose the shortest synchronised sweep from 20 Hz, about 0.36 s, for live readings.

    Parameters
    ----------
    rate_hz : int
        Sample rate, 44 100 to 192 000 Hz.
    level_dbfs : float
        Peak level.

    Returns
    -------
    Signal
        One that no examination holds: without tones and a second sweep nothing checks itself.
    """
    usual = plan_signal(rate_hz, 1.0, level_dbfs, max(level_dbfs, DEFAULT_CEILING_DBFS))
    return msgspec.structs.replace(usual, f1_hz=_SHORT_LOWEST_HZ, cycles=1, short=True)


@lru_cache(maxsize=8)
def layout_of(signal: Signal) -> Layout:
    """Lay out one take of a signal.

    Parameters
    ----------
    signal : Signal
        Its parameters.

    Returns
    -------
    Layout
        Segments and tones in order; lengths in samples.
    """
    rate = signal.rate_hz
    sweep = math.ceil(signal.sweep_s * rate)
    if signal.short:
        lead, tail = round(_SHORT_LEAD_S * rate), round(_SHORT_TAIL_S * rate)
        parts = (Segment("lead", 0, lead), Segment("up", lead, sweep))
        end = Segment("tail", lead + sweep, tail)
        return Layout((*parts, end), (), end.stop)
    tone, gap, fade = round(TONE_S * rate), round(_TONE_GAP_S * rate), round(_TONE_FADE_S * rate)
    settle = round(_SETTLE_S * rate)
    low = signal.level_dbfs - TONE_STEP_DB
    scheme = (
        (MIDDLE_TONE_HZ, signal.level_dbfs),
        (MIDDLE_TONE_HZ, low),
        (LOW_TONE_HZ, signal.level_dbfs),
        (HIGH_TONE_HZ, signal.level_dbfs),
    )
    block = len(scheme) * (tone + gap) + settle
    lengths: tuple[tuple[SegmentName, int], ...] = (
        ("lead", round(_LEAD_S * rate)),
        ("tones_before", block),
        ("up", sweep),
        ("rest", round(_REST_S * rate)),
        ("tones_between", block),
        ("down", sweep),
        ("tail", round(_TAIL_S * rate)),
        ("tones_after", block),
        ("end", round(_END_S * rate)),
    )
    segments: list[Segment] = []
    tones: list[Tone] = []
    at = 0
    for name, length in lengths:
        segments.append(Segment(name, at, length))
        if name in ("tones_before", "tones_between", "tones_after"):
            tones.extend(
                Tone(name, f_hz, level, at + i * (tone + gap), tone, fade)
                for i, (f_hz, level) in enumerate(scheme)
            )
        at += length
    return Layout(tuple(segments), tuple(tones), at)


def render_sweep(signal: Signal, stretch: float = 0.0) -> F64:
    """Make the samples of the upward sweep with its faded ends.

    Parameters
    ----------
    signal : Signal
        Its parameters.
    stretch : float
        Zero, or how much longer a recorder with another clock finds it: 30e-6 is 30 ppm. The
        sweep is then computed at that recorder's sample times, which is exact.

    Returns
    -------
    ndarray of float64, shape (n,)
        Fraction of full scale.
    """
    rate_hz = signal.rate_hz * (1 + stretch)
    samples = layout_of(signal).segment("up").length * (1 + stretch)
    sweep = signal.amplitude * synchronised_sweep(
        signal.f1_hz, signal.constant_s, rate_hz, round(samples)
    )
    times = 1 + stretch
    fade_in = round(_FADE_IN_S * signal.rate_hz) * times
    fade_out = round(_FADE_OUT_S * signal.rate_hz) * times
    fade_ends(sweep, fade_in, fade_out, samples - times)
    return sweep


@lru_cache(maxsize=2)
def render_take(signal: Signal) -> F64:
    """Make the samples of one take.

    Parameters
    ----------
    signal : Signal
        Its parameters.

    Returns
    -------
    ndarray of float64, shape (n,)
        Fraction of full scale, read-only (the array is shared).
    """
    layout = layout_of(signal)
    out = np.zeros(layout.length)
    sweep = render_sweep(signal)
    for segment in layout.segments:
        if segment.name in ("up", "down"):
            out[segment.start : segment.stop] = sweep if segment.name == "up" else sweep[::-1]
    for tone in layout.tones:
        n = np.arange(tone.length)
        wave = 10.0 ** (tone.level_dbfs / 20) * np.sin(2 * np.pi * tone.f_hz / signal.rate_hz * n)
        fade_ends(wave, tone.fade, tone.fade, tone.length - 1)
        out[tone.start : tone.start + tone.length] = wave
    out.flags.writeable = False
    return out
