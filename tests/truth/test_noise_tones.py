"""Tones in a silence: exact without noise, told apart, bounded where the setup's floor is."""

from __future__ import annotations

import math
import subprocess
from pathlib import Path

import numpy as np
import pytest
from scipy import signal

from loopback.arrays import F64
from loopback.errors import ArgumentError
from loopback.examination.wav import read_samples
from loopback.noise.coarse import survey_density
from loopback.noise.compare import compare_noise, significance
from loopback.noise.density import welch_density
from loopback.noise.figures import noise_figures
from loopback.noise.mains_lines import order_of
from loopback.noise.spectrum import whole_spectrum
from loopback.noise.survey import compare_tones, on_its_clock, survey_tones
from loopback.quantity import Estimate

RATE = 48_000


def tone(f_hz: float, level_dbfs: float, seconds: float = 10.0, phase: float = 0.7) -> F64:
    """One sine."""
    t = np.arange(round(seconds * RATE)) / RATE
    return np.asarray(10 ** (level_dbfs / 20) * np.cos(2 * np.pi * f_hz * t + phase))


def noise(seed: int, sigma: float = 1e-5, seconds: float = 10.0) -> F64:
    """White noise."""
    return sigma * np.random.default_rng(seed).standard_normal(round(seconds * RATE))


@pytest.mark.parametrize("f_hz", [60.0, 997.0, 1000.05, 9612.34, 21_000.021])
def test_frequency_and_level_are_exact_without_noise(f_hz: float) -> None:
    """Between two bins as on one: to 1e-5 of a bin and 1e-4 dB."""
    (found,) = survey_tones(tone(f_hz, -60.0), RATE).tones
    assert found.f_hz.value == pytest.approx(f_hz, abs=1e-6 * 10)
    assert found.level_dbfs.value == pytest.approx(-60.0, abs=1e-4)


def test_window_is_the_published_one() -> None:
    """Its noise bandwidth is 2.0044 bins (Heinzel, Rüdiger and Schilling 2002, table 2)."""
    spectrum = whole_spectrum(noise(1, seconds=1.0), RATE)
    assert spectrum.bandwidth_bins == pytest.approx(2.0044, abs=6e-4)
    window = signal.get_window("blackmanharris", RATE, fftbins=True)
    t = np.arange(RATE) / RATE - 0.5
    assert spectrum.second == pytest.approx(float(np.mean(window * t * t)), rel=1e-9)
    assert spectrum.fourth == pytest.approx(float(np.mean((window * t) ** 2)), rel=1e-9)


def test_floor_is_the_noise_whatever_stands_in_it() -> None:
    """Mean noise power per bin within 3 %, with a comb of a hundred tones 60 dB higher."""
    x = noise(3)
    clean = whole_spectrum(x, RATE)
    for k in range(1, 101):
        x = x + tone(50.0 * k, -80.0, phase=k * k)
    spectrum = whole_spectrum(x, RATE)
    truth = 2 * clean.bandwidth_bins * clean.step_hz * 2 * 1e-10 / RATE
    assert float(np.mean(clean.floor[100:])) == pytest.approx(truth, rel=0.03)
    assert float(np.mean(spectrum.floor[100:])) == pytest.approx(truth, rel=0.06)


def test_noise_alone_holds_no_tones() -> None:
    """None in 40 silences of white noise, and none in 10 of noise rising to low frequencies."""
    for seed in range(40):
        assert not survey_tones(noise(seed), RATE).tones
    for seed in range(10):
        x = np.cumsum(noise(100 + seed))
        shaped = noise(seed) + 1e-2 * (x - signal.sosfiltfilt(
            signal.butter(1, 5.0, fs=RATE, output="sos"), x))  # fmt: skip
        assert not survey_tones(shaped, RATE).tones


def test_a_strong_tone_hides_nothing_but_what_its_window_covers() -> None:
    """80 dB below and 3 Hz beside another, a tone is found; its own side lobes are none."""
    x = tone(1000.0, -20.0) + tone(1003.0, -100.0) + noise(5, 1e-8)
    found = survey_tones(x, RATE).tones
    assert [round(t.f_hz.value) for t in found] == [1000, 1003]
    assert found[1].level_dbfs.value == pytest.approx(-100.0, abs=0.1)


@pytest.mark.parametrize(("mains_hz", "nominal"), [(49.93, 50.0), (50.08, 50.0), (59.97, 60.0)])
def test_mains_series_with_its_real_frequency(mains_hz: float, nominal: float) -> None:
    """The frequency, every line, and the sum are those put in; nothing else is a tone."""
    levels = {1: -95.0, 2: -118.0, 3: -101.0, 5: -108.0, 7: -112.0, 20: -120.0}
    x = noise(9)
    for order, level in levels.items():
        x = x + tone(order * mains_hz, level, phase=order)
    survey = survey_tones(x, RATE)
    assert survey.tones == ()
    mains = survey.mains
    assert mains is not None
    assert mains.nominal_hz == nominal
    assert abs(mains.f_hz.value - mains_hz) < 3 * mains.f_hz.u
    assert mains.f_hz.u < 1e-3
    for order, level in levels.items():
        found = mains.lines[order - 1].level_dbfs
        assert found is not None
        assert abs(found.value - level) < 4 * found.u
    quiet = [line for line in mains.lines if line.order not in levels]
    assert all(line.level_dbfs is None and line.below_dbfs < -125 for line in quiet)
    total = 10 * math.log10(sum(10 ** (v / 10) for v in levels.values()))
    assert abs(mains.sum_dbfs.value - total) < 3 * mains.sum_dbfs.u
    assert order_of(3 * mains_hz, mains) == 3
    assert order_of(3.1 * mains_hz, mains) is None


def test_one_line_is_no_series() -> None:
    """A single tone near 50 Hz is a tone."""
    survey = survey_tones(tone(50.0, -90.0) + noise(2), RATE)
    assert survey.mains is None
    assert len(survey.tones) == 1


def test_digital_zeros_and_too_little() -> None:
    """Zeros have no tones; a quarter of a second tells none."""
    assert survey_tones(np.zeros(RATE), RATE).tones == ()
    with pytest.raises(ArgumentError, match=r"0\.25 s"):
        survey_tones(np.zeros(RATE // 4), RATE)


def test_tones_beside_reference_and_unpowered_runs() -> None:
    """What the setup has is its own; what goes with the power is told, and what cannot be, not."""
    setup = tone(7000.0, -110.0)
    pedal = survey_tones(setup + tone(9610.0, -105.0) + noise(1), RATE)
    reference = survey_tones(setup + noise(2), RATE)
    unpowered = survey_tones(setup + noise(3), RATE)
    own, whine = compare_tones(pedal, [reference], [unpowered])
    assert (own.over_reference, own.only_with_power) == (False, False)
    assert own.reference_dbfs == pytest.approx(-110.0, abs=0.3)
    assert (whine.over_reference, whine.only_with_power) == (True, True)
    assert whine.reference_dbfs is None
    wandered = survey_tones(setup + tone(9650.0, -106.0) + noise(4), RATE)
    assert compare_tones(pedal, [reference], [wandered])[1].only_with_power is False
    loud = survey_tones(setup + noise(5, 1e-3), RATE)
    hidden = compare_tones(pedal, [loud], [loud])[1]
    assert (hidden.over_reference, hidden.only_with_power) == (None, None)
    alone = compare_tones(pedal, [], [])[1]
    assert (alone.over_reference, alone.only_with_power) == (None, None)


def test_a_short_silence_tells_a_tone_coarsely() -> None:
    """Level within 1 dB, frequency within a point; mains lines are left out by their place."""
    x = tone(9610.0, -105.0, 1.5) + tone(150.0, -90.0, 1.5) + noise(6, seconds=1.5)
    survey = survey_density(*welch_density(x, RATE, 0.25), 1.5, 1)
    (found,) = survey.tones
    assert found.f_hz.value == pytest.approx(9610.0, abs=4.0)
    assert found.level_dbfs.value == pytest.approx(-105.0, abs=1.0)
    assert survey.limit_at(5000.0) < -115.0
    assert not survey_density(*welch_density(noise(7, seconds=1.5), RATE, 0.25), 1.5, 1).tones


def test_significance_is_the_coverage_that_just_leaves_out_zero() -> None:
    """JCGM 100:2008, table G.2: 1.96 u and, with five degrees of freedom, 2.57 u are 95 %."""
    assert significance(Estimate(1.959964, 1.0, "dB")) == pytest.approx(0.95, abs=1e-6)
    assert significance(Estimate(-2.5706, 1.0, "dB", 5.0)) == pytest.approx(0.95, abs=1e-5)
    assert significance(Estimate(0.0, 0.0, "dB")) == 0.0
    assert significance(Estimate(1.0, 0.0, "dB")) == 1.0
    assert significance(Estimate(1.0, math.inf, "dB")) == 0.0


def test_all_three_levels_are_compared() -> None:
    """A pedal that doubles white noise is 3.01 dB up in every weighting, and adds as much."""
    quiet = noise_figures(*welch_density(noise(1), RATE), 10.0)
    twice = noise_figures(*welch_density(noise(1) * math.sqrt(2), RATE), 10.0)
    compared = compare_noise(twice, quiet)
    assert [c.weighting for c in compared] == ["none", "a", "468"]
    for one, level in zip(
        compared,
        (quiet.unweighted_dbfs, quiet.a_weighted_dbfs, quiet.weighted_468_dbfs),
        strict=True,
    ):
        assert one.difference_db.value == pytest.approx(3.0103, abs=1e-6)
        assert one.significance > 0.999
        assert one.added.level_dbfs is not None
        assert level is not None
        assert one.added.level_dbfs.value == pytest.approx(level.value, abs=1e-5)


@pytest.mark.needs("sox")
def test_tones_of_an_independent_generator(tmp_path: Path) -> None:
    """SoX plays 3 kHz at -40 dBFS and 9.6 kHz at -80 dBFS: read back to 0.01 dB and 0.001 Hz."""
    path = tmp_path / "tones.wav"
    parts = [tmp_path / "one.wav", tmp_path / "two.wav"]
    for part, f_hz, level in zip(parts, (3000.0, 9600.0), (-40.0, -80.0), strict=True):
        _sox("-n", "-D", "-r", str(RATE), "-b", "32", str(part),
             "synth", "10", "sine", str(f_hz), "gain", str(level))  # fmt: skip
    _sox("-D", "-m", "-v", "1", str(parts[0]), "-v", "1", str(parts[1]), "-b", "24", str(path))
    samples, rate_hz = read_samples(path)
    assert rate_hz == RATE
    found = survey_tones(samples[:, 0], rate_hz).tones
    strong = [t for t in found if t.level_dbfs.value > -100]
    assert [t.level_dbfs.value for t in strong] == pytest.approx([-40.0, -80.0], abs=0.01)
    assert [t.f_hz.value for t in strong] == pytest.approx([3000.0, 9600.0], abs=1e-3)


@pytest.mark.needs("sox")
def test_noise_of_an_independent_generator(tmp_path: Path) -> None:
    """SoX's white noise: our density integrates to the rms that `sox stat` prints, to 0.01 dB."""
    path = tmp_path / "noise.wav"
    _sox("-n", "-R", "-r", str(RATE), "-b", "24", str(path),
         "synth", "20", "whitenoise", "gain", "-60")  # fmt: skip
    printed = _sox(str(path), "-n", "stat").stderr
    rms = float(next(line for line in printed.splitlines() if "RMS     amp" in line).split()[-1])
    samples, rate_hz = read_samples(path)
    f_hz, psd = welch_density(samples[:, 0], rate_hz)
    total = float(np.sum(psd)) * float(f_hz[1] - f_hz[0])
    # `stat` prints six decimals of an amplitude of 0.0006: good to 0.007 dB.
    assert 10 * math.log10(total) == pytest.approx(20 * math.log10(rms), abs=0.01)
    figures = noise_figures(f_hz, psd, len(samples) / rate_hz)
    share = 10 * math.log10(19_980 / 24_000)
    flat = 10 * math.log10(total / 0.5) + share
    assert abs(figures.unweighted_dbfs.value - flat) < 0.01 + 2 * figures.unweighted_dbfs.u


def _sox(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["sox", *words], check=True, capture_output=True, text=True)


def test_clocks_of_interfaces_are_in_the_doubt_of_a_frequency() -> None:
    """A crystal anywhere within 50 ppm is covered; the interval is that of the limit, not wider.

    Of sixty 57 would do for a coverage of 0.95; a rectangular distribution lies inside entirely.
    """
    rng = np.random.default_rng(4)
    true_hz = 9612.34
    for _ in range(60):
        fast = 1 + rng.uniform(-50e-6, 50e-6)
        (found,) = on_its_clock(survey_tones(tone(true_hz / fast, -60.0), RATE)).tones
        assert abs(found.f_hz.value - true_hz) <= found.f_hz.half_width()
        assert found.f_hz.half_width() < 60e-6 * true_hz
