"""What must hold for any recording: scaling, shifting, turning over, and never breaking."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopback.arrays import F64
from loopback.response.join import join_takes
from loopback.response.locate import Located, best_channel, locate_takes
from loopback.response.ratio import ratio_to_reference
from loopback.response.reading import TakeReading
from loopback.response.take import read_take
from loopback.signal.take import layout_of
from tests.reference.recorded_takes import SHORT, low_pass, recorded

HEAD = 500
SAMPLES = recorded(low_pass(6000.0), head=HEAD, delay=0.3, noise=1e-4, seed=11)


def _read(samples: F64, start: int = HEAD) -> TakeReading:
    return read_take(
        samples[:, None],
        SHORT,
        Located(start, 100.0, 0.0, 1, True),
        run_id="01",
        recording="",
        number=1,
        path_channel=0,
        check_channel=None,
    )


BASE = _read(SAMPLES)


@settings(max_examples=8, deadline=None)
@given(st.floats(1e-3, 4.0), st.sampled_from([1, -1]))
def test_gain_scales_everything_alike(gain: float, sign: int) -> None:
    """Response and deviation scale with the samples; harmonics and delay do not move."""
    reading = _read(sign * gain * SAMPLES)
    assert reading.up == pytest.approx(sign * gain * BASE.up, rel=1e-9)
    assert reading.var == pytest.approx(gain**2 * BASE.var, rel=1e-6)
    assert reading.delay_s == pytest.approx(BASE.delay_s, abs=1e-12)
    known = np.isfinite(BASE.harmonics)
    assert reading.harmonics[known] == pytest.approx(BASE.harmonics[known], rel=1e-6)


@settings(max_examples=8, deadline=None)
@given(st.integers(-8, 8))
def test_a_start_named_otherwise_is_only_a_delay(shift: int) -> None:
    """Where the take is said to begin changes the delay by whole samples, and nothing else."""
    reading = _read(SAMPLES, HEAD + shift)
    moved = (BASE.delay_s - reading.delay_s) * SHORT.rate_hz
    assert moved == pytest.approx(shift, abs=1e-3)
    assert np.abs(reading.up) == pytest.approx(np.abs(BASE.up), rel=2e-3)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 60_000), st.floats(-3, 0))
def test_takes_are_found_anywhere(head: int, decade: float) -> None:
    """Any head, any level."""
    padded = np.concatenate([np.zeros(head), SAMPLES * 10**decade])
    (take,) = locate_takes(padded, SHORT)
    assert abs(take.start - head - HEAD) <= 2
    assert take.complete


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 3000), st.integers(0, 2**32 - 1), st.sampled_from([0.0, 1e-30, 1.0, 1e30]))
def test_short_and_odd_arrays_hold_no_take(length: int, seed: int, size: float) -> None:
    """Whatever is too short for a sweep is searched without complaint and holds nothing."""
    samples = size * np.random.default_rng(seed).standard_normal((length, 2))
    assert locate_takes(samples[:, 0], SHORT) == ()
    assert best_channel(samples, SHORT) == 0
    (assumed,) = locate_takes(samples[:, 0], SHORT, expected_start=0)
    assert not assumed.found
    assert not assumed.complete


@pytest.mark.parametrize("size", [0.0, 1e-12, 1e-5])
def test_a_silent_path_goes_through_to_the_ratio(size: float) -> None:
    """Digital zeros and bare noise give finite numbers with a doubt as large as they are."""
    rng = np.random.default_rng(1)
    silent = size * rng.standard_normal(layout_of(SHORT).length + 2 * HEAD)
    run = join_takes([_read(silent), _read(silent[::-1])])
    ratio = ratio_to_reference(run, [join_takes([BASE])])
    for values in (run.h, run.var, ratio.t, ratio.var, ratio.floor_db):
        assert np.all(np.isfinite(values))
    assert np.isfinite(ratio.u_gain_db)
    assert np.isfinite(ratio.delay_s)
    assert float(np.median(np.abs(ratio.t) ** 2 / ratio.var)) < 3
