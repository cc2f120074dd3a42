"""Disturbances within a take: what is found, how small, and what is left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.quality import limits
from loopback.quality.disturbance import (
    explained_db,
    judge_agreement,
    judge_disturbance,
    widest_gap,
)
from loopback.response.locate import locate_takes
from loopback.response.reading import TakeReading
from loopback.response.take import read_take
from loopback.signal.take import layout_of
from loopback.simulate import damage
from tests.reference.recorded_takes import SHORT, low_pass, recorded

F_HZ = np.geomspace(20.0, 20_000.0, 480)


def take(samples: F64, number: int = 1) -> TakeReading:
    """Read the take that starts at sample 500."""
    (place,) = locate_takes(samples, SHORT)
    return read_take(
        samples[:, None],
        SHORT,
        place,
        run_id="02",
        recording="",
        number=number,
        path_channel=0,
        check_channel=None,
    )


def sound(seed: int = 0) -> F64:
    """A lead behind a resistor with noise of -97 dBFS."""
    return recorded(low_pass(4400.0), noise=1e-5, seed=seed)


def at(f_hz: float) -> int:
    """Sample at which the upward sweep passes a frequency."""
    since = SHORT.constant_s * np.log(f_hz / SHORT.f1_hz) * SHORT.rate_hz
    return 500 + layout_of(SHORT).segment("up").start + int(since)


@pytest.mark.parametrize("seed", range(20))
def test_clean_takes_are_left_alone(seed: int) -> None:
    """Noise alone is no disturbance, in one take or between two."""
    first, second = sound(seed), sound(seed + 100)
    readings = [take(first, 1), take(second, 2)]
    assert judge_disturbance(readings[0], SHORT, first, "") == ()
    assert judge_agreement(readings) == ()
    assert judge_agreement(readings[:1]) == ()


@pytest.mark.parametrize("f_hz", [25.0, 80.0, 300.0, 1000.0, 4000.0, 12_000.0])
@pytest.mark.parametrize("count", [16, 64])
def test_repeated_blocks_are_found_anywhere_in_the_sweep(f_hz: float, count: int) -> None:
    """Also where the sweep is slow, and the block changes little of it; the time is told."""
    damaged = damage.repeat_block(sound(), at(f_hz), count)
    (finding,) = judge_disturbance(take(damaged), SHORT, damaged, "02/1")
    assert (finding.code, finding.grade) == ("disturbed", "refuse")
    told_s = float(finding.number.split()[1])
    assert told_s == pytest.approx((at(f_hz) - 500) / SHORT.rate_hz, abs=0.01)


@pytest.mark.parametrize("peak_dbfs", [-20.0, -40.0])
def test_clicks_that_matter_are_refused(peak_dbfs: float) -> None:
    """A click of half a millisecond, down to a hundredth of full scale."""
    damaged = damage.add_click(sound(), at(1000.0), 10 ** (peak_dbfs / 20))
    (finding,) = judge_disturbance(take(damaged), SHORT, damaged, "")
    assert finding.grade == "refuse"


def test_clicks_that_are_passed_over_do_not_matter() -> None:
    """At -60 dBFS nothing is said, and no band of the response has moved by 0.02 dB."""
    damaged = damage.add_click(sound(), at(1000.0), 1e-3)
    reading, clean = take(damaged), take(sound())
    assert judge_disturbance(reading, SHORT, damaged, "") == ()
    heard = (reading.f_hz > 20) & (reading.f_hz < 20_000)
    moved = 20 * np.log10(np.abs((reading.up + reading.down) / (clean.up + clean.down)))[heard]
    assert np.max(np.abs(moved)) < 0.02


@pytest.mark.parametrize(
    ("gain_db", "grade"), [(0.002, None), (0.01, "look"), (-0.03, "look"), (0.1, "refuse")]
)
def test_gain_change_in_one_of_two_takes(gain_db: float, grade: str | None) -> None:
    """0.01 dB over a quarter of a sweep is seen, and named in the take that has it."""
    changed = damage.change_gain(sound(1), at(100.0), 12_000, gain_db)
    readings = [take(sound(2), 1), take(changed, 2)]
    found = judge_agreement(readings)
    assert [(f.code, f.grade, f.where) for f in found] == (
        [("gain_change", grade, "02/2")] if grade else []
    )


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("f_hz", [100.0, 352.0, 1000.0, 3000.0])
@pytest.mark.parametrize("ms", [5, 21, 50])
def test_a_mute_in_a_single_take_is_refused(seed: int, f_hz: float, ms: int) -> None:
    """Nothing to compare it with is needed: 21 ms of nothing at 352 Hz leave a gap of 10 dB."""
    x = sound(seed)
    x[at(f_hz) : at(f_hz) + 48 * ms] *= 1e-3
    assert [f.grade for f in judge_agreement([take(x)])] == ["refuse"]


@pytest.mark.parametrize("seed", range(5))
def test_a_path_that_bends_is_not_refused_for_a_single_take(seed: int) -> None:
    """Gain that follows the level slowly, by 1.7 dB over the sweeps, parts up and down widely."""
    x = sound(seed)
    level = np.convolve(np.abs(x), np.ones(9600) / 9600, "full")[: len(x)]
    x *= 1 - 0.2 * np.minimum(level / np.max(level), 1.0)
    assert "refuse" not in [f.grade for f in judge_agreement([take(x)])]


def test_what_both_takes_show_alike_belongs_to_the_path() -> None:
    """A path that treats up and down differently, in the same way each time, is no disturbance."""
    readings = [
        take(damage.change_gain(sound(seed), at(100.0), 12_000, 0.2), number)
        for seed, number in ((1, 1), (2, 2))
    ]
    assert judge_agreement(readings) == ()
    (alone,) = judge_agreement(readings[:1])
    assert alone.grade == "look"


def test_gap_needs_size_and_significance() -> None:
    """A stretch counts when it is beyond noise, beyond harmonics, and large enough to matter."""
    sd = np.full(len(F_HZ), 1e-5)
    difference = np.zeros(len(F_HZ))
    difference[200:236] = 0.001
    gap = widest_gap(F_HZ, difference, sd, 0.0)
    assert gap.level_db == pytest.approx(0.00869, rel=0.01)
    assert 200 <= gap.first <= gap.last <= 236
    assert widest_gap(F_HZ, difference, sd, 0.01).level_db == 0.0
    assert widest_gap(F_HZ, difference, 1000 * sd, 0.0).level_db == 0.0
    assert widest_gap(F_HZ, difference / 10, sd / 10, 0.0).level_db == 0.0
    assert widest_gap(F_HZ, difference * 100, np.full(len(F_HZ), 0.1), 0.0).level_db == 0.0
    assert 0.0002 * 8.69 < limits.UP_DOWN_SUSPICION_DB < 0.001 * 8.69


def test_harmonics_explain_a_difference_in_the_lowest_bands() -> None:
    """Twice their size: -60 dB of third harmonic allows 0.017 dB."""
    reading = take(sound())
    known = np.where(np.isfinite(reading.harmonics), 1e-3, np.nan)
    assert explained_db(replace(reading, harmonics=known)) == pytest.approx(0.01737, rel=0.01)
    assert explained_db(replace(reading, harmonics=np.full((2, 3), np.nan))) == 0.0
