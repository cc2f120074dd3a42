"""A row of runs on one invented setup: what was plugged when, and the recordings of each run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.signal.take import Signal, render_take
from loopback.signal.watch import Watch, render_watch
from loopback.simulate.bins import good_length, to_bins
from loopback.simulate.imperfections_drift import (
    Drift,
    drift_of_run,
    mating_of_run,
    take_generator,
)
from loopback.simulate.imperfections_noise import (
    convert,
    converter_density,
    hum_wave,
    noise_bins,
    returned,
)
from loopback.simulate.leads import Chance
from loopback.simulate.line import Line, Played, line_of, noise_density, prepare, signal_bins
from loopback.simulate.moving import Mover
from loopback.simulate.opening import Opening
from loopback.simulate.pedal import PedalFile, PedalState, load_pedal
from loopback.simulate.presses import Pressed
from loopback.simulate.scenario import Scenario
from loopback.simulate.sound import Sound
from loopback.simulate.sounding import NOTHING
from loopback.simulate.watching import hear_watch

_MARGIN_S = 0.1
_WATCHED = (1001, 1002, 1003)
"""In place of the number of a take: chance of what is done, of its noise, of all other noise."""
_MOVING = 1004
_NOTHING_PLUGGED = RunLabel(path="unplugged", feed="plain")


class Session:
    """Plays runs one after another.

    Parameters
    ----------
    scenario : Scenario
        Setup, pedal, mistakes, damages.
    played : int
        Number of runs already played.

    Raises
    ------
    ArgumentError
        If there is no such pedal, or its file cannot be read.
    """

    def __init__(self, scenario: Scenario, played: int = 0) -> None:
        self.scenario = scenario
        pedal = scenario.pedal
        self.pedal: PedalFile = pedal if isinstance(pedal, PedalFile) else load_pedal(pedal)
        self._run = played
        self.pressed: tuple[Pressed, ...] = ()
        self._last_state = ""
        self._ends: tuple[tuple[object, ...], tuple[object, ...]] = ((), ())
        self._plugged_in = (played + 1, played + 1)
        self._prepared: dict[tuple[Signal | None, int, int], Played] = {}

    def play(
        self, label: RunLabel, signal: Signal, takes: int, silence_s: float
    ) -> Iterator[Sound]:
        """Open the stream for one run.

        Parameters
        ----------
        label : RunLabel
            What the user was asked for.
        signal : Signal
            What each take plays.
        takes : int
            How many.
        silence_s : float
            Length of the silence after them, seconds; 0: none.

        Returns
        -------
        iterator of Sound
            Takes, then the silence.

        Raises
        ------
        ArgumentError
            If the number of takes or the silence is negative.
        """
        if takes < 0 or not silence_s >= 0:
            raise ArgumentError(f"{takes} takes and {silence_s} s of silence were asked for.")
        self._run += 1
        return self._sounds(self._open(label, signal.rate_hz), signal, takes, silence_s)

    def watch(self, label: RunLabel, watch: Watch, rate_hz: int) -> Sound:
        """Open the stream while somebody presses the footswitch or taps.

        What was pressed is then in `pressed`: the truth that an analysis has to find.

        Parameters
        ----------
        label : RunLabel
            What the user was asked for; its position is that at the beginning.
        watch : Watch
            What is played.
        rate_hz : int
            Sample rate.

        Returns
        -------
        Sound
            One recording.
        """
        self._run += 1
        opening = self._open(label, rate_hz)
        scenario, really = self.scenario, opening.actual.label
        interface, drift, chance = scenario.interface, opening.drift, opening.chance

        def line(state: PedalState) -> Line:
            return line_of(really, state, interface, scenario.leads, chance, drift, rate_hz)

        chances = [take_generator(scenario.seed, self._run, n) for n in _WATCHED]
        wave, extra, self.pressed = hear_watch(
            watch, self.pedal, really, interface, line, rate_hz, (chances[0], chances[1])
        )
        count = len(extra) + opening.latency
        samples = render_watch(watch, rate_hz)
        n = good_length(len(wave))
        played = prepare(interface, samples, to_bins(n, rate_hz), rate_hz)
        bins = np.fft.rfft(wave, n) * played.into + np.fft.rfft(extra, n)
        density = noise_density(played, opening.line, interface)
        channels = [self._channel(opening, played, count, bins, density, chances[2])]
        if scenario.check_cable:
            channels.append(self._check(opening, played, count, True, chances[2]))
        return Sound(False, rate_hz, np.array(channels).T, None)

    def _open(self, label: RunLabel, rate_hz: int) -> Opening:
        scenario, run = self.scenario, self._run
        interface, leads = scenario.interface, scenario.leads
        actual = scenario.actual(label, run)
        drift = drift_of_run(interface, leads, scenario.seed, run)
        drift = replace(drift, gain_db=drift.gain_db + actual.gain_db)
        chance = self._plug(actual.label, drift)
        state = self._state(actual.label)
        line = line_of(actual.label, state, interface, leads, chance, drift, rate_hz)
        line = replace(line, monitoring_db=actual.monitoring_db)
        beside = None
        if actual.wrong_channel and not scenario.check_cable:
            beside = line_of(_NOTHING_PLUGGED, state, interface, leads, chance, drift, rate_hz)
        latency = max(0, interface.latency_samples + drift.jump_samples)
        return Opening(run, actual, drift, line, chance, latency, beside)

    def _plug(self, label: RunLabel, drift: Drift) -> Chance:
        """Plug what has to be plugged; an end that stays where it is keeps its capacitance."""
        there = (label.path, label.direction, label.mating)
        ends = ((*there, label.feed, label.resistor_end), there)
        self._plugged_in = (
            self._plugged_in[0] if ends[0] == self._ends[0] else self._run,
            self._plugged_in[1] if ends[1] == self._ends[1] else self._run,
        )
        self._ends = ends
        leads, seed = self.scenario.leads, self.scenario.seed
        in_f = mating_of_run(leads, seed, self._plugged_in[0])[0]
        out_f = mating_of_run(leads, seed, self._plugged_in[1])[1]
        return Chance(drift.lead_a_f, drift.return_f, in_f, out_f)

    def _state(self, label: RunLabel) -> PedalState:
        power = label.power or "on"
        state = self.pedal.state(power, label.position or "a", self._last_state)
        if label.path == "pedal" and power == "on":
            self._last_state = state.name
        return state

    def _sounds(
        self, opening: Opening, signal: Signal, takes: int, silence_s: float
    ) -> Iterator[Sound]:
        interface = self.scenario.interface
        rate, start = signal.rate_hz, interface.latency_samples
        says = opening.actual.rate_label_hz or rate
        if takes:
            samples = render_take(signal)
            margin = start + interface.latency_jump_samples + round(_MARGIN_S * rate)
            count = len(samples) + margin
            played = self._prepare(rate, count, samples, signal)
            mover = self._mover(opening, rate)
            bins = None if mover is not None else signal_bins(played, opening.line)
            for take in range(1, takes + 1):
                if mover is not None:
                    bins = signal_bins(played, opening.line, mover)
                heard = self._record(opening, played, count, take, bins, samples)
                yield Sound(False, says, heard, start)
        if silence_s:
            count = round(silence_s * rate)
            played = self._prepare(rate, count, np.zeros(0))
            yield Sound(True, says, self._record(opening, played, count, 0, None, None), None)

    def _mover(self, opening: Opening, rate_hz: int) -> Mover | None:
        """Return what moves in the pedal, at rest as the stream opens."""
        movement = opening.line.sounding.movement
        if movement is None:
            return None
        rng = take_generator(self.scenario.seed, opening.run, _MOVING)
        return Mover(movement, rate_hz, rng.random)

    def _prepare(
        self, rate_hz: int, count: int, samples: F64, signal: Signal | None = None
    ) -> Played:
        """Prepare what is played; kept, since most runs play the same."""
        key = (signal, rate_hz, good_length(count))
        if key not in self._prepared:
            bins = to_bins(key[2], rate_hz)
            self._prepared[key] = prepare(self.scenario.interface, samples, bins, rate_hz)
        return self._prepared[key]

    def _record(
        self,
        opening: Opening,
        played: Played,
        count: int,
        take: int,
        bins: C128 | None,
        samples: F64 | None,
    ) -> F64:
        """One recording with all its channels."""
        scenario, interface = self.scenario, self.scenario.interface
        rng = take_generator(scenario.seed, opening.run, take)
        gain = 10.0 ** (interface.gain_take_db * float(rng.standard_normal()) / 20)
        if opening.actual.digital_return:
            path = returned(samples, count, opening.latency, interface.bits)
        else:
            density = noise_density(played, opening.line, interface)
            wave = None if bins is None else bins * gain
            path = self._channel(opening, played, count, wave, density, rng, opening.line)
        channels = [path]
        if scenario.check_cable:
            channels.append(self._check(opening, played, count, bins is not None, rng))
        elif opening.beside is not None:
            density = noise_density(played, opening.beside, interface)
            wave = None if bins is None else signal_bins(played, opening.beside)
            channels.append(self._channel(opening, played, count, wave, density, rng))
        if opening.actual.wrong_channel:
            channels.reverse()
        return scenario.damaged(np.array(channels).T, opening.run, take)

    def _check(
        self,
        opening: Opening,
        played: Played,
        count: int,
        sounding: bool,
        rng: np.random.Generator,
    ) -> F64:
        """Return the check cable's channel: the same converters, nothing in between."""
        interface = self.scenario.interface
        gain_db = interface.check_gain_db + opening.drift.check_gain_db
        wave = 10.0 ** (gain_db / 20) * played.out * played.into if sounding else None
        density = converter_density(
            played.to_bins.f_hz, interface.noise_dbfs_a, interface.flicker_corner_hz
        )
        return self._channel(opening, played, count, wave, density, rng)

    def _channel(
        self,
        opening: Opening,
        played: Played,
        count: int,
        wave: C128 | None,
        density: F64,
        rng: np.random.Generator,
        line: Line | None = None,
    ) -> F64:
        interface = self.scenario.interface
        bins = np.zeros(len(density), dtype=np.complex128) if wave is None else wave
        if np.any(density):
            bins = bins + noise_bins(density, played.n, played.rate_hz, rng)
        heard = np.roll(np.fft.irfft(bins, played.n), opening.latency)[:count]
        if interface.hum_dbfs:
            orders = np.arange(1.0, len(interface.hum_dbfs) + 1)
            phases: F64 = orders * rng.uniform(0, 2 * np.pi) + orders**2
            heard += hum_wave(count, played.rate_hz, interface.mains_hz, interface.hum_dbfs, phases)
        if line is not None and line.sounding is not NOTHING:
            heard += line.sounding.added(interface, count, played.rate_hz, rng)
        return convert(heard, interface.bits)
