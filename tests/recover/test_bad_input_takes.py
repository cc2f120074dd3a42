"""One take of an examination is damaged; the exact reaction to each damage, end to end."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.arrays import F64
from loopback.signal.take import plan_signal, render_take
from loopback.simulate import damage, damage_process
from tests.reference.damaged_examinations import (
    LAYOUT,
    SIGNAL,
    Change,
    nothing_lost,
    noticed,
    sitting,
    start_of,
    store,
    sweep_at,
)

RATE = SIGNAL.rate_hz


@dataclass(frozen=True)
class Case:
    """What is done to take 1 of a run, and all that may be said about it."""

    name: str
    change: Change
    expected: tuple[tuple[str, str], ...]
    number: str
    run: int = 2


def _segment(samples: F64, name: str) -> int:
    return start_of(samples) + LAYOUT.segment(name).start


def _tone(samples: F64, index: int) -> int:
    return start_of(samples) + LAYOUT.tones[index].start


def _steady(samples: F64, gain_db: float) -> F64:
    """A change of gain for one second in mid sweep, or for as much of it as there is."""
    at = sweep_at(samples, 15.0)
    count = min(RATE, LAYOUT.segment("up").length // 2)
    return damage.change_gain(samples, at, count, gain_db)


def _other_signal(samples: F64) -> F64:
    other = render_take(plan_signal(RATE, 2.5))
    noise = np.random.default_rng(1).standard_normal(len(other)) * 1e-5
    return (0.5 * other + noise)[:, None]


def _unplugged(samples: F64) -> F64:
    """Nothing but the noise of the input."""
    return 1e-5 * np.random.default_rng(2).standard_normal(samples.shape)


def _hum(samples: F64) -> F64:
    t = np.arange(len(samples)) / RATE
    hum = sum(0.02 / k * np.sin(2 * np.pi * 50.0 * k * t + k) for k in range(1, 12))
    return samples + np.asarray(hum)[:, None]


def _echo(samples: F64) -> F64:
    """What direct monitoring does: the input goes round again 5 ms later."""
    out = samples.copy()
    out[240:] += 0.05 * samples[:-240]
    return out


CASES = (
    Case("drift +30 ppm", lambda x: damage_process.drift_clock(x, 30.0),
         (("two_clocks", "look"),), r"\+30\.0 ppm"),
    Case("drift +100 ppm", lambda x: damage_process.drift_clock(x, 100.0),
         (("two_clocks", "look"),), r"\+100\.0 ppm"),
    Case("drift -100 ppm", lambda x: damage_process.drift_clock(x, -100.0),
         (("two_clocks", "look"),), r"-100\.0 ppm"),
    Case("drift 700 ppm", lambda x: damage_process.drift_clock(x, 700.0),
         (("samples_lost", "refuse"),), "further apart"),
    Case("64 samples lost in the upward sweep",
         lambda x: damage.drop_samples(x, sweep_at(x, 1000.0), 64),
         (("samples_lost", "refuse"),), r"64\.0 samples lost in the upward sweep"),
    Case("256 samples lost in the upward sweep",
         lambda x: damage.drop_samples(x, sweep_at(x, 1000.0), 256),
         (("samples_lost", "refuse"),), r"256\.0 samples lost in the upward sweep"),
    Case("one whole period of 1 kHz lost",
         lambda x: damage.drop_samples(x, sweep_at(x, 300.0), 48),
         (("samples_lost", "refuse"),), r"48\.0 samples lost in the upward sweep"),
    Case("one sample lost", lambda x: damage.drop_samples(x, sweep_at(x, 300.0), 1),
         (("samples_lost", "refuse"),), r"1\.0 samples lost in the upward sweep"),
    Case("64 samples lost in the downward sweep",
         lambda x: damage.drop_samples(x, _segment(x, "down") + 20_000, 64),
         (("samples_lost", "refuse"),), "samples"),
    Case("256 samples lost in the downward sweep",
         lambda x: damage.drop_samples(x, _segment(x, "down") + 20_000, 256),
         (("samples_lost", "refuse"),), "samples"),
    Case("64 samples lost within a check tone",
         lambda x: damage.drop_samples(x, _tone(x, 1) + 2000, 64),
         (("samples_lost", "refuse"),), "of one block shifted"),
    *(
        Case(f"64 zeroed at {f_hz} Hz",
             lambda x, f_hz=f_hz: damage.zero_block(x, sweep_at(x, f_hz), 64),
             (("zero_block", "refuse"),), "64 samples of exact zero")
        for f_hz in (30.0, 1000.0, 12_000.0)
    ),
    *(
        Case(f"64 repeated at {f_hz} Hz",
             lambda x, f_hz=f_hz: damage.repeat_block(x, sweep_at(x, f_hz), 64),
             (("disturbed", "refuse"),), "times what lies around it")
        for f_hz in (30.0, 1000.0, 12_000.0)
    ),
    Case("0.01 dB for a second", lambda x: _steady(x, 0.01),
         (("gain_change", "look"),), r"\+0\.01\d dB around"),
    Case("0.2 dB for a second", lambda x: _steady(x, 0.2),
         (("gain_change", "refuse"),), r"\+0\.[12]\d\d dB around"),
    Case("clipped", lambda x: damage.clip_at(8 * x, 1 - 2.0**-23),
         (("clipped", "refuse"),), "samples at full scale"),
    Case("cut off below full scale", lambda x: damage.clip_at(x, 0.9 * float(np.max(np.abs(x)))),
         (("flat_tops", "refuse"),), "samples at exactly"),
    Case("silent reference", _unplugged, (("silent", "refuse"),), r"peak -8\d dBFS", 1),
    Case("digital zeros", lambda x: 0 * x,
         (("digital_zeros", "refuse"),), r"all \d+ samples are exactly zero"),
    Case("noise gate", lambda x: np.where(np.abs(x) < 1e-3, 0.0, x),
         (("gated", "refuse"),), "ms of exact zeros in the silence"),
    Case("a click", lambda x: damage.add_click(x, sweep_at(x, 1000.0), 0.01),
         (("disturbed", "refuse"),), "times what lies around it"),
    Case("a slam", lambda x: damage.add_slam(x, sweep_at(x, 300.0), 0.1, RATE),
         (("disturbed", "refuse"),), "times what lies around it"),
    Case("automatic gain", lambda x: damage_process.automatic_gain(x, RATE),
         (("gain_drift", "refuse"),), "dB later in the take"),
    Case("automatic gain in a reference", lambda x: damage_process.automatic_gain(x, RATE),
         (("gain_control", "refuse"), ("gain_drift", "refuse")), "dB apart instead of 20.000", 1),
    Case("lossy compression of a reference", lambda x: damage_process.lossy_lowpass(x, RATE),
         (("lossy", "refuse"),), r"nothing above 1[56]\.\d kHz", 1),
    Case("lossy compression of a pedal run", lambda x: damage_process.lossy_lowpass(x, RATE),
         (("band_edge", "look"),), r"nothing above 1[56]\.\d kHz"),
    Case("resampled reference", lambda x: damage_process.resample_and_back(x, RATE, 44_100),
         (("resampled", "refuse"),), r"nothing above 2\d\.\d kHz", 1),
    Case("direct monitoring", _echo, (("monitoring", "refuse"),), r"one round every 5\.0 ms", 1),
    Case("wrong signal", _other_signal, (("signal_not_found", "refuse"),), "nowhere"),
    Case("cut at the head, sweep too", lambda x: damage.cut_head(x, sweep_at(x, 100.0)),
         (("take_cut", "refuse"),), "cut off at the head: lead, tones before, up"),
    Case("cut at the head, tones only", lambda x: damage.cut_head(x, _tone(x, 2)),
         (("take_cut", "look"),), "cut off at the head: lead, tones before"),
    Case("cut at the tail, sweep too",
         lambda x: damage.cut_tail(x, len(x) - _segment(x, "down") - 9000),
         (("take_cut", "refuse"),), "cut off at the tail: down, tail, tones after, end"),
    Case("cut at the tail, tones only",
         lambda x: damage.cut_tail(x, len(x) - _segment(x, "tones_after")),
         (("take_cut", "look"),), "cut off at the tail: tail, tones after, end"),
    Case("DC offset", lambda x: damage.add_offset(x, 0.05),
         (("dc_offset", "look"),), r"\+0\.050 of full scale"),
    Case("large DC offset", lambda x: damage.add_offset(x, 0.3),
         (("dc_offset", "refuse"),), r"\+0\.300 of full scale"),
    Case("16 bits", lambda x: damage_process.truncate_bits(x, 16),
         (("few_bits", "look"),), "16 bits"),
    Case("8 bits", lambda x: damage_process.truncate_bits(x, 8),
         (("few_bits", "refuse"),), "8 bits"),
    Case("44.1 kHz sound in a 48 kHz file",
         lambda x: damage_process.drift_clock(x, (44_100 / 48_000 - 1) * 1e6),
         (("wrong_rate", "refuse"),), r"takes 0\.918\d times as long"),
)  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_damaged_take_is_named_and_the_rest_still_gives_the_result(
    case: Case, tmp_path: Path
) -> None:
    """Exactly the expected findings, every file kept, and the result from what is left."""
    folder = store(tmp_path, sitting(), {(case.run, 1): case.change})
    analysis = analyse(folder.path)
    where = f"{case.run:02d}/1"
    assert noticed(analysis) == {(code, grade, where) for code, grade in case.expected}
    told = next(f for f in analysis.findings if f.code == case.expected[0][0])
    assert re.search(case.number, told.number)
    assert told.meaning.endswith(".")
    assert told.grade != "refuse" or told.action
    assert nothing_lost(folder, recordings=6)
    assert analysis.result.path == "loaded"


def test_silent_take_is_a_contact_and_a_silent_run_a_result(tmp_path: Path) -> None:
    """One silent take beside one that passes refuses the run; two are a pedal that is silent."""
    folder = store(tmp_path, sitting(), {(2, 1): _unplugged})
    analysis = analyse(folder.path)
    assert noticed(analysis) == {("silent", "look", "02/1"), ("intermittent", "refuse", "02")}
    assert analysis.pedal_runs[0].response is None
    assert nothing_lost(folder, recordings=6)
    both = store(tmp_path / "both", sitting(), {(3, 1): _unplugged, (3, 2): _unplugged})
    analysis = analyse(both.path)
    assert noticed(analysis) == set()
    assert {f.code for f in analysis.findings} == {"silent"}
    assert analysis.pedal_runs[1].ratio is not None


def test_two_takes_in_one_file_are_both_used(tmp_path: Path) -> None:
    """A file with two takes counts as two, and nothing else is said about it."""
    folder = store(tmp_path, sitting(), {(2, 1): lambda x: np.concatenate([x, x])})
    analysis = analyse(folder.path)
    assert noticed(analysis) == set()
    assert [f.number for f in analysis.findings] == ["2 takes in one file"]
    response = analysis.pedal_runs[0].response
    assert response is not None
    assert response.takes == 3


def test_second_take_of_a_file_is_refused_alone(tmp_path: Path) -> None:
    """Of two takes in one file the cut one is refused, the whole one used."""

    def change(x: F64) -> F64:
        return np.concatenate([x, x[: sweep_at(x, 100.0)]])

    folder = store(tmp_path, sitting(), {(2, 1): change})
    analysis = analyse(folder.path)
    assert {f for f in noticed(analysis) if f[1] == "refuse"} <= {("take_cut", "refuse", "02/2")}
    response = analysis.pedal_runs[0].response
    assert response is not None
    assert response.takes == 2


def test_hum_is_looked_at_and_refused_when_it_drowns_the_sweep(tmp_path: Path) -> None:
    """Mains 40 dB over the noise is refused only where it comes near to the sweep."""
    folder = store(tmp_path, sitting(), {(2, 1): _hum, (2, 2): _hum})
    analysis = analyse(folder.path)
    assert ("hum", "refuse", "02") in noticed(analysis)
    told = next(f for f in analysis.findings if f.code == "hum")
    assert re.search(r"mains 50 Hz: \d\d dB above the noise", told.number)
    quiet = store(
        tmp_path / "quiet",
        sitting(),
        {(2, take): lambda x: x + 0.01 * (_hum(x) - x) for take in (1, 2)},
    )
    assert ("hum", "look", "02") in noticed(analyse(quiet.path))
    assert nothing_lost(folder, recordings=6)


def test_reversed_polarity_is_a_property_of_the_pedal_or_of_the_setup(tmp_path: Path) -> None:
    """One reversed run is looked at; when all are reversed it is the setup, and all is well."""
    one = {(2, take): damage.reverse_polarity for take in (1, 2)}
    analysis = analyse(store(tmp_path, sitting(), one).path)
    assert noticed(analysis) == {("polarity", "look", "02")}
    assert analysis.pedal_runs[0].polarity == -1
    every = {(run, take): damage.reverse_polarity for run in (1, 2, 3) for take in (1, 2)}
    analysis = analyse(store(tmp_path / "all", sitting(), every).path)
    assert noticed(analysis) == set()
    assert {f.code for f in analysis.findings} == {"upside_down"}
    assert analysis.pedal_runs[0].polarity == 1
    assert analysis.result.path == "loaded"
