"""What a stream plays and keeps, whatever the size of its blocks."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.tape import Tape
from loopback.signal.take import plan_signal, render_take

SIGNAL = plan_signal(44_100, 1.0, level_dbfs=-20.0)
TAKE = render_take(SIGNAL).astype(np.float32)
LABEL = RunLabel(path="coupler", feed="plain")


def _request(takes: int = 1, silence_s: float = 0.0) -> RunRequest:
    return RunRequest(LABEL, SIGNAL, takes, silence_s)


def _run(tape: Tape, block: int, delay: int = 0, stop: int | None = None) -> None:
    """Loop the output back to the input, `delay` samples later, in blocks."""
    line = np.zeros((tape.length + delay + block, 2), dtype=np.float32)
    at = 0
    while at < (tape.length if stop is None else stop):
        out = np.full((block, 2), 7.0, dtype=np.float32)
        tape.pass_block(line[at : at + block], out)
        keep = line[at + delay : at + delay + block]
        keep[:] = out[: len(keep)]
        at += block


@given(block=st.integers(16, 9000), delay=st.integers(0, 15), takes=st.integers(1, 2))
@settings(max_examples=25)
def test_takes_come_back_exactly_whatever_the_block(block: int, delay: int, takes: int) -> None:
    """Each recording holds its take, sample for sample, `delay` after its start."""
    tape = Tape(_request(takes), sinks=(1,), sources=(1, 0))
    late = delay + block  # an output block can come back with the next one at the earliest
    _run(tape, block, late)
    assert len(tape.windows) == takes
    for window in tape.windows:
        recorded = tape.recorded(window)
        assert recorded.samples is not None
        assert recorded.samples.shape == (window.stop - window.start, 2)
        np.testing.assert_array_equal(recorded.samples[late : late + TAKE.size, 0], TAKE)
        assert not recorded.samples[:, 1].any()  # nothing was played on the other output
        assert recorded.flags == ()
        assert recorded.expected_start == 0


def test_it_starts_and_ends_with_silence_and_stays_at_its_level() -> None:
    """The first and the last half second are silent, and the peak is that of the signal."""
    tape = Tape(_request(2, silence_s=1.0))
    out = np.ones((tape.length + 100, 1), dtype=np.float32)
    tape.pass_block(np.zeros_like(out), out)
    assert not out[:22_050].any()
    assert not out[-44_100:].any()
    assert tape.peak == np.abs(out).max() <= SIGNAL.amplitude
    assert not tape.heard_anything


def test_flags_go_to_the_recording_they_concern() -> None:
    """A flag counts for the take in which its block lies, and none before the first take."""
    tape = Tape(_request(2))
    block = np.zeros((441, 1), dtype=np.float32)
    first, second = tape.windows
    said = {0: "a", first.start + 44_100: "b", second.stop - 442: "c"}
    due = sorted(said)
    while tape.at < tape.length:
        now = tuple(said[at] for at in due if tape.at <= at < tape.at + 441)
        tape.pass_block(block, block.copy(), now)
    assert tape.recorded(first).flags == ("b at 1.0 s",)
    assert [flag[0] for flag in tape.recorded(second).flags] == ["c"]


def test_a_stream_that_stopped_leaves_what_it_had() -> None:
    """An incomplete recording is as long as it got, and says where it stopped."""
    tape = Tape(_request())
    (window,) = tape.windows
    _run(tape, 441, 441, stop=window.start + 2 * 44_100)
    recorded = tape.recorded(window)
    assert recorded.samples is not None
    assert abs(len(recorded.samples) - 2 * 44_100) <= 441
    assert recorded.flags == ("sound stopped at 2.0 s",)
    assert tape.latest_peak() > 0
