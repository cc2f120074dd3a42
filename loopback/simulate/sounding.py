"""What a state of a pedal adds and bends, in full scale of the recording."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from loopback.arrays import F64
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.moving import Movement
from loopback.simulate.state_sound import SILENT, StateSound


@dataclass(frozen=True, slots=True)
class Sounding:
    """One run's part of it.

    Parameters
    ----------
    tones : tuple of (float, float)
        Frequency in hertz and peak of each tone.
    hum : tuple of float
        Peak of the mains frequency and its multiples.
    square, cube : float
        How the waveform is bent, per full scale and per its square; 0: not at all.
    movement : Movement or None
        What changes with time; None: nothing.
    """

    tones: tuple[tuple[float, float], ...] = ()
    hum: tuple[float, ...] = ()
    square: float = 0.0
    cube: float = 0.0
    movement: Movement | None = None

    def added(
        self, interface: InterfaceModel, n: int, rate_hz: int, rng: np.random.Generator
    ) -> F64:
        """Return its tones and hum as they are recorded.

        Parameters
        ----------
        interface : InterfaceModel
            Mains frequency and way in.
        n : int
            Samples.
        rate_hz : int
            Sample rate.
        rng : numpy.random.Generator
            Of their phases; not asked where there are none.

        Returns
        -------
        ndarray of float64, shape (n,)
            Fraction of full scale.
        """
        out = np.zeros(n)
        lines = [*self.tones, *((k * interface.mains_hz, p) for k, p in enumerate(self.hum, 1))]
        for f_hz, peak in lines:
            into = float(np.abs(interface.input_response(np.array([f_hz]), rate_hz))[0])
            phase = rng.uniform(0, 2 * np.pi)
            out += into * peak * np.cos(2 * np.pi * f_hz / rate_hz * np.arange(n) + phase)
        return out


NOTHING = Sounding()


def sounding_of(sound: StateSound, per_volt: float, source_ohm: float) -> Sounding:
    """Turn what a pedal file says into full scale.

    Parameters
    ----------
    sound : StateSound
        In volts.
    per_volt : float
        Full scale per volt.
    source_ohm : float
        Impedance of the line, which a clamp works against.

    Returns
    -------
    Sounding
        A sine of peak A then has harmonics of ``square · A / 2`` and ``cube · A² / 4`` over itself.
    """
    if sound == SILENT:
        return NOTHING
    peak = math.sqrt(2) * per_volt
    movement = None
    if sound.moves:
        gate = None if sound.gate is None else (sound.gate[0] * per_volt, sound.gate[1])
        movement = Movement(sound.clamp, source_ohm, per_volt, sound.tremolo, gate)
    second, third = sound.second_db, sound.third_db
    return Sounding(
        tones=tuple((f_hz, volts * peak) for f_hz, volts in sound.tones),
        hum=tuple(volts * peak for volts in sound.hum),
        square=0.0 if second is None else 2 * 10.0 ** (-second / 20) / per_volt,
        cube=0.0 if third is None else 4 * 10.0 ** (-third / 20) / per_volt**2,
        movement=movement,
    )
