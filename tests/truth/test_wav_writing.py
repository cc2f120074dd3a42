"""The 24-bit WAV files that are written here."""

from __future__ import annotations

import struct
import wave
from pathlib import Path

import numpy as np
import pytest
from scipy import io

from loopback.errors import ArgumentError, FolderError
from loopback.examination.wav import read_samples, write_wav24
from loopback.examination.wav24 import wav24_chunks

STEP = 2.0**-23


def test_bytes_are_those_of_the_format() -> None:
    """Header and samples, put together by hand from the RIFF layout (IBM/Microsoft 1991)."""
    x = np.array([[0.5, -0.5], [STEP, -STEP]])
    expected = (
        b"RIFF" + struct.pack("<I", 36 + 12) + b"WAVE"
        b"fmt " + struct.pack("<IHHIIHH", 16, 1, 2, 48_000, 288_000, 6, 24)
        + b"data" + struct.pack("<I", 12)
        + b"\x00\x00\x40\x00\x00\xc0\x01\x00\x00\xff\xff\xff"
    )  # fmt: skip
    assert b"".join(wav24_chunks(x, 48_000)) == expected


def test_an_odd_number_of_bytes_is_padded() -> None:
    """A chunk has an even length in the file; the pad byte is not counted in its size."""
    data = b"".join(wav24_chunks(np.array([0.25]), 44_100))
    assert len(data) == 44 + 3 + 1
    assert struct.unpack("<I", data[4:8])[0] == len(data) - 8
    assert struct.unpack("<I", data[40:44])[0] == 3


@pytest.mark.parametrize(("frames", "channels"), [(1, 1), (7, 1), (16_385, 2), (40_000, 3)])
def test_independent_readers_read_the_same(tmp_path: Path, frames: int, channels: int) -> None:
    """The standard library, scipy and our reader agree, across block borders."""
    steps = np.random.default_rng(3).integers(-(2**23), 2**23, (frames, channels))
    write_wav24(tmp_path / "a.wav", steps * STEP, 96_000)
    samples, rate_hz = read_samples(tmp_path / "a.wav")
    assert rate_hz == 96_000
    np.testing.assert_array_equal(samples, steps * STEP)
    rate_hz, data = io.wavfile.read(tmp_path / "a.wav")
    np.testing.assert_array_equal(data.reshape(frames, channels), steps * 256)
    with wave.open(str(tmp_path / "a.wav")) as file:
        params = file.getparams()
        assert (params.nchannels, params.sampwidth, params.framerate, params.nframes) == (
            channels,
            3,
            96_000,
            frames,
        )


def test_rounding_is_to_the_nearest_step_without_bias(tmp_path: Path) -> None:
    """The error of uniform noise has the variance of a uniform distribution, 1/12, and no mean.

    200 000 samples: the mean is known to 0.0006 steps, four of which are allowed.
    """
    x = np.random.default_rng(4).uniform(-0.9, 0.9, 200_000)
    write_wav24(tmp_path / "a.wav", x, 48_000)
    error = (read_samples(tmp_path / "a.wav")[0][:, 0] - x) / STEP
    assert np.max(np.abs(error)) <= 0.5
    assert abs(np.mean(error)) < 0.0026
    assert np.var(error) == pytest.approx(1 / 12, rel=0.01)


def test_beyond_full_scale_is_held_there(tmp_path: Path) -> None:
    """As a converter does; the lowest value is -1, the highest one step below 1."""
    write_wav24(tmp_path / "a.wav", np.array([1.0, 1.7, 1e30, -1.0, -1.0001, -1e30]), 48_000)
    samples = read_samples(tmp_path / "a.wav")[0][:, 0]
    assert samples.tolist() == [1 - STEP] * 3 + [-1.0] * 3


def test_the_same_samples_give_the_same_bytes_whatever_their_layout() -> None:
    """Memory order and strides do not matter."""
    x = np.random.default_rng(5).uniform(-1, 1, (50_000, 4))
    plain = b"".join(wav24_chunks(x, 48_000))
    assert b"".join(wav24_chunks(np.asfortranarray(x), 48_000)) == plain
    assert b"".join(wav24_chunks(np.repeat(x, 2, axis=1)[:, ::2], 48_000)) == plain


@pytest.mark.parametrize(
    ("samples", "words"),
    [
        (np.array([0.0, np.nan, np.inf]), "2 samples are not finite"),
        (np.zeros((2, 2, 2)), "shape"),
        (np.zeros((5, 0)), "shape"),
        (np.array(0.5), "shape"),
    ],
)
def test_what_is_no_recording_leaves_no_file(
    tmp_path: Path, samples: np.ndarray, words: str
) -> None:
    """The samples are looked at before a file is made."""
    with pytest.raises(ArgumentError, match=words):
        write_wav24(tmp_path / "a.wav", samples, 48_000)
    assert list(tmp_path.iterdir()) == []


def test_more_than_four_gigabytes_are_refused() -> None:
    """The length would not fit into the header (a view without memory behind it)."""
    huge = np.broadcast_to(np.zeros((1, 1)), (1_500_000_000, 1))
    with pytest.raises(ArgumentError, match="4500000000 bytes"):
        next(wav24_chunks(huge, 48_000))


def test_an_existing_file_stays(tmp_path: Path) -> None:
    """Nothing is overwritten."""
    (tmp_path / "a.wav").write_bytes(b"mine")
    with pytest.raises(FolderError, match="exists already"):
        write_wav24(tmp_path / "a.wav", np.zeros(10), 48_000)
    assert (tmp_path / "a.wav").read_bytes() == b"mine"


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    """The system's reason is passed on."""
    with pytest.raises(FolderError, match="No such file or directory"):
        write_wav24(tmp_path / "none" / "a.wav", np.zeros(10), 48_000)
