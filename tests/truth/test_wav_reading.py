"""Reading sound files: every format gives its samples, every defect a reason."""

from __future__ import annotations

import os
import struct
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from loopback.errors import RecordingError
from loopback.examination.wav import read_header, read_samples, write_wav24
from loopback.quality.level import judge_numbers, used_bits
from loopback.quality.stored_file import judge_header

FORMATS = [
    ("a.wav", "WAV", "PCM_U8", 2.0**-8, 8),
    ("a.wav", "WAV", "PCM_16", 2.0**-16, 16),
    ("a.wav", "WAV", "PCM_24", 2.0**-24, 24),
    ("a.wav", "WAV", "PCM_32", 2.0**-32, 32),
    ("a.wav", "WAVEX", "FLOAT", 2.0**-25, None),
    ("a.wav", "WAV", "DOUBLE", 0.0, None),
    ("a.wav", "RF64", "PCM_24", 2.0**-24, 24),
    ("a.w64", "W64", "PCM_24", 2.0**-24, 24),
    ("a.aiff", "AIFF", "PCM_24", 2.0**-24, 24),
    ("a.caf", "CAF", "PCM_24", 2.0**-24, 24),
    ("a.flac", "FLAC", "PCM_16", 2.0**-16, 16),
    ("a.flac", "FLAC", "PCM_24", 2.0**-24, 24),
]


def noise(frames: int = 2000, channels: int = 2, seed: int = 1) -> NDArray[np.float64]:
    """Uniform noise within ±0.5."""
    return np.random.default_rng(seed).uniform(-0.5, 0.5, (frames, channels))


@pytest.mark.parametrize(("name", "container", "subtype", "step", "bits"), FORMATS)
def test_each_format_gives_its_samples(
    tmp_path: Path, name: str, container: str, subtype: str, step: float, bits: int | None
) -> None:
    """Within two rounding steps of what was written; the header tells the format."""
    x = noise()
    soundfile.write(tmp_path / name, x, 48_000, format=container, subtype=subtype)
    samples, rate_hz = read_samples(tmp_path / name)
    header = read_header(tmp_path / name)
    assert rate_hz == header.rate_hz == 48_000
    assert (header.container, header.subtype) == (container, subtype)
    assert header.frames == header.declared_frames == len(samples) == len(x)
    assert np.max(np.abs(samples - x)) <= 2 * step
    assert header.is_float == (subtype in ("FLOAT", "DOUBLE"))
    if bits is not None:
        assert np.array_equal(samples * 2.0 ** (bits - 1), np.rint(samples * 2.0 ** (bits - 1)))
        assert used_bits(samples[:, 0]) == min(bits, 24)
    assert (tmp_path / name).suffix == header.suffix


@pytest.mark.parametrize(
    ("name", "container", "subtype", "step", "bits"), [f for f in FORMATS if f[1] != "CAF"]
)
def test_a_file_cut_in_half_gives_what_it_holds(
    tmp_path: Path, name: str, container: str, subtype: str, step: float, bits: int | None
) -> None:
    """What is left are the first samples, unharmed, and the loss is counted."""
    soundfile.write(
        tmp_path / f"whole-{name}", noise(60_000), 48_000, container and subtype, None, container
    )
    data = (tmp_path / f"whole-{name}").read_bytes()
    (tmp_path / name).write_bytes(data[: len(data) // 2])
    whole, _ = read_samples(tmp_path / f"whole-{name}")
    samples, _ = read_samples(tmp_path / name)
    assert 0.2 * len(whole) < len(samples) < 0.6 * len(whole)
    np.testing.assert_array_equal(samples, whole[: len(samples)])
    if container != "W64":  # the library corrects its length without a word
        header = read_header(tmp_path / name)
        assert header.declared_frames == len(whole)
        (found,) = judge_header(header, len(samples), "01/1")
        assert found.number == f"{len(samples)} of {len(whole)} samples"
    assert judge_header(read_header(tmp_path / f"whole-{name}"), len(whole), "01/1") == ()


def test_mono_and_many_channels(tmp_path: Path) -> None:
    """The table always has two dimensions, one column per channel."""
    for channels in (1, 2, 18):
        soundfile.write(tmp_path / "a.wav", noise(10, channels), 96_000, subtype="PCM_24")
        assert read_samples(tmp_path / "a.wav")[0].shape == (10, channels)


def test_what_is_no_number_is_kept_and_counted(tmp_path: Path) -> None:
    """nan and inf come through as they are, and a gate counts them."""
    x = noise(100)
    x[3, 0], x[4, 1], x[5, 0] = np.nan, np.inf, -np.inf
    x[6, 0] = -0.75
    soundfile.write(tmp_path / "a.wav", x, 48_000, subtype="DOUBLE")
    samples, _ = read_samples(tmp_path / "a.wav")
    np.testing.assert_array_equal(samples, x)
    (found,) = judge_numbers(samples, "01/1")
    assert (found.code, found.number.split()[0]) == ("not_numbers", "3")


def test_huge_values_are_kept(tmp_path: Path) -> None:
    """A float file in units of converter steps, or with garbage, is read as it stands."""
    x = np.array([[8_388_607.0], [-1e300], [1.0], [0.0]])
    soundfile.write(tmp_path / "a.wav", x, 48_000, subtype="DOUBLE")
    samples, _ = read_samples(tmp_path / "a.wav")
    np.testing.assert_array_equal(samples, x)
    (found,) = judge_numbers(samples, "01/1")
    assert (found.code, found.grade) == ("over_full_scale", "refuse")


def test_sixteen_bits_in_a_24_bit_file_show(tmp_path: Path) -> None:
    """A file that was padded tells the converter's real word length; one odd sample is visible."""
    x = np.round(noise(1000) * 2**15) / 2**15
    write_wav24(tmp_path / "a.wav", x, 48_000)
    samples, _ = read_samples(tmp_path / "a.wav")
    assert used_bits(samples[:, 1]) == 16
    samples[17, 1] += 2.0**-23
    assert used_bits(samples[:, 1]) == 24


def test_digital_silence_stays_silent(tmp_path: Path) -> None:
    """All zeros come back as zeros, and as many."""
    write_wav24(tmp_path / "a.wav", np.zeros((50, 2)), 48_000)
    samples, _ = read_samples(tmp_path / "a.wav")
    assert samples.shape == (50, 2)
    assert not samples.any()


def test_a_caf_file_cut_in_half_is_refused(tmp_path: Path) -> None:
    """The library reads none of it; the reason is given."""
    soundfile.write(tmp_path / "whole.caf", noise(6000), 48_000, subtype="PCM_24")
    data = (tmp_path / "whole.caf").read_bytes()
    (tmp_path / "a.caf").write_bytes(data[: len(data) // 2])
    with pytest.raises(RecordingError, match="malformed"):
        read_samples(tmp_path / "a.caf")


def test_a_recorder_that_lost_power_is_named_as_a_cause(tmp_path: Path) -> None:
    """Lengths of zero in the header, with samples behind: 0 samples in 3044 bytes."""
    write_wav24(tmp_path / "a.wav", noise(500), 48_000)
    data = bytearray((tmp_path / "a.wav").read_bytes())
    data[4:8] = data[40:44] = bytes(4)
    (tmp_path / "a.wav").write_bytes(data)
    with pytest.raises(RecordingError, match=r"0 samples, in a file of 3044 bytes.*lost power"):
        read_samples(tmp_path / "a.wav")


def test_a_file_written_into_a_pipe_is_read_whole(tmp_path: Path) -> None:
    """Lengths of 2^32 - 1 in the header: the samples are read, no loss is claimed."""
    write_wav24(tmp_path / "a.wav", noise(500), 48_000)
    data = bytearray((tmp_path / "a.wav").read_bytes())
    data[4:8] = data[40:44] = b"\xff\xff\xff\xff"
    (tmp_path / "a.wav").write_bytes(data)
    samples, _ = read_samples(tmp_path / "a.wav")
    header = read_header(tmp_path / "a.wav")
    assert len(samples) == 500
    assert header.declared_frames is None


def riff(*chunks: tuple[bytes, bytes]) -> bytes:
    """Build a RIFF file by hand."""
    body = b"WAVE" + b"".join(
        name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)
        for name, data in chunks
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


FMT = struct.pack("<HHIIHH", 1, 1, 48_000, 96_000, 2, 16)


def test_chunks_of_other_programs_are_passed_over(tmp_path: Path) -> None:
    """Odd lengths before the samples, notes behind them: the samples are the same."""
    (tmp_path / "a.wav").write_bytes(
        riff((b"bext", b"x" * 13), (b"fmt ", FMT), (b"data", b"\0\x40\0\xc0"), (b"LIST", b"abc"))
    )
    samples, _ = read_samples(tmp_path / "a.wav")
    assert samples.tolist() == [[0.5], [-0.5]]
    assert read_header(tmp_path / "a.wav").declared_frames == 2


BROKEN: dict[str, tuple[bytes, str]] = {
    "empty": (b"", r"is empty \(0 bytes\)"),
    "text": (b"take 1: coupler, plain lead\n", "is not a sound file"),
    "zip": (b"PK\x03\x04" + bytes(100), "is not a sound file"),
    "mp3": (b"ID3\x04" + bytes(500), "is a compressed file"),
    "mp3-bare": (b"\xff\xfb\x90\x64" + bytes(500), "is a compressed file"),
    "ogg": (b"OggS" + bytes(500), "is a compressed file"),
    "m4a": (b"\0\0\0\x20ftypM4A " + bytes(500), "is a compressed file"),
    "riff-only": (b"RIFF", "not a sound file that can be read"),
    "no-data-chunk": (riff((b"fmt ", FMT)), "not a sound file that can be read"),
    "no-samples": (riff((b"fmt ", FMT), (b"data", b"")), "holds 0 samples, in a file of 44 bytes"),
    "no-format": (riff((b"data", b"\0\0")), "not a sound file that can be read"),
    "zeros": (bytes(4096), "is not a sound file"),
}


@pytest.mark.parametrize("case", sorted(BROKEN))
def test_what_is_no_recording_gets_a_reason(tmp_path: Path, case: str) -> None:
    """Found, meaning and action, and the name of the file."""
    data, words = BROKEN[case]
    path = tmp_path / f"{case}.wav"
    path.write_bytes(data)
    with pytest.raises(RecordingError, match=words) as caught:
        read_samples(path)
    assert path.name in caught.value.found
    assert caught.value.means
    assert caught.value.action


def test_lossy_samples_inside_a_wav_file_are_refused(tmp_path: Path) -> None:
    """The ending says nothing about the coding."""
    soundfile.write(tmp_path / "a.wav", noise(), 48_000, subtype="MS_ADPCM")
    with pytest.raises(RecordingError, match="holds MS_ADPCM samples"):
        read_samples(tmp_path / "a.wav")


@pytest.mark.parametrize("reader", [read_samples, read_header])
def test_names_that_lead_nowhere(tmp_path: Path, reader: object) -> None:
    """A missing file, a folder, a name with a null character."""
    assert callable(reader)
    with pytest.raises(RecordingError, match="does not exist"):
        reader(tmp_path / "none.wav")
    with pytest.raises(RecordingError, match="is a folder"):
        reader(tmp_path)
    with pytest.raises(RecordingError, match=r"cannot be|does not exist"):
        reader(tmp_path / "a\0b.wav")


if sys.platform != "win32":

    def test_a_pipe_does_not_hang(tmp_path: Path) -> None:
        """Only ordinary files are opened."""
        os.mkfifo(tmp_path / "pipe.wav")
        with pytest.raises(RecordingError, match="no ordinary file"):
            read_samples(tmp_path / "pipe.wav")


NAMES = ["with space.wav", "é ü 漢字.wav", "שלום.wav", "no-ending", "two.dots.WAV", "#%&'.wav"]


@pytest.mark.parametrize("name", NAMES)
def test_any_file_name_will_do(tmp_path: Path, name: str) -> None:
    """Spaces, accents, right-to-left, no ending."""
    write_wav24(tmp_path / name, noise(10), 48_000)
    assert len(read_samples(tmp_path / name)[0]) == 10


if sys.platform not in ("win32", "darwin"):  # there every name is text

    def test_a_file_name_that_is_no_text(tmp_path: Path) -> None:
        """Bytes that are not UTF-8, as on old sticks."""
        path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.wav"))
        write_wav24(path, noise(10), 48_000)
        assert len(read_samples(path)[0]) == 10


def test_an_ending_of_headerless_files_is_explained(tmp_path: Path) -> None:
    """The library would want to be told rate and format of a .raw file."""
    write_wav24(tmp_path / "a.raw", noise(10), 48_000)
    with pytest.raises(RecordingError, match=r"Rename it to end in \.wav"):
        read_samples(tmp_path / "a.raw")


FOREIGN_ERRORS = [
    soundfile.LibsndfileError(2),
    soundfile.SoundFileRuntimeError("closed"),
    soundfile.SoundFileError("anything"),
    TypeError("samplerate must be specified"),
    ValueError("embedded null byte"),
    PermissionError(13, "Permission denied"),
    OSError("without a number"),
]


def test_no_error_class_of_the_library_is_forgotten() -> None:
    """The list above holds each one that the installed version has."""
    classes = {
        item
        for item in vars(soundfile).values()
        if isinstance(item, type) and issubclass(item, Exception) and item.__module__ == "soundfile"
    }
    assert classes <= {type(error) for error in FOREIGN_ERRORS}


@pytest.mark.parametrize("error", FOREIGN_ERRORS, ids=lambda error: type(error).__name__)
def test_every_error_of_the_library_is_translated(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    """Whatever it raises on opening comes out as a RecordingError that names the file."""
    write_wav24(tmp_path / "a.wav", noise(10), 48_000)

    def refuse(*_args: object) -> None:
        raise error

    monkeypatch.setattr(soundfile, "SoundFile", refuse)
    with pytest.raises(RecordingError, match=r"a\.wav") as caught:
        read_samples(tmp_path / "a.wav")
    assert caught.value.__cause__ is error
