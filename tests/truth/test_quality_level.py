"""Level and format of a recording, on samples made by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.plan.runs import RunLabel
from loopback.quality.clipping import flat_top_share, judge_clipping, judge_flat_tops
from loopback.quality.level import (
    judge_format,
    judge_numbers,
    judge_offset,
    judge_silence,
    longest_run,
    used_bits,
)

RATE = 48_000
TONE = 0.5 * np.sin(2 * np.pi * 1000 * np.arange(4800) / RATE)
NOISE = 1e-5 * np.random.default_rng(1).standard_normal(4800)
COUPLER = RunLabel("coupler", "plain")


def pedal(power: str) -> RunLabel:
    """A pedal run with or without power."""
    return RunLabel("pedal", "plain", power="on" if power == "on" else "off", position="a")


@pytest.mark.parametrize(
    ("mask", "expected"),
    [("", (0, 0)), ("000", (0, 0)), ("111", (0, 3)), ("0110111", (4, 3)), ("1101100", (0, 2))],
)
def test_longest_run(mask: str, expected: tuple[int, int]) -> None:
    """Start and length of the first longest run of true values."""
    assert longest_run(np.array([c == "1" for c in mask], dtype=bool)) == expected


@pytest.mark.parametrize("bits", [8, 16, 24])
def test_used_bits_do_not_depend_on_the_file(bits: int) -> None:
    """Rounded to 8 or 16 bits is told from finer, also where only one sample is finer."""
    steps = 2.0 ** (bits - 1)
    x = np.rint((TONE + NOISE) * steps) / steps
    assert used_bits(x) == bits
    if bits < 24:
        x[4001] += 2.0**-23
        assert used_bits(x) == 24


def test_format_grades() -> None:
    """8 bits are refused, 16 looked at, more is good."""
    assert [f.grade for f in judge_format(8, "")] == ["refuse"]
    assert [f.grade for f in judge_format(16, "")] == ["look"]
    assert judge_format(24, "") == ()


def test_two_samples_at_full_scale_are_a_peak_and_three_a_clip() -> None:
    """The number of samples is told, and where full scale is not reached nothing is."""
    x = TONE + NOISE
    x[100:102] = 1.0
    assert judge_clipping(x, 24, "") == ()
    x[102] = 1.0
    (finding,) = judge_clipping(x, 24, "01/1")
    assert (finding.code, finding.grade, finding.where) == ("clipped", "refuse", "01/1")
    assert finding.number == "3 samples at full scale, up to 3 in a row"


def test_negative_full_scale_and_the_last_step_of_16_bits_count() -> None:
    """-1 and 32767/32768 are full scale as well."""
    for value in (-1.0, 32767 / 32768):
        x = TONE + NOISE
        x[100:104] = value
        assert judge_clipping(x, 24, "")[0].code == "clipped"


def test_a_limiter_below_full_scale_is_told_by_its_equal_samples() -> None:
    """Three equal samples at the peak, in a recording that is finer than 16 bits."""
    x = np.clip(TONE, -0.45, 0.45)
    (finding,) = judge_clipping(x, 24, "")
    assert (finding.code, finding.grade) == ("flat_tops", "refuse")
    assert "-6.9 dBFS" in finding.number
    assert judge_clipping(x, 16, "") == ()
    assert judge_clipping(TONE + NOISE, 24, "") == ()


def test_floating_point_files_over_full_scale_are_not_clipped() -> None:
    """A peak of 3 is looked at, one of 30 000 refused, and neither is a clip."""
    assert judge_clipping(6 * TONE, 24, "") == ()
    assert [(f.code, f.grade) for f in judge_numbers(6 * TONE, "")] == [("over_full_scale", "look")]
    assert [f.grade for f in judge_numbers(6e4 * TONE, "")] == ["refuse"]
    assert judge_numbers(TONE, "") == ()


def test_values_that_are_no_numbers_are_counted() -> None:
    """In every channel, and before anything else is said."""
    x = np.stack([TONE, TONE], axis=1)
    x[5, 1], x[6, 0], x[7, 0] = np.nan, np.inf, -np.inf
    (finding,) = judge_numbers(x, "02/1")
    assert finding.number == "3 of 9600 values are not numbers"
    assert finding.grade == "refuse"


def test_silence_is_a_fault_of_a_reference_and_a_result_of_a_pedal() -> None:
    """Refused with the coupler, looked at with power, good without; zeros are always refused."""
    quiet = NOISE / 2
    assert [(f.code, f.grade) for f in judge_silence(quiet, COUPLER, "")] == [("silent", "refuse")]
    assert [f.grade for f in judge_silence(quiet, pedal("on"), "")] == ["look"]
    assert [f.grade for f in judge_silence(quiet, pedal("off"), "")] == ["good"]
    assert judge_silence(TONE, COUPLER, "") == ()
    for label in (COUPLER, pedal("off")):
        (finding,) = judge_silence(np.zeros(480), label, "")
        assert (finding.code, finding.grade) == ("digital_zeros", "refuse")
        assert "480 samples" in finding.number


def test_offset_is_told_with_its_sign() -> None:
    """0.1 % of full scale is nothing, 5 % is looked at, a third refused."""
    assert judge_offset(NOISE + 0.001, "") == ()
    (finding,) = judge_offset(NOISE - 0.05, "")
    assert (finding.grade, finding.number) == ("look", "-0.050 of full scale")
    assert judge_offset(NOISE + 0.33, "")[0].grade == "refuse"


def test_tops_of_a_sine_and_of_a_cut_one() -> None:
    """A sine has 2/π acos 0.98 of its samples up there; cut at 0.9, 2/π acos 0.882."""
    fine = np.sin(2 * np.pi * 997 * np.arange(48_000) / RATE)
    assert flat_top_share(fine) == pytest.approx(2 / math.pi * math.acos(0.98), abs=0.002)
    cut = np.clip(fine, -0.9, 0.9)
    assert flat_top_share(cut) == pytest.approx(2 / math.pi * math.acos(0.882), abs=0.002)
    assert judge_flat_tops(fine, "") == ()
    assert judge_flat_tops(cut, "")[0].grade == "refuse"
    assert flat_top_share(np.zeros(100)) == 0.0
