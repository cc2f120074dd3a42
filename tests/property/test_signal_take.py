"""The plan of a take: whole, in order, at the stated levels, and the same every time."""

from __future__ import annotations

import math
from typing import Any

import msgspec
import numpy as np
import pytest

from loopback.errors import ArgumentError
from loopback.signal.take import (
    Signal,
    layout_of,
    plan_signal,
    render_sweep,
    render_take,
)

RATES = (44_100, 48_000, 88_200, 96_000, 176_400, 192_000)


@pytest.mark.parametrize("rate_hz", RATES)
def test_upper_frequency_is_never_moved(rate_hz: int) -> None:
    """The duration gives way to synchronism, the frequencies never."""
    signal = plan_signal(rate_hz, 4.0)
    assert signal.f1_hz == 10.0
    assert signal.f2_hz == min(40_000.0, 0.47 * rate_hz)
    assert signal.cycles == round(10 * 4.0 / math.log(signal.f2_hz / 10))
    assert abs(signal.sweep_s - 4.0) < 0.5 / 10 * math.log(signal.f2_hz / 10)


@pytest.mark.parametrize("rate_hz", RATES)
def test_segments_follow_each_other_without_gap(rate_hz: int) -> None:
    """Every sample of a take belongs to one segment, and every tone to its block."""
    layout = layout_of(plan_signal(rate_hz, 1.0))
    at = 0
    for segment in layout.segments:
        assert segment.start == at
        at = segment.stop
    assert at == layout.length
    for tone in layout.tones:
        block = layout.segment(tone.block)
        assert block.start <= tone.start
        assert tone.start + tone.length <= block.stop


def test_tones_are_twenty_decibels_apart() -> None:
    """Each block holds 1 kHz at two levels exactly 20 dB apart, a low and a high tone."""
    layout = layout_of(plan_signal(48_000, 1.0))
    for block in ("tones_before", "tones_between", "tones_after"):
        tones = [t for t in layout.tones if t.block == block]
        assert [t.f_hz for t in tones] == [1000.0, 1000.0, 80.0, 10_000.0]
        assert tones[0].level_dbfs - tones[1].level_dbfs == 20.0


def test_downward_sweep_is_the_upward_one_reversed() -> None:
    """Sample by sample, fades included."""
    signal = plan_signal(48_000, 1.0)
    layout, samples = layout_of(signal), render_take(signal)
    up, down = layout.segment("up"), layout.segment("down")
    assert np.array_equal(samples[up.start : up.stop][::-1], samples[down.start : down.stop])
    assert np.array_equal(samples[up.start : up.stop], render_sweep(signal))


@pytest.mark.parametrize("level_dbfs", [-12.0, -26.0])
def test_nothing_exceeds_the_stated_level(level_dbfs: float) -> None:
    """The peak is the stated level to 0.01 dB, and what shall be silent is silent."""
    signal = plan_signal(48_000, 1.0, level_dbfs)
    samples, layout = render_take(signal), layout_of(signal)
    peak_db = 20 * math.log10(float(np.max(np.abs(samples))))
    assert level_dbfs - 0.01 < peak_db <= level_dbfs + 1e-9
    for name in ("lead", "rest", "tail", "end"):
        segment = layout.segment(name)
        assert not np.any(samples[segment.start : segment.stop])


def test_shared_samples_cannot_be_written() -> None:
    """The rendered take is one array for everybody."""
    with pytest.raises(ValueError, match="read-only"):
        render_take(plan_signal(48_000, 1.0))[0] = 1.0


@pytest.mark.parametrize("stretch", [150e-6, -150e-6])
def test_another_clock_reads_the_same_sweep_at_its_own_times(stretch: float) -> None:
    """A stretched sweep, interpolated back, is the sweep."""
    signal = plan_signal(96_000, 1.0)
    plain, other = render_sweep(signal), render_sweep(signal, stretch)
    slow = slice(10_000, 40_000)  # while it is low enough for a straight line between samples
    back = np.interp(np.arange(len(plain)) * (1 + stretch), np.arange(len(other)), other)
    assert np.max(np.abs(back[slow] - plain[slow])) < 1e-4


def test_parameters_survive_writing_and_reading() -> None:
    """The document beside a signal file makes the same samples again."""
    signal = plan_signal(44_100, 1.0, -20.0)
    again = msgspec.json.decode(msgspec.json.encode(signal), type=Signal)
    assert again == signal
    assert np.array_equal(render_take(again), render_take(signal))


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"rate_hz": 32_000}, "sample rate of 32000 Hz"),
        ({"rate_hz": 384_000}, "sample rate of 384000 Hz"),
        ({"seconds": 0.5}, "sweep of 0.5 s"),
        ({"seconds": 60.0}, "sweep of 60 s"),
        ({"level_dbfs": -90.0}, "level of -90 dBFS"),
        ({"level_dbfs": -6.0}, "above the ceiling of -12 dBFS"),
    ],
)
def test_what_cannot_be_played_is_refused(arguments: dict[str, Any], message: str) -> None:
    """Each refusal names the value."""
    with pytest.raises(ArgumentError, match=message):
        plan_signal(**arguments)


def test_a_ceiling_raised_knowingly_lets_the_level_through() -> None:
    """-6 dBFS under a ceiling of -6 dBFS is what was asked for."""
    assert plan_signal(48_000, 1.0, -6.0, ceiling_dbfs=-6.0).level_dbfs == -6.0
