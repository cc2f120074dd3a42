"""An analysis by hand with something to show in every picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from loopback.facts import Analysis, RunFacts
from loopback.noise.mains_lines import MainsLine, MainsLines
from loopback.noise.survey import ToneCompared, ToneSurvey
from loopback.noise.tones import Tone
from loopback.player.chain import find_chain
from loopback.player.device import shunt_device
from loopback.quality.behaviour import Behaviour
from loopback.quantity import Estimate
from loopback.response.distortion import Distortion
from loopback.switching.pop import Pop
from loopback.switching.result import DirectionFigures, Press, PressFigures, Wave
from tests.reference.invented_analysis import analysis

THIRDS = 1000.0 * 10.0 ** (np.arange(-18, 14) / 10)


def distortion(levels_db: tuple[float, ...], noise_db: float = -125.0) -> Distortion:
    """Harmonics 2 to 5 at the same level everywhere, with noise; the lowest thirds are nonsense."""
    power = np.repeat(10.0 ** (np.array(levels_db) / 10)[:, None], len(THIRDS), axis=1)
    power[:, 0] = 1e-4
    power[:, 1] = 1e-6
    return Distortion(THIRDS, power, np.full(power.shape, 10.0 ** (noise_db / 10)))


def behaviour(found: Distortion, tones: tuple[ToneCompared, ...] = ()) -> Behaviour:
    """Harmonics, twenty lines of the mains, and tones are known."""
    flat = np.array([-130.0, -130.0])
    lines = tuple(MainsLine(n, Estimate(-90.0 - 2 * n, 0.3, "dBFS"), -130.0) for n in range(1, 21))
    mains = MainsLines(50.0, Estimate(50.01, 0.01, "Hz"), lines, Estimate(-88.0, 0.3, "dBFS"))
    survey = ToneSurvey(mains, (), np.array([20.0, 20e3]), flat, 10.0)
    return Behaviour((), survey, tones, found, None, None, None)


def tone(f_hz: float, level_dbfs: float) -> ToneCompared:
    """A whine of the pedal's own."""
    found = Tone(Estimate(f_hz, 0.1, "Hz"), Estimate(level_dbfs, 0.2, "dBFS"))
    return ToneCompared(found, None, True, None)


def presses(unit: str = "V", heard: int = 24) -> PressFigures:
    """Every other press pops by 40 mV towards the effect and 2 mV back."""
    none = Estimate(0.01, 0.001, "s")
    found = []
    for number in range(heard):
        peak = (0.04 if number % 2 == 0 else 0.002) * (1 + 0.1 * np.sin(number))
        size = Estimate(float(peak), 0.02 * float(peak), unit)
        pop = Pop(size, size, Estimate(1e-6, 1e-8, f"{unit}²s"), none, none)
        way = "lit" if number % 2 == 0 else "dark"
        found.append(Press(2.0 * number, way, 2.0, False, pop, None, True))
    t_s = np.arange(640) * 0.26 / 640 - 0.01
    shape = np.where(t_s > 0, np.exp(-np.maximum(t_s, 0) / 0.01), 0.0)
    ways = []
    for way, peak in (("lit", 0.04), ("dark", 0.002)):
        own = [press for press in found if press.direction == way]
        wave = Wave(t_s, peak * shape - 1e-4, peak * shape + 1e-4) if own else None
        ways.append(DirectionFigures(len(own), len(own), 2e-4, wave=wave))
    return PressFigures(unit, "lamp", *ways, tuple(found), (), 24, 100, (), 2.0)


def shown_analysis(name: str = "Quarry Lamp", unit: str = "V", heard: int = 24) -> Analysis:
    """Something in every picture."""
    source = analysis(name)
    whines = (
        tone(1000.0, -95.0),
        tone(1010.0, -97.0),
        tone(16_000.0, -61.0),
        tone(15_600.0, -90.0),
    )

    def with_harmonics(facts: RunFacts, levels: tuple[float, ...]) -> RunFacts:
        tones = whines if facts.run.label.path == "pedal" else ()
        return replace(facts, behaviour=behaviour(distortion(levels), tones))

    device = shunt_device(Estimate(220e-12, 5e-12, "farad"), Estimate(5e-6, 1e-7, "siemens"))
    return replace(
        source,
        references=tuple(with_harmonics(f, (-110, -112, -118, -119)) for f in source.references),
        pedal_runs=tuple(with_harmonics(f, (-60, -112, -80, -85)) for f in source.pedal_runs),
        footswitch=presses(unit, heard),
        player=find_chain([device]),
    )
