"""The quick way to read a plain 24-bit file gives what the sound file library gives, bit by bit."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from loopback.examination.pcm24 import plain_pcm24
from loopback.examination.wav import read_samples, write_wav24


@pytest.mark.parametrize(("frames", "channels"), [(1, 2), (2, 1), (1000, 2), (4001, 3), (64, 8)])
def test_same_numbers_as_the_library(tmp_path: Path, frames: int, channels: int) -> None:
    """Random samples with both ends of the scale in them."""
    path = tmp_path / "a.wav"
    samples = np.random.default_rng(frames).uniform(-1, 1, (frames, channels))
    samples[0, 0], samples[-1, -1] = -1.0, 1 - 2.0**-23
    write_wav24(path, samples, 48_000)
    theirs, _ = soundfile.read(path, dtype="float64", always_2d=True)
    ours, rate_hz = read_samples(path)
    assert rate_hz == 48_000
    assert np.array_equal(ours, theirs)
    quick = plain_pcm24(path, channels, frames)
    if frames * channels % 2 == 0:  # an odd number of bytes is followed by one that pads it
        assert quick is not None
        assert np.array_equal(quick, theirs)


def test_other_layouts_are_left_to_the_library(tmp_path: Path) -> None:
    """More chunks, another sample size, a file cut short: None, and read the slow way."""
    samples = np.random.default_rng(1).uniform(-1, 1, (500, 2))
    path = tmp_path / "a.wav"
    soundfile.write(path, samples, 48_000, subtype="PCM_24")
    whole = path.read_bytes()
    assert plain_pcm24(path, 2, 500) is not None
    more = tmp_path / "more.wav"
    more.write_bytes(whole + b"LIST\x04\x00\x00\x00abcd")
    assert plain_pcm24(more, 2, 500) is None
    short = tmp_path / "short.wav"
    short.write_bytes(whole[:-7])
    assert plain_pcm24(short, 2, 500) is None
    extensible = tmp_path / "extensible.wav"
    soundfile.write(extensible, samples, 48_000, subtype="PCM_24", format="WAVEX")
    assert plain_pcm24(extensible, 2, 500) is None
    assert np.array_equal(read_samples(more)[0], read_samples(path)[0])
