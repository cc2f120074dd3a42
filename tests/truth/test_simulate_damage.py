"""Every damage of a recording does what it says, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np
import pytest
from numpy.typing import NDArray

from loopback.errors import ArgumentError
from loopback.simulate.damage import (
    add_click,
    add_offset,
    add_slam,
    change_gain,
    clip_at,
    cut_head,
    cut_tail,
    drop_samples,
    repeat_block,
    reverse_polarity,
    zero_block,
)
from loopback.simulate.damage_process import (
    automatic_gain,
    drift_clock,
    lossy_lowpass,
    resample_and_back,
    truncate_bits,
)
from tests.reference.simple_readings import lock_in

Real = NDArray[np.float64]
RATE = 48_000
N = 24_000


def _noise(channels: int = 0) -> Real:
    shape = (N, channels) if channels else (N,)
    return 0.1 * np.random.default_rng(5).standard_normal(shape)


def _sine(f_hz: float, peak: float = 0.25, n: int = N) -> Real:
    return peak * np.sin(2 * np.pi * f_hz / RATE * np.arange(n))


ALL: tuple[Callable[[Real], Real], ...] = (
    partial(drop_samples, start=1000, count=64),
    partial(zero_block, start=1000, count=64),
    partial(repeat_block, start=1000, count=64),
    partial(change_gain, start=1000, count=4800, gain_db=0.01),
    partial(add_click, at=1000, peak=0.5),
    partial(add_slam, at=1000, peak=0.5, rate_hz=RATE),
    partial(clip_at, level=0.1),
    reverse_polarity,
    partial(add_offset, offset=0.02),
    partial(cut_head, count=500),
    partial(cut_tail, count=500),
    partial(truncate_bits, bits=16),
    partial(automatic_gain, rate_hz=RATE),
    partial(lossy_lowpass, rate_hz=RATE),
    partial(resample_and_back, rate_hz=RATE, other_rate_hz=44_100),
    partial(drift_clock, ppm=100.0),
)


@pytest.mark.parametrize("damage", ALL, ids=lambda d: getattr(d, "func", d).__name__)
def test_argument_is_left_alone_and_channels_are_kept(damage: Callable[[Real], Real]) -> None:
    """The samples given stay as they are; two equal channels stay equal; it changes something."""
    one = _noise()
    before = one.copy()
    single = damage(one)
    assert np.array_equal(one, before)
    both = damage(np.stack([one, one], axis=1))
    assert both.shape == (len(single), 2)
    assert np.array_equal(both[:, 0], both[:, 1])
    assert np.allclose(both[:, 0], single, atol=1e-12)
    assert len(single) != N or not np.array_equal(single, one)


def test_blocks() -> None:
    """Lost samples close up; zeroed and repeated blocks keep the length and touch nothing else."""
    x = _noise(2)
    dropped = drop_samples(x, 1000, 64)
    assert len(dropped) == N - 64
    assert np.array_equal(dropped[:1000], x[:1000])
    assert np.array_equal(dropped[1000:], x[1064:])
    zeroed = zero_block(x, 1000, 64)
    assert np.all(zeroed[1000:1064] == 0)
    repeated = repeat_block(x, 1000, 64)
    assert np.array_equal(repeated[1000:1064], x[936:1000])
    for touched in (zeroed, repeated):
        assert np.array_equal(touched[:1000], x[:1000])
        assert np.array_equal(touched[1064:], x[1064:])


def test_heads_and_tails() -> None:
    """What is cut is the beginning, or the end."""
    x = _noise()
    assert np.array_equal(cut_head(x, 700), x[700:])
    assert np.array_equal(cut_tail(x, 700), x[:-700])


def test_gain_of_a_stretch() -> None:
    """+0.01 dB is a factor of 1.00115196 inside the stretch only."""
    x = _noise()
    y = change_gain(x, 2000, 5000, 0.01)
    assert np.allclose(y[2000:7000] / x[2000:7000], 1.0011519556, rtol=1e-9)
    assert np.array_equal(np.delete(y, slice(2000, 7000)), np.delete(x, slice(2000, 7000)))


def test_click_and_slam() -> None:
    """Their peak is the one asked for; a click is over at once, a slam is low and lasts."""
    nothing = np.zeros(N)
    click = add_click(nothing, 3000, -0.4)
    assert click[3000] == pytest.approx(-0.4)
    assert np.max(np.abs(click[3024:])) == 0
    assert np.max(np.abs(click[:3000])) == 0
    slam = add_slam(nothing, 3000, 0.4, RATE, seed=3)
    assert np.max(np.abs(slam)) == pytest.approx(0.4)
    assert np.array_equal(slam, add_slam(nothing, 3000, 0.4, RATE, seed=3))
    assert not np.array_equal(slam, add_slam(nothing, 3000, 0.4, RATE, seed=4))
    power = np.abs(np.fft.rfft(slam)) ** 2
    f_hz = np.fft.rfftfreq(N, 1 / RATE)
    assert np.sum(power[f_hz < 100]) > 0.5 * np.sum(power)
    assert np.max(np.abs(slam[3000 + 7200 :])) > 0.001


def test_levels() -> None:
    """Clipping, polarity, offset."""
    x = _noise()
    y = clip_at(x, 0.1)
    assert np.max(np.abs(y)) == 0.1
    assert np.array_equal(y[np.abs(x) < 0.1], x[np.abs(x) < 0.1])
    assert np.array_equal(reverse_polarity(x), -x)
    assert np.allclose(add_offset(x, 0.02) - x, 0.02, atol=1e-15)


@pytest.mark.parametrize("bits", [8, 16])
def test_truncation(bits: int) -> None:
    """Whole steps, always downwards, by less than one step; full scale is not passed."""
    x = np.append(_noise(), [1.0, -1.0, 1.5, -1.5])
    y = truncate_bits(x, bits)
    step = 2.0 ** (1 - bits)
    assert np.all(y / step == np.round(y / step))
    assert np.all((x[:N] - y[:N] >= 0) & (x[:N] - y[:N] < step))
    assert y[N:].tolist() == [1 - step, -1.0, 1 - step, -1.0]


def test_automatic_gain() -> None:
    """Two tones 20 dB apart come out nearer to each other, and a steady one settles at the
    level it steers to."""
    loud, soft = _sine(1000, 0.25, 3 * RATE), _sine(1000, 0.025, 3 * RATE)
    y = automatic_gain(np.concatenate([loud, soft]), RATE, target_dbfs=-20.0, most_db=12.0)
    first = 20 * np.log10(abs(lock_in(y[RATE : 2 * RATE], 1000, RATE)))
    second = 20 * np.log10(abs(lock_in(y[5 * RATE :], 1000, RATE)))
    assert first == pytest.approx(-20.0, abs=0.1)
    assert second == pytest.approx(-20.0, abs=0.2)
    bounded = automatic_gain(soft, RATE, target_dbfs=0.0, most_db=12.0)
    assert 20 * np.log10(abs(lock_in(bounded[2 * RATE :], 1000, RATE))) == pytest.approx(
        20 * np.log10(0.025) + 12, abs=0.2
    )


def test_lossy_lowpass() -> None:
    """15.5 kHz passes untouched, nothing is left from 16 kHz upwards."""
    y = lossy_lowpass(_noise(), RATE)
    f_hz = np.fft.rfftfreq(N, 1 / RATE)
    before, after = np.abs(np.fft.rfft(_noise())), np.abs(np.fft.rfft(y))
    assert np.allclose(after[f_hz <= 15_500], before[f_hz <= 15_500], rtol=1e-9)
    assert np.max(after[f_hz >= 16_000]) < 1e-9 * np.max(before)


def test_resampling_and_back() -> None:
    """By way of 44.1 kHz a tone at 1 kHz stays to 0.02 dB, one at 23 kHz falls by over 20 dB."""
    for f_hz, low, high in ((1000, -0.02, 0.02), (23_000, -400, -20)):
        y = resample_and_back(_sine(f_hz), RATE, 44_100)
        change = 20 * np.log10(abs(lock_in(y, f_hz, RATE)) / 0.25 + 1e-20)
        assert low < change < high


@pytest.mark.parametrize("ppm", [-30.0, 30.0, 100.0])
@pytest.mark.parametrize("f_hz", [100.0, 10_000.0, 22_560.0])
def test_clock_drift(f_hz: float, ppm: float) -> None:
    """A faded tone is sampled at the other clock's times, to 1e-6 of full scale, up to 0.47 of
    the sample rate."""
    n = 2 * RATE

    def tone(at: Real) -> Real:
        fade = 0.5 - 0.5 * np.cos(2 * np.pi * at / n)
        return np.asarray(fade * np.sin(2 * np.pi * f_hz / RATE * at))

    y = drift_clock(tone(np.arange(n, dtype=float)), ppm)
    assert len(y) == int(np.floor(n * (1 + ppm * 1e-6)))
    assert np.max(np.abs(y - tone(np.arange(len(y)) / (1 + ppm * 1e-6)))) < 1e-6


def test_stretches_outside_are_refused() -> None:
    """A stretch must lie inside the recording, and a word length be one."""
    x = _noise()
    with pytest.raises(ArgumentError, match="64 samples from sample 23950"):
        zero_block(x, N - 50, 64)
    with pytest.raises(ArgumentError, match="the recording has 24000 samples"):
        repeat_block(x, 10, 64)
    with pytest.raises(ArgumentError, match="-1 samples"):
        cut_head(x, -1)
    with pytest.raises(ArgumentError, match="word length of 1 bits"):
        truncate_bits(x, 1)
