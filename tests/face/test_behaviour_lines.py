"""Tones, silicon, movement, latency and bleed as they are written, drawn and handed to machines."""

from __future__ import annotations

import json
from dataclasses import replace

import msgspec
import numpy as np

from loopback.facts import Analysis, RunFacts
from loopback.noise.compare import compare_noise
from loopback.noise.figures import NoiseFigures
from loopback.noise.mains_lines import MainsLine, MainsLines
from loopback.noise.survey import ToneCompared, ToneSurvey
from loopback.noise.tones import Tone
from loopback.quality.behaviour import Behaviour
from loopback.quantity import Estimate
from loopback.report.behaviour_lines import behaviour_rows, bleed_text, own_rows
from loopback.report.document import facts_json, facts_of
from loopback.report.figures.levels import draw_harmonics
from loopback.report.figures.noise import draw_noise
from loopback.report.harmonics_source import harmonics_sheet
from loopback.report.layout import lay_out
from loopback.report.noise_source import noise_sheet
from loopback.report.numbers import every_number
from loopback.report.records import Facts
from loopback.report.text import result_screen
from loopback.response.bleed import Bleed, BleedLevel
from loopback.response.distortion import Distortion, Harmonic
from loopback.response.latency import Latency
from loopback.response.linearity import Linearity
from loopback.response.movement import Movement
from tests.reference.invented_analysis import analysis

THIRDS = 1000.0 * 10.0 ** (np.arange(-15, 8) / 10)


def db(value: float, u: float = 0.05) -> Estimate:
    """An estimate in dB."""
    return Estimate(value, u, "dB")


def distortion(level_db: float) -> Distortion:
    """Every order at one level, the fifth in the noise."""
    power = np.full((4, len(THIRDS)), 10 ** (level_db / 10))
    power[3] = 0.0
    return Distortion(THIRDS, power, np.full(power.shape, 1e-12))


def behaviour(*, whines: bool = True) -> Behaviour:
    """Of a powered CMOS switch with a whine."""
    whine = Tone(Estimate(9612.3, 0.001, "Hz"), db(-104.9))
    mains = MainsLines(
        50.0,
        Estimate(50.012, 0.0006, "Hz"),
        (MainsLine(1, db(-110.0), -136.0), MainsLine(2, None, -137.0)),
        db(-109.8),
    )
    f_hz = np.geomspace(10, 20e3, 8)
    survey = ToneSurvey(mains, (whine,) if whines else (), f_hz, np.full(8, -136.0), 10.0)
    quiet, loud = (
        NoiseFigures(db(level), db(level - 2), 50.0, -20.0, db(level + 1.7))
        for level in (-98.0, -95.0)
    )
    linearity = Linearity(
        "09", db(-0.9), None, (Harmonic(2, db(-84.0), -83.9), Harmonic(3, None, -110.0)),
        db(26.0), 2, db(0.02), None, "yes", "yes", "yes",
    )  # fmt: skip
    return Behaviour(
        noise=compare_noise(loud, quiet),
        survey=survey,
        tones=(ToneCompared(whine, None, True, True),) if whines else (),
        distortion=distortion(-84.0),
        linearity=linearity if whines else None,
        movement=Movement("modulated", Estimate(5.3, 0.001, "Hz"), db(3.0), 1.0, 2.0, 0.1),
        latency=Latency(Estimate(1.3e-3, 1e-6, "s"), False, Estimate(17e3, 40.0, "Hz"), "yes"),
    )


def with_behaviour(found: Behaviour | None) -> Analysis:
    """The invented examination, every run of which behaves so."""
    source = analysis()

    def behaves(runs: tuple[RunFacts, ...]) -> tuple[RunFacts, ...]:
        return tuple(replace(facts, behaviour=found) for facts in runs)

    levels = (BleedLevel(100.0, None, -70.2), BleedLevel(1e3, db(-52.0, 0.5), -51.0))
    return replace(
        source,
        references=tuple(
            replace(f, behaviour=replace(behaviour(whines=False), distortion=distortion(-106.0)))
            for f in source.references
        ),
        pedal_runs=behaves(source.pedal_runs),
        bleed=(Bleed("bypass_when_engaged", ("05",), levels, False),),
    )


def test_two_rows_on_the_screen() -> None:
    """Tones that come with power, and what marks silicon; nothing where there is neither."""
    rows = {row.heading: row.text for row in own_rows(with_behaviour(behaviour()))}
    assert rows["Tones"] == "9612.300 Hz ± 0.002 at -104.9 dBFS ± 0.1; only with power"
    assert rows["Silicon"] == (
        "2nd harmonic -84.0 dB ± 0.1, 26.0 ± 0.1 dB above the setup's own; "
        "20 dB more come out as 19.1 dB ± 0.1; "
        "the signal charges a supply that is off"
    )
    assert own_rows(with_behaviour(behaviour(whines=False))) == []
    assert own_rows(analysis()) == []
    screen = result_screen(with_behaviour(behaviour()), "quarry-lamp", signs=True)
    assert screen.count("\n") < 20
    assert "9612.300 Hz" in screen


def test_every_number_is_written() -> None:
    """Levels, lines, tones, harmonics, movement, latency and bleed, each with its interval."""
    source = with_behaviour(behaviour())
    text = lay_out(behaviour_rows(source.pedal_runs[0], 10.0), signs=True)
    for words in (
        "468-weighted, AES17",
        "50.012 Hz ± 0.002",
        "9612.300 Hz ± 0.002",
        "not with the cable; only with power",
        "2nd -84.0",
        "5th below",
        "up and down 5.3000 Hz ± 0.0020, by 3.0 dB",
        "1.3000 ms ± 0.0020",
        "its band ends at 17000 Hz ± 80",
    ):
        assert words in " ".join(text.split()), words
    assert "100 Hz below -70 dB, 1.00 kHz -52 dB ± 1" in bleed_text(source.bleed)
    whole = every_number(source, signs=True)
    assert "bypass path when engaged (run 05)" in " ".join(whole.split())


def test_json_holds_it_all_and_is_read_back() -> None:
    """Strict, with intervals, and null where nothing is known."""
    source = with_behaviour(behaviour())
    text = facts_json(source)
    assert msgspec.json.decode(text, type=Facts, strict=True) == facts_of(source)
    run = json.loads(text)["pedal_runs"][0]["behaviour"]
    assert [n["weighting"] for n in run["noise"]] == ["none", "a", "468"]
    assert run["mains"]["lines"][1] == {"order": 2, "level_dbfs": None, "below_dbfs": -137.0}
    assert run["tones"][0]["only_with_power"] is True
    assert run["linearity"]["silicon"] == "yes"
    assert run["movement"]["rate_hz"]["value"] == 5.3
    assert run["latency"]["converts"] == "yes"
    fifth = run["harmonics"][3]
    assert (fifth["order"], fifth["middle_db"], fifth["level_db"][0]) == (5, None, None)
    assert json.loads(text)["bleed"][0]["levels"][0]["level_db"] is None


def test_pictures_show_tones_and_harmonics() -> None:
    """One stem for each line and tone; second and third of each feed, and the cable's own."""
    source = with_behaviour(behaviour())
    sheet = noise_sheet(source)
    assert [(m.text, m.own) for m in sheet.marks] == [("50 Hz", False), ("9.612 kHz", True)]
    words = {text.get_text() for text in draw_noise(sheet).axes[0].texts}
    assert {"50 Hz", "9.612 kHz"} <= words
    drawn = harmonics_sheet(source)
    labels = [curve.label for curve in drawn.curves]
    assert labels[0].startswith("cable")
    assert sum(label.startswith(("2nd", "3rd")) for label in labels) == 4
    assert len(drawn.floors) == 2
    axes = draw_harmonics(drawn).axes[0]
    assert axes.get_ylim() == (-140.0, 0.0)
    assert harmonics_sheet(analysis()).curves == ()
