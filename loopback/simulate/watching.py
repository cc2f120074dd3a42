"""The line while somebody presses or taps: paths that come and go, pops, joints that let go."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from loopback.arrays import C128, F64
from loopback.circuit.netlist import Element
from loopback.plan.runs import RunLabel
from loopback.signal.watch import MARK_S, SETTLE_S, Watch, envelope_of
from loopback.signal.watch_sweeps import sweep_period
from loopback.simulate.bins import good_length, log_grid, to_bins
from loopback.simulate.imperfections_noise import noise_bins
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.line import Line
from loopback.simulate.pedal import PedalFile, PedalState
from loopback.simulate.press_text import Joint
from loopback.simulate.presses import Direction, Pressed, connections, plan_presses, pop_wave

_PAD_S = 2.0


def hear_watch(
    watch: Watch,
    pedal: PedalFile,
    label: RunLabel,
    interface: InterfaceModel,
    line_of: Callable[[PedalState], Line],
    rate_hz: int,
    chances: tuple[np.random.Generator, np.random.Generator],
) -> tuple[F64, F64, tuple[Pressed, ...]]:
    """Make what arrives at the input while somebody presses or taps.

    Parameters
    ----------
    watch : Watch
        What is played.
    pedal : PedalFile
        What its footswitch and its joints do.
    label : RunLabel
        What is connected, and the position at the beginning.
    interface : InterfaceModel
        Its way out.
    line_of : callable
        From a state of the pedal to the line with it.
    rate_hz : int
        Sample rate.
    chances : tuple of numpy.random.Generator
        Of the presses, and of the effect's own noise.

    Returns
    -------
    wave : ndarray of float64, shape (n + pad,)
        At the input, before its high-pass, full scale; the pad leads back to the beginning.
    extra : ndarray of float64, shape (n,)
        Noise of the effect above that of the state at the beginning, while it is connected.
    pressed : tuple of Pressed
        What was pressed.
    """
    power, position = label.power or "on", label.position or "a"
    now = pedal.state(power, position)
    joints = pedal.joints if label.path == "pedal" else ()
    if not watch.presses:
        states = [now, *(with_joint(now, joint.ohm) for joint in joints)]
        tones = [tone_through(watch, line_of(state), interface, rate_hz) for state in states]
        return tapped_wave(tones, joints, rate_hz), np.zeros(len(tones[0])), ()
    then = pedal.state(power, "b" if position == "a" else "a", now.name)
    first: Direction = "dark" if then.name == pedal.bypass else "lit"
    lines = [line_of(state) for state in ((then, now) if first == "dark" else (now, then))]
    models = pedal.presses if label.path == "pedal" else {}
    pressed = plan_presses(watch, models, first, chances[0])
    through = [tone_through(watch, line, interface, rate_hz) for line in lines]
    wave = pressed_wave(
        (through[0], through[1]), pressed, first, rate_hz, 1 / interface.full_scale_v
    )
    count = len(through[0])
    gates = connections(pressed, first, count, rate_hz)
    start, other = (1, 0) if first == "dark" else (0, 1)
    n = good_length(count)
    more = np.maximum(lines[other].density - lines[start].density, 0.0)
    noise = noise_bins(to_bins(n, rate_hz).nearest(more), n, rate_hz, chances[1])
    extra = np.fft.irfft(noise, n)[:count] * gates[other]
    return wave, extra, pressed


def with_joint(state: PedalState, ohm: float) -> PedalState:
    """Put a resistance between the pedal's circuit and its output jack.

    Parameters
    ----------
    state : PedalState
        As built.
    ohm : float
        Resistance of the joint.

    Returns
    -------
    PedalState
        With one more element.
    """
    inside = tuple(
        replace(e, nodes=tuple("joint" if node == "OUT" else node for node in e.nodes))
        for e in state.elements
    )
    joint = Element("R", "Rjoint", ("joint", "OUT"), ohm)
    return replace(state, elements=(*inside, joint))


def tone_through(watch: Watch, line: Line, interface: InterfaceModel, rate_hz: int) -> F64:
    """Return the tone as it comes through one state of the pedal.

    Parameters
    ----------
    watch : Watch
        What is played.
    line : Line
        Of that state.
    interface : InterfaceModel
        Its way out.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (n,)
        Fraction of full scale at the input, before its high-pass.
    """
    envelope = envelope_of(watch, rate_hz)
    if watch.sweeps is not None:
        return envelope * _sweeps_through(watch.sweeps, line, interface, rate_hz, len(envelope))
    f_hz = np.array([watch.tone_hz])
    h = np.zeros(1, dtype=np.complex128) if line.h is None else _at(line.h, f_hz, rate_hz)
    factor = complex((interface.output_response(f_hz, rate_hz) * h)[0])
    angle = 2 * np.pi * watch.tone_hz / rate_hz * np.arange(len(envelope)) + np.angle(factor)
    wave = envelope * abs(factor) * np.sin(angle)
    if line.clip_level is None:
        return wave
    return np.asarray(line.clip_level * np.tanh(wave / line.clip_level))


def _sweeps_through(
    sweep_s: float, line: Line, interface: InterfaceModel, rate_hz: int, count: int
) -> F64:
    """Return what a path makes of a sweep that repeats for ever, peak 1 at the output."""
    period = sweep_period(sweep_s, rate_hz)
    if line.h is None:
        return np.zeros(count)
    f_hz: F64 = np.asarray(np.fft.rfftfreq(len(period), 1 / rate_hz), dtype=np.float64)
    f_hz[0] = f_hz[1] / 100
    through = interface.output_response(f_hz, rate_hz) * _at(line.h, f_hz, rate_hz)
    return np.resize(np.fft.irfft(np.fft.rfft(period) * through, len(period)), count)


def pressed_wave(
    tones: tuple[F64, F64], pressed: Sequence[Pressed], first: Direction, rate_hz: int, per_v: float
) -> F64:
    """Join the tone through both paths with what the presses put on the line.

    Parameters
    ----------
    tones : tuple of ndarray of float64, shape (n,)
        Through bypass and through the effect, fraction of full scale.
    pressed : sequence of Pressed
        The presses.
    first : {"lit", "dark"}
        Direction of the first one.
    rate_hz : int
        Sample rate.
    per_v : float
        Fraction of full scale per volt.

    Returns
    -------
    ndarray of float64, shape (n + 2 s,)
        At the input; the part behind the end leads back to where it began, so that a transform
        of it meets no step.
    """
    bypass, effect = tones
    n = len(bypass)
    through_bypass, through_effect = connections(pressed, first, n, rate_hz)
    wave = bypass * through_bypass + effect * through_effect
    wave += per_v * pop_wave(pressed, n, rate_hz)
    back = np.linspace(wave[-1], wave[0], round(_PAD_S * rate_hz))
    return np.concatenate([wave, back])


def tapped_wave(tones: Sequence[F64], joints: Sequence[Joint], rate_hz: int) -> F64:
    """Join the tone through a sound pedal with what comes through its joints meanwhile.

    Parameters
    ----------
    tones : sequence of ndarray of float64, shape (n,)
        Through the sound pedal, then through it with each joint.
    joints : sequence of Joint
        When each lets go.
    rate_hz : int
        Sample rate.

    Returns
    -------
    ndarray of float64, shape (n + 2 s,)
        At the input, with silence behind the end.
    """
    wave = np.concatenate([tones[0], np.zeros(round(_PAD_S * rate_hz))])
    for tone, joint in zip(tones[1:], joints, strict=True):
        start = round((MARK_S + SETTLE_S + joint.at) * rate_hz)
        part = slice(start, min(len(tone), start + round(joint.lasts * rate_hz)))
        wave[part] = tone[part]
    return wave


def _at(h: C128, f_hz: F64, rate_hz: int) -> C128:
    grid = np.log(log_grid(rate_hz))
    at = np.log(f_hz)
    return np.asarray(np.interp(at, grid, h.real) + 1j * np.interp(at, grid, h.imag))
