"""Time from the phases of check tones: clocks, jumps, and what cannot be told."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from loopback.quality.clock import (
    judge_clock,
    judge_header_rate,
    judge_length,
)
from loopback.quality.tone_delays import block_delays_s, broken_block, delay_steps
from loopback.response.reading import TakeReading, ToneReading
from loopback.signal.take import layout_of, plan_signal

SIGNAL = plan_signal(48_000, 1.0)
LAYOUT = layout_of(SIGNAL)


def tones(
    jumps: tuple[float, float] = (0.0, 0.0), stretch: float = 0.0, u_level_db: float = 1e-4
) -> tuple[ToneReading, ...]:
    """Tones whose delay grows by a clock, and jumps after the first and the second block, s."""
    out = []
    for tone in LAYOUT.tones:
        delay = 3e-6 + stretch * tone.start / SIGNAL.rate_hz
        delay += jumps[0] * (tone.block != "tones_before") + jumps[1] * (
            tone.block == "tones_after"
        )
        # The circuit's own phase differs from tone to tone and is the same in every block.
        phase = -2 * math.pi * tone.f_hz * delay - 0.3 * math.log(tone.f_hz)
        phase = math.remainder(phase, 2 * math.pi)
        out.append(
            ToneReading(
                tone.block, tone.f_hz, tone.level_dbfs, tone.level_dbfs - 3, phase, u_level_db
            )
        )
    return tuple(out)


def reading(of: tuple[ToneReading, ...], stretch: float = 0.0) -> TakeReading:
    """A take of which only the tones matter here."""
    one = np.ones(3)
    return TakeReading(
        "02", "", 1, 0, stretch, one, one + 0j, one + 0j, one, 0.0, np.ones((1, 3)), None, of, (),
        one, one, 0.5,
    )  # fmt: skip


def test_delays_of_blocks_without_ambiguity() -> None:
    """From a tenth of a sample to 5 ms, either way, to a nanosecond."""
    for first, second in ((0.0, 2e-6), (-1.3333e-3, 0.0), (4.9e-3, -2e-3), (-5e-3, 5e-3)):
        delays = block_delays_s(tones((first, second)))
        assert delays == pytest.approx((0.0, first, first + second), abs=1e-9)


@pytest.mark.parametrize("samples", [-256.0, -64.0, -48.0, -1.0, 1.5, 64.0])
@pytest.mark.parametrize("block", [0, 1])
@pytest.mark.parametrize("stretch", [0.0, 20e-6])
def test_a_jump_is_found_where_it_is(samples: float, block: int, stretch: float) -> None:
    """Its size to a hundredth of a sample and the block before it, with one clock or two."""
    jump = samples / SIGNAL.rate_hz
    of = tones((jump, 0.0) if block == 0 else (0.0, jump), stretch)
    (step,) = delay_steps(reading(of), SIGNAL)
    if abs(jump) > 2 * stretch * LAYOUT.length / SIGNAL.rate_hz:
        assert step.after_block == ("tones_before", "tones_between")[block]
        assert step.samples == pytest.approx(samples, abs=0.01)
    finding = judge_clock(reading(of), SIGNAL, "02/1")[0]
    assert (finding.code, finding.grade) == ("samples_lost", "refuse")


def test_a_steady_clock_is_no_jump() -> None:
    """30 ppm are two clocks whatever share of them was taken off before."""
    for taken in (0.0, 30e-6):
        of = tones(stretch=30e-6 - taken)
        assert delay_steps(reading(of, stretch=taken), SIGNAL) == ()
    (finding,) = judge_clock(reading(tones(), stretch=30e-6), SIGNAL, "")
    assert (finding.code, finding.grade, finding.number) == ("two_clocks", "look", "+30.0 ppm")
    assert judge_clock(reading(tones(), stretch=400e-6), SIGNAL, "")[0].grade == "refuse"
    assert judge_clock(reading(tones()), SIGNAL, "") == ()


def test_buried_or_missing_tones_say_nothing() -> None:
    """No jump and no clock is claimed from noise."""
    for of in (tones((1e-3, 0.0), u_level_db=0.5), tones((1e-3, 0.0))[4:], ()):
        assert block_delays_s(of) == ()
        assert judge_clock(reading(of, stretch=3e-6), SIGNAL, "") == ()


def test_tones_of_one_block_shifted_against_each_other() -> None:
    """A loss between two tones of a block is told from one between blocks."""
    whole = tones((-1e-3, 0.0))
    assert not broken_block(whole, SIGNAL.rate_hz)
    torn = tuple(
        replace(tone, phase_rad=tone.phase_rad + 2 * math.pi * tone.f_hz * 1.3e-3)
        if i in (2, 3)
        else tone
        for i, tone in enumerate(tones())
    )
    assert broken_block(torn, SIGNAL.rate_hz)
    (finding,) = judge_clock(reading(torn), SIGNAL, "")
    assert "of one block" in finding.number


@pytest.mark.parametrize(
    ("stretch", "code", "words"),
    [
        (400e-6, None, ""),
        (-700e-6, "samples_lost", "nearer to each other"),
        (700e-6, "samples_lost", "further apart"),
        (44_100 / 48_000 - 1, "wrong_rate", "holds sound of 44.1 kHz"),
        (1.0, "wrong_rate", "holds sound of 96 kHz"),
    ],
)
def test_length_of_the_sweep(stretch: float, code: str | None, words: str) -> None:
    """A clock, lost samples and another sample rate are told apart by size."""
    found = judge_length(stretch, SIGNAL, "02/1")
    assert [f.code for f in found] == ([code] if code else [])
    assert all(words in f.number + f.meaning for f in found)


def test_header_rate() -> None:
    """The rate of the signal is right, any other is refused with both numbers."""
    assert judge_header_rate(48_000, SIGNAL, "") == ()
    (finding,) = judge_header_rate(44_100, SIGNAL, "")
    assert finding.number == "recorded at 44.1 kHz, played at 48 kHz"
