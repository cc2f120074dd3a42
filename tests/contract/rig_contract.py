"""What every rig must do, whatever stands behind it.

A rig's own test file derives a class from `RigContract` and gives it two fixtures: ``rig``, ready
to play, and ``asked``, a run of two takes and a silence that this rig can do.
"""

from __future__ import annotations

from dataclasses import replace

import msgspec
import numpy as np
from numpy.typing import NDArray

from loopback.examination.wav import read_samples
from loopback.rig.protocol import Recorded, Rig, RunRequest
from loopback.signal.take import layout_of, render_take

NEAR_S = 0.1
"""How far from `expected_start` a take may begin."""


def samples_of(recorded: Recorded) -> NDArray[np.float64]:
    """Samples of a recording, wherever they are."""
    if recorded.samples is not None:
        return recorded.samples
    assert recorded.file is not None
    return read_samples(recorded.file)[0]


def start_of_take(samples: NDArray[np.float64], request: RunRequest) -> int:
    """Where the take begins, by plain correlation with the upward sweep."""
    up = layout_of(request.signal).segment("up")
    sweep = render_take(request.signal)[up.start : up.stop]
    n = 1 << (len(samples) + len(sweep)).bit_length()
    product = np.fft.rfft(samples, n) * np.conj(np.fft.rfft(sweep, n))
    # The phase alone: a peak where the sweep lies, whatever the response does to its level.
    likeness = np.fft.irfft(product / (np.abs(product) + 1e-12), n)
    return int(np.argmax(np.abs(likeness[: len(samples)]))) - up.start


class RigContract:
    """Checks of one rig; not collected by itself."""

    one_recording_per_take = True
    """False where a file may hold several takes."""

    def test_facts_are_the_same_each_time_and_name_what_there_is(self, rig: Rig) -> None:
        """Asking what stands on the table changes nothing, and its channels exist and differ."""
        facts = rig.facts()
        assert rig.facts() == facts
        assert facts.kind in ("device", "files", "simulator")
        assert facts.name.strip()
        channels = [c for c in (facts.path_channel, facts.check_channel) if c is not None]
        assert all(c >= 0 for c in channels)
        assert len(set(channels)) == len(channels)

    def test_takes_come_first_and_the_silence_last(self, rig: Rig, asked: RunRequest) -> None:
        """One recording per take, in order, then one of the silence."""
        kinds = [recorded.kind for recorded in rig.play(asked)]
        assert kinds[-1] == "silence"
        takes = kinds[:-1]
        assert set(takes) == {"sweep"}
        if self.one_recording_per_take:
            assert len(takes) == asked.takes
        assert 1 <= len(takes) <= asked.takes

    def test_no_silence_unless_asked_for(self, rig: Rig, asked: RunRequest) -> None:
        """A run without a silence hands over takes only."""
        kinds = {recorded.kind for recorded in rig.play(replace(asked, silence_s=0.0))}
        assert kinds == {"sweep"}

    def test_each_recording_is_one_thing_and_complete(self, rig: Rig, asked: RunRequest) -> None:
        """Samples or a file, never both; all channels; finite; at the rate of the signal; long
        enough for what was played."""
        facts = rig.facts()
        channels = [c for c in (facts.path_channel, facts.check_channel) if c is not None]
        for recorded in rig.play(asked):
            assert (recorded.samples is None) != (recorded.file is None)
            assert recorded.rate_hz == asked.signal.rate_hz
            assert isinstance(recorded.flags, tuple)
            samples = samples_of(recorded)
            assert samples.dtype == np.float64
            assert samples.ndim == 2
            assert samples.shape[1] > max(channels, default=0)
            assert np.all(np.isfinite(samples))
            if recorded.kind == "sweep":
                assert len(samples) >= layout_of(asked.signal).length
            else:
                assert len(samples) >= asked.silence_s * asked.signal.rate_hz * 0.95

    def test_the_take_begins_where_it_is_expected(self, rig: Rig, asked: RunRequest) -> None:
        """The take lies whole inside its recording, within 0.1 s of where the rig expects it."""
        path = rig.facts().path_channel or 0
        for recorded in rig.play(asked):
            if recorded.kind == "silence":
                continue
            samples = samples_of(recorded)[:, path]
            start = start_of_take(samples, asked)
            assert 0 <= start <= len(samples) - layout_of(asked.signal).length
            if recorded.expected_start is not None:
                assert abs(start - recorded.expected_start) < NEAR_S * recorded.rate_hz

    def test_the_silence_is_quieter_than_the_take(self, rig: Rig, asked: RunRequest) -> None:
        """Nothing is played in the silence."""
        path = rig.facts().path_channel or 0
        rms = {r.kind: float(np.std(samples_of(r)[:, path])) for r in rig.play(asked)}
        assert rms["silence"] < 0.1 * rms["sweep"]

    def test_recordings_are_handed_over_one_by_one(self, rig: Rig, asked: RunRequest) -> None:
        """The first take can be used before the rest has been played."""
        recordings = iter(rig.play(asked))
        assert next(recordings).kind == "sweep"
        assert sum(1 for _ in recordings) >= 1

    def test_the_request_is_left_alone(self, rig: Rig, asked: RunRequest) -> None:
        """Playing changes neither the label nor the signal."""
        before = msgspec.json.encode((asked.label, asked.signal))
        assert list(rig.play(asked))
        assert msgspec.json.encode((asked.label, asked.signal)) == before
