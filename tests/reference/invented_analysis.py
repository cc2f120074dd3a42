"""Analyses made by hand, of runs nobody measured, to see how they are written and drawn."""

from __future__ import annotations

import numpy as np

from loopback.examination.records import Examination, Pedal, Recording, Run, Setup
from loopback.facts import Analysis, RunFacts
from loopback.identify.found import Shunt
from loopback.noise.figures import NoiseFigures
from loopback.plan.runs import RunLabel
from loopback.quality.finding import Finding
from loopback.quantity import Estimate
from loopback.response.band import corners, level_offset, polarity, treble
from loopback.response.reading import Ratio, RunResponse
from loopback.signal.take import Signal, plan_signal
from loopback.verdict.result import Reason, Result

F_HZ = np.geomspace(10.0, 22_500.0, 240)
SIGNAL: Signal = plan_signal(48_000, 2.0)
LONG_NAME = "The Exceedingly Patient Lighthouse Keeper's Second Favourite Overdrive, Revision 12 b"


def ratio_of(run_id: str, level_db: np.ndarray, u_gain_db: float = 0.002) -> Ratio:
    """A ratio with that level, a little noise and a floor that rises with frequency."""
    return Ratio(
        run_id=run_id,
        reference_ids=("01", "06"),
        f_hz=F_HZ,
        t=(10 ** (level_db / 20)).astype(np.complex128),
        var=np.full(F_HZ.shape, 1e-8),
        u_gain_db=u_gain_db,
        delay_s=0.0,
        delay_held=False,
        floor_db=-95 + 10 * np.log10(1 + (F_HZ / 2000) ** 2),
    )


def pedal_run(number: int, label: RunLabel, level_db: np.ndarray) -> RunFacts:
    """One pedal run with everything that an analysis finds out about it."""
    run_id = f"{number:02d}"
    ratio = ratio_of(run_id, level_db)
    levels = ((f, treble(ratio, f)) for f in (5e3, 10e3, 15e3, 20e3))
    return RunFacts(
        run=recorded_run(run_id, label),
        response=response(run_id),
        ratio=ratio,
        level=level_offset(ratio),
        treble=tuple((f, e) for f, e in levels if e is not None),
        corners=corners(ratio),
        polarity=polarity(ratio),
        delay=None,
        noise=noise(),
        noise_over_reference=Estimate(0.1, 0.2, "dB"),
        noise_f_hz=np.linspace(0, 24_000, 2401),
        noise_psd=np.full(2401, 3e-15),
    )


def reference_run(number: int, label: RunLabel) -> RunFacts:
    """One coupler run."""
    run_id = f"{number:02d}"
    f_hz, psd = np.linspace(0, 24_000, 2401), np.full(2401, 3e-15)
    run = recorded_run(run_id, label)
    return RunFacts(run, response(run_id), None, None, (), (), None, None, noise(), None, f_hz, psd)


def recorded_run(run_id: str, label: RunLabel) -> Run:
    """A run with one recording."""
    made = "2026-11-25T20:00:00+01:00"
    file = Recording(f"recordings/{run_id}-1.wav", "ab" * 32, 48_000, 1, 480_000, "sweep", made)
    return Run(run_id, label, (file,))


def response(run_id: str) -> RunResponse:
    """A flat response of two takes."""
    flat = np.ones(F_HZ.shape, dtype=np.complex128)
    return RunResponse(run_id, F_HZ, flat, np.full(F_HZ.shape, 1e-10), 0.0, 0.0012, 2)


def noise() -> NoiseFigures:
    """Noise of a good interface."""
    return NoiseFigures(Estimate(-98.0, 0.03, "dB"), Estimate(-100.1, 0.03, "dB"), 50.0, -18.2)


def pulldown_result() -> Result:
    """Passive, with 1 MΩ and 19 pF on the line."""
    shunt = Shunt(
        Estimate(19.2e-12, 0.35e-12, "farad"), Estimate(1e-6, 5e-9, "siemens"), 0.001, 1e5, 412e-12
    )
    return Result(
        path="loaded",
        alternatives=(),
        power="bypass_position",
        grades=("light",),
        bypass_position="b",
        certainty=0.9994,
        shunt=shunt,
        reasons=(Reason("shunt_resistance", {"ohm": 1e6}), Reason("plain_rc", {"db": 0.001})),
        would_tell=(),
        families=("mechanical", "relay_latching"),
        series_ohm=Estimate(0.4, 2.6, "ohm"),
        consistent=("shunt",),
        resistor=Estimate(1e5, 577.0, "ohm"),
        setup_c=Estimate(412e-12, 2.4e-12, "farad"),
        not_tested=("footswitch_noise", "flexing"),
    )


def analysis(
    name: str = "Quarry Lamp",
    result: Result | None = None,
    findings: tuple[Finding, ...] = (),
    pedal_runs: tuple[RunFacts, ...] | None = None,
    **about: str,
) -> Analysis:
    """A standard examination of a pedal with a pulldown."""
    loaded = -0.74 + 0.33 * (1 - 1 / np.sqrt(1 + (F_HZ / 5000) ** 2))
    flat = np.zeros(F_HZ.shape)
    engaged = 14 - 10 * np.log10(1 + (60 / F_HZ) ** 2)
    dead = -94 + 20 * np.log10(F_HZ / 1000)
    runs = pedal_runs or tuple(
        pedal_run(number, RunLabel("pedal", feed, power, position, resistor_ohm=ohm), level)
        for number, feed, power, position, ohm, level in (
            (2, "resistor", "on", "a", 1e5, engaged),
            (3, "resistor", "on", "b", 1e5, loaded),
            (4, "resistor", "off", "b", 1e5, loaded),
            (5, "resistor", "off", "a", 1e5, dead),
            (8, "plain", "off", "b", None, flat),
            (9, "plain", "on", "b", None, flat),
        )
    )
    setup = Setup("simulator", resistor_ohm=1e5, resistor_tolerance=0.01)
    document = Examination(
        1,
        "2026-11-25T19:58:00+01:00",
        Pedal(name, **about),
        setup,
        SIGNAL,
        tuple(f.run for f in runs),
    )
    references = (
        reference_run(1, RunLabel("coupler", "resistor", resistor_ohm=1e5)),
        reference_run(7, RunLabel("coupler", "plain")),
    )
    return Analysis(document, references, runs, findings, result or pulldown_result())


def twelve_runs() -> tuple[RunFacts, ...]:
    """As many pedal runs as a long evening gives, most of them on top of each other."""
    flat = np.zeros(F_HZ.shape)
    return tuple(
        pedal_run(
            number,
            RunLabel(
                "pedal",
                "resistor" if number % 2 else "plain",
                "on" if number % 3 else "off",
                "b" if number % 4 else "a",
                resistor_ohm=1e5 if number % 2 else None,
                load="plug" if number == 15 else "instrument",
                load_ohm=1e3 if number == 15 else None,
                direction="reversed" if number in (15, 16) else "forward",
                level_db=-20.0 if number in (16, 17) else 0.0,
            ),
            flat - 0.01 * number if number < 21 else flat - 120,
        )
        for number in range(11, 23)
    )
