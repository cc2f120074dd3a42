"""What is computed for pictures alone: noise in bands, harmonics that count, courses of presses."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.noise.bands import band_density
from loopback.response.distortion import Distortion
from loopback.response.standing_out import stands_over
from loopback.switching.pop import BEFORE_S, window_length
from loopback.switching.wave import wave_of
from tests.reference.invented_pictures import THIRDS, distortion


def test_white_noise_in_bands_is_flat_at_its_density() -> None:
    """A density of 2e-14 per hertz is 10 log10(2 · 2e-14) = -133.98 dBFS in every band."""
    f_hz = np.arange(6001) * 4.0
    found = band_density(f_hz, np.full(f_hz.shape, 2e-14), 6, 20.0, 22_000.0)
    assert found is not None
    assert np.allclose(found.level_dbfs, -133.9794, atol=1e-4)
    assert np.nanmax(found.u_db) < 1e-6


@pytest.mark.parametrize("top_hz", [15_000.0, 22_000.0, 60_000.0])
def test_no_band_reaches_beyond_its_ends(top_hz: float) -> None:
    """A step of 30 dB just beyond the top is in no band, whole sixths of an octave only."""
    f_hz = np.arange(6001) * 4.0
    psd = np.where(f_hz > top_hz, 1e-10, 1e-13)
    found = band_density(f_hz, psd, 6, 20.0, top_hz)
    assert found is not None
    assert np.allclose(found.level_dbfs, 10 * np.log10(2e-13), atol=1e-6)
    edge = float(found.f_hz[-1]) * 2 ** (1 / 12)
    assert edge <= min(top_hz, 24_002.0) + 1e-6
    assert edge * 2 ** (1 / 6) > min(top_hz, 24_002.0)


def test_stated_doubt_of_a_band_is_its_scatter() -> None:
    """Over 200 seeds of Hann periodograms levels scatter by what is stated, within a sixth.

    The mean of all seeds is the density: 2 s²/rate for white noise of standard deviation s.
    """
    rate, size = 8000, 2000
    window = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size)
    f_hz = np.arange(size // 2 + 1) * rate / size
    levels, stated = [], []
    for seed in range(200):
        x = np.random.default_rng(seed).standard_normal((4, size))
        power = np.mean(np.abs(np.fft.rfft(x * window)) ** 2, axis=0)
        psd = 2 * power / (rate * np.sum(window**2))
        found = band_density(f_hz, psd, 6, 200.0, 3500.0)
        assert found is not None
        levels.append(found.level_dbfs)
        stated.append(found.u_db)
    ratio = np.std(levels, axis=0, ddof=1) / np.sqrt(np.mean(np.square(stated), axis=0))
    known = np.isfinite(ratio)
    assert known.sum() > 15
    assert float(np.mean(ratio[known])) == pytest.approx(1.0, abs=1 / 6)
    mean = 10 * np.log10(np.mean(10 ** (np.array(levels) / 10), axis=0))
    assert np.allclose(mean[known], 10 * np.log10(2 * 2 / rate), atol=0.3)


@pytest.mark.parametrize("f_hz", [np.array([]), np.array([0.0]), np.array([0.0, 4.0, 8.0])])
def test_nothing_to_average_is_nothing(f_hz: np.ndarray) -> None:
    """Without lines above the lowest frequency there are no bands."""
    assert band_density(f_hz, np.ones(f_hz.shape), 6, 20.0, 20_000.0) is None


def test_first_third_and_steep_ones_are_not_believed() -> None:
    """Of 1e-4, 1e-6, then 1e-11 the first two go; of a flat row the first alone."""
    found = distortion((-110.0, -60.0, -110.0, -110.0))
    power = found.power.copy()
    power[1, :] = 1e-6
    settled = Distortion(THIRDS, power, found.u_power).settled
    assert not settled[0, :2].any()
    assert settled[0, 2:].all()
    assert not settled[1, 0]
    assert settled[1, 1:].all()


def test_rise_far_from_the_start_is_believed() -> None:
    """A resonance of 40 dB in the middle stays, and bands that were not measured stay out."""
    found = distortion((-110.0, -110.0, -110.0, -110.0))
    power = np.full(found.power.shape, 1e-11)
    power[2, 15] = 1e-7
    power[2, :4] = np.nan
    settled = Distortion(THIRDS, power, found.u_power).settled
    assert settled[2, 5:].all()
    assert not settled[2, :5].any()


@pytest.mark.parametrize(
    ("own_db", "setup_db", "over"), [(-100, -110, True), (-110, -110, False), (-115, -110, False)]
)
def test_only_what_exceeds_the_reference_stands_out(
    own_db: float, setup_db: float, over: bool
) -> None:
    """Equal or smaller harmonics are the setup's own, wherever in frequency."""
    own, setup = distortion((own_db,) * 4), distortion((setup_db,) * 4)
    found = stands_over(own, setup)
    assert found[:, 2:].all() == over
    assert found.any() == over
    assert stands_over(own, None)[:, 2:].all()


def test_equal_harmonics_seldom_stand_out_by_chance() -> None:
    """Two readings of one power, each with its noise: one band in forty, as 95 % both ways say."""
    rng = np.random.default_rng(7)
    power, u = 1e-11, 1e-12
    shape = (4, 4000)
    f_hz = np.geomspace(20, 20e3, shape[1])

    def read() -> Distortion:
        return Distortion(f_hz, power + u * rng.standard_normal(shape), np.full(shape, u))

    share = float(np.mean(stands_over(read(), read())))
    assert share == pytest.approx(0.025, abs=0.006)


@pytest.mark.parametrize("rate_hz", [44_100, 96_000])
def test_course_of_a_press_keeps_its_peaks(rate_hz: int) -> None:
    """One sample of +3 and one of -2 are in the envelope, at their moments to half a column."""
    at = 5 * rate_hz
    band = np.zeros(10 * rate_hz)
    band[at] = 3.0
    band[at + round(0.1 * rate_hz)] = -2.0
    wave = wave_of(band, 5.0, rate_hz)
    assert wave.high.max() == 3.0
    assert wave.low.min() == -2.0
    column = float(wave.t_s[1] - wave.t_s[0])
    assert wave.t_s[np.argmax(wave.high)] == pytest.approx(0.0, abs=column)
    assert wave.t_s[np.argmin(wave.low)] == pytest.approx(0.1, abs=column)
    assert len(wave.t_s) <= 640
    assert wave.t_s[0] == pytest.approx(-BEFORE_S, abs=column)
    assert wave.t_s[-1] == pytest.approx(window_length(rate_hz) / rate_hz - BEFORE_S, abs=column)
