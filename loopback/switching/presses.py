"""From recordings of presses to what the footswitch does."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.signal.watch import MARK_S, SETTLE_S, Watch, press_times
from loopback.switching.causes import find_causes
from loopback.switching.contacts import Contacts, amplitude_over_time, read_contacts
from loopback.switching.dc_step import STEP_BEFORE_S, measure_step, step_window
from loopback.switching.events import find_events, silent_stretches
from loopback.switching.figures import direction_figures
from loopback.switching.filters import a_weighted, in_band
from loopback.switching.pop import BEFORE_S, measure_pop, window_length
from loopback.switching.result import Direction, KnownBy, Press, PressFigures, Wave
from loopback.switching.silence import LAID_OVER, WINDOWS, Silence, silence_of
from loopback.switching.states import harmonics_of, starts_in_bypass
from loopback.switching.wave import wave_of

_RESTED = 3.0
"""A rest is long when it is this many times the interval asked for."""
_STEADY_S = 0.1
_CHANGED = 0.05
_TONE_GUARD_S = 0.3


@dataclass(frozen=True, slots=True)
class Heard:
    """One recording of presses.

    Parameters
    ----------
    x : ndarray of float64, shape (n,)
        The channel of the pedal path, fraction of full scale.
    rate_hz : int
        Sample rate.
    watch : Watch
        What was played.
    """

    x: F64
    rate_hz: int
    watch: Watch


@dataclass(frozen=True, slots=True)
class _Waves:
    """One recording in the unit of the result: as it is, in the band, under the A curve."""

    x: F64
    band: F64
    weighted: F64


def read_presses(
    silent: Heard,
    tone: Heard | None = None,
    *,
    full_scale_v: float | None = None,
    bypass_gain: float | None = None,
    lamp: str | None = None,
) -> PressFigures:
    """Read what the footswitch does.

    Parameters
    ----------
    silent : Heard
        Presses in silence.
    tone : Heard or None
        Presses under a steady tone, which began in the same position; None: there are none.
    full_scale_v : float or None
        Peak of a full-scale sine at the input, volts; None: amplitudes stay fractions of it.
    bypass_gain : float or None
        Recorded over played amplitude in bypass at the tone's frequency; None: not known.
    lamp : {"lit", "dark", "none"} or None
        What was seen at the beginning.

    Returns
    -------
    PressFigures
        Poor data leave figures out; nothing is raised for them.

    Raises
    ------
    ArgumentError
        If `silent` was recorded under a steady tone, or `tone` was not.
    """
    if silent.watch.steady or (tone is not None and not tone.watch.steady):
        raise ArgumentError("Presses in silence and presses with a tone were exchanged.")
    unit: Literal["V", "FS"] = "FS" if full_scale_v is None else "V"
    x = silent.x * (full_scale_v or 1.0)
    contacts = () if tone is None else _contacts(tone)
    bypass_first, known_by = _beginning(silent, tone, contacts, bypass_gain, lamp)
    rate = silent.rate_hz
    waves = _Waves(x, in_band(x, rate), a_weighted(x, rate))
    events, order = _events(waves, silent)
    first: Direction = "lit" if bypass_first else "dark"
    directions = [_turn(first, number) for number in order]
    silence = _silences(waves, silent, events, directions, first)
    presses = _measured(waves, silent, events, directions, silence, unit)
    with_tone = _directed(contacts, first)
    figures = {
        which: direction_figures(
            tuple(press for press in presses if press.direction == which),
            [contact for way, contact in with_tone if way == which],
            silence[which],
            unit,
        )
        for which in silence
    }
    for which, found in figures.items():
        figures[which] = replace(found, wave=_worst_wave(waves, presses, which, rate))
    return PressFigures(
        unit=unit,
        known_by=known_by,
        lit=figures["lit"],
        dark=figures["dark"],
        presses=presses,
        contacts=contacts,
        asked=silent.watch.presses,
        windows=WINDOWS,
        causes=find_causes(figures["lit"], figures["dark"]),
        corner_hz=silent.watch.corner_hz,
    )


def _turn(first: Direction, number: int) -> Direction:
    other: Direction = "dark" if first == "lit" else "lit"
    return first if number % 2 == 0 else other


def _usable(heard: Heard) -> tuple[int, int]:
    """Between the marks, wherever latency puts them."""
    watch, rate = heard.watch, heard.rate_hz
    start = round((MARK_S + 0.9 * SETTLE_S) * rate)
    return start, min(len(heard.x), round((watch.seconds - MARK_S - 0.02) * rate))


def _events(waves: _Waves, heard: Heard) -> tuple[NDArray[np.int64], list[int]]:
    """Find events, and the number of the press that each belongs to.

    As many events as presses: in order. Otherwise by the moments that were asked for, as late as
    the median event is; two events for one press keep the first.
    """
    start, stop = _usable(heard)
    events = find_events(waves.band, heard.rate_hz, start, stop)
    watch = heard.watch
    if len(events) == watch.presses or not len(events):
        return events, list(range(len(events)))
    asked = press_times(watch)
    at = events / heard.rate_hz
    late = at[:, None] - asked
    delay = float(np.median(np.min(np.where(late > -0.1, late, np.inf), axis=1)))
    numbers = np.argmin(np.abs(late - min(delay, watch.interval_s)), axis=1)
    kept = np.unique(numbers, return_index=True)[1]
    return events[kept], [int(number) for number in numbers[kept]]


def _silences(
    waves: _Waves,
    heard: Heard,
    events: NDArray[np.int64],
    directions: list[Direction],
    first: Direction,
) -> dict[Direction, Silence]:
    """Silence in the state that either direction leads to."""
    rate = heard.rate_hz
    stretches = silent_stretches(*_usable(heard), events, rate)
    led_to = [_turn(first, 1), *directions]
    out: dict[Direction, Silence] = {}
    for which in ("lit", "dark"):
        own = [part for part, led in zip(stretches, led_to, strict=True) if led == which]
        silence = silence_of(waves.x, waves.band, waves.weighted, own, rate)
        if not len(silence.band):
            silence = silence_of(waves.x, waves.band, waves.weighted, stretches, rate)
        out[which] = silence
    return out


def _measured(
    waves: _Waves,
    heard: Heard,
    events: NDArray[np.int64],
    directions: list[Direction],
    silences: dict[Direction, Silence],
    unit: str,
) -> tuple[Press, ...]:
    rate, watch = heard.rate_hz, heard.watch
    raw = np.concatenate([silences["lit"].raw, silences["dark"].raw])
    before, length = round(BEFORE_S * rate), window_length(rate)
    step_before, step_length = round(STEP_BEFORE_S * rate), step_window(rate)
    presses: list[Press] = []
    last = 0
    for event, direction in zip(events, directions, strict=True):
        rest_s = (event - last) / rate
        last = event
        silence = silences[direction]
        window = slice(event - before, event - before + length)
        wide = slice(event - step_before, event - step_before + step_length)
        if wide.stop > len(waves.x) or len(silence.band) < LAID_OVER:
            continue
        laid = slice(None, None, len(silence.band) // LAID_OVER)
        pop = measure_pop(
            waves.band[window],
            waves.weighted[window],
            silence.band[laid],
            silence.weighted[laid],
            rate,
            unit,
        )
        step = None
        if watch.corner_hz is not None and len(raw) >= LAID_OVER:
            step = measure_step(waves.x[wide], raw, rate, watch.corner_hz, unit)
        rested = rest_s > _RESTED * watch.interval_s
        is_pop = pop.peak.value > silence.limits[0]
        presses.append(
            Press(float(event / rate), direction, float(rest_s), rested, pop, step, is_pop)
        )
    return tuple(presses)


def _worst_wave(
    waves: _Waves, presses: tuple[Press, ...], which: Direction, rate_hz: int
) -> Wave | None:
    own = [press for press in presses if press.direction == which]
    worst = max(own, key=lambda press: press.pop.peak.value, default=None)
    return None if worst is None else wave_of(waves.band, worst.at_s, rate_hz)


def _contacts(tone: Heard) -> tuple[Contacts, ...]:
    """Read every change of the tone."""
    watch, rate = tone.watch, tone.rate_hz
    amplitude = amplitude_over_time(tone.x, watch.tone_hz, rate)
    found: list[Contacts] = []
    at, stop = _usable(tone)
    guard = round(_TONE_GUARD_S * rate)
    while (change := _next_change(amplitude, at, stop, rate)) is not None:
        contact = read_contacts(amplitude, change, rate)
        if contact is not None:
            found.append(contact)
        at = change + guard
    return tuple(found)


def _next_change(amplitude: C128, at: int, stop: int, rate_hz: int) -> int | None:
    """First sample at which the tone differs from what it was a little before."""
    steady = round(_STEADY_S * rate_hz)
    if at + steady >= stop:
        return None
    was = complex(np.mean(amplitude[at - steady // 2 : at + steady // 2]))
    away = np.abs(amplitude[at:stop] - was) > _CHANGED * abs(was)
    return at + int(np.argmax(away)) if np.any(away) else None


def _directed(contacts: tuple[Contacts, ...], first: Direction) -> list[tuple[Direction, Contacts]]:
    """Give each change its direction: by the amplitudes on both sides, which a press exchanges."""
    if not contacts:
        return []
    start = contacts[0].before
    return [
        (
            first if abs(c.before - start) <= abs(c.after - start) else _turn(first, 1),
            c,
        )
        for c in contacts
    ]


def _beginning(
    silent: Heard,
    tone: Heard | None,
    contacts: tuple[Contacts, ...],
    bypass_gain: float | None,
    lamp: str | None,
) -> tuple[bool, KnownBy]:
    """Tell whether the pedal was in bypass at the beginning."""
    watch, rate = silent.watch, silent.rate_hz
    played = 10.0 ** (watch.level_dbfs / 20)
    expected = None if bypass_gain is None else bypass_gain * played
    mark = silent.x[round(0.3 * rate) : round(0.45 * rate)]
    middle = len(mark) // 2
    start = float(abs(amplitude_over_time(mark, watch.tone_hz, rate, 300.0)[middle]))
    if tone is None or not contacts:
        return starts_in_bypass(start, None, expected, lamp, None)
    here, there = abs(contacts[0].before), abs(contacts[0].after)
    steady = round(_STEADY_S * rate)
    at, after = round(contacts[0].at_s * rate), round((contacts[0].at_s + 0.3) * rate)
    harmonics = (
        harmonics_of(tone.x[at - steady : at - steady // 4], watch.tone_hz, rate),
        harmonics_of(tone.x[after : after + steady], watch.tone_hz, rate),
    )
    return starts_in_bypass(here, there, expected, lamp, harmonics)
