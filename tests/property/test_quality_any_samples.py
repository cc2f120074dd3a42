"""The gates on a file accept any samples, say something true, and never raise."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from loopback.arrays import F64
from loopback.plan.runs import RunLabel
from loopback.quality.gates import judge_recording
from loopback.quality.place import judge_places, place_takes
from loopback.signal.take import plan_signal

SIGNAL = plan_signal(48_000, 1.0)
LABELS = (
    RunLabel("coupler", "plain"),
    RunLabel("pedal", "resistor", power="on", position="a"),
    RunLabel("unplugged", "plain"),
)
SAMPLES = arrays.arrays(
    np.float64,
    st.tuples(st.integers(0, 40), st.integers(1, 3)),
    elements=st.floats(width=32) | st.sampled_from([0.0, 1.0, -1.0, 32767 / 32768]),
)


@given(SAMPLES, st.sampled_from(LABELS), st.sampled_from([44_100, 48_000]))
def test_any_samples_are_judged(samples: F64, label: RunLabel, rate_hz: int) -> None:
    """Every finding has a code, a number, a meaning, and an action where it refuses."""
    found = judge_recording(samples, rate_hz, SIGNAL, label, "01/1")
    for finding in found:
        assert finding.code
        assert finding.number
        assert finding.meaning.endswith(".")
        assert finding.action.endswith(".") or finding.grade != "refuse"
        assert finding.where == "01/1"
    bad = int(np.count_nonzero(~np.isfinite(samples)))
    told = [f.number for f in found if f.code == "not_numbers"]
    assert told == ([f"{bad} of {samples.size} values are not numbers"] if bad else [])
    if len(samples) and not bad and rate_hz != SIGNAL.rate_hz and np.any(samples):
        assert any(f.grade == "refuse" for f in found)


@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.integers(0, 100_000), st.sampled_from([0.0, 1e-6, 0.1]))
def test_noise_of_any_length_and_level_holds_no_take(seed: int, count: int, level: float) -> None:
    """Short or long, silent or loud: no sweep is heard in noise, and a reference is refused."""
    x = level * np.random.default_rng(seed).standard_normal(count)
    places = place_takes(x, SIGNAL, LABELS[0], None)
    assert places == ()
    assert [f.code for f in judge_places(places, SIGNAL, "01")] == ["signal_not_found"]
