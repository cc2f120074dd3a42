"""Foreign files: those that scipy's own tests read, against scipy's reader.

Source of the files: scipy, ``scipy/io/tests/data`` (BSD licence), made by other programs.
"""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import io

from loopback.errors import RecordingError
from loopback.examination.wav import read_header, read_samples

FOLDER = Path(io.__file__).parent / "tests" / "data"
FILES = sorted(path.name for path in FOLDER.glob("*.wav"))

REFUSED = {
    "test-44100Hz-le-1ch-4bytes-early-eof-no-data.wav": "not a sound file that can be read",
    "test-44100Hz-le-1ch-4bytes-incomplete-chunk.wav": "not a sound file that can be read",
    "test-8000Hz-le-1ch-1byte-ulaw.wav": "holds ULAW samples",
    "test-8000Hz-le-3ch-5S-36bit.wav": "unimplemented format",
    "test-8000Hz-le-3ch-5S-45bit.wav": "unimplemented format",
    "test-8000Hz-le-3ch-5S-53bit.wav": "unimplemented format",
    "test-8000Hz-le-3ch-5S-64bit.wav": "unimplemented format",
}
SCIPY_REFUSES = "test-8000Hz-le-3ch-5S-24bit-inconsistent.wav"
"""Its header contradicts itself about the bytes per frame."""
"""Word lengths above 32 bits exist in no converter; the two others hold no samples."""


def scipy_samples(path: Path) -> tuple[NDArray[np.float64], int]:
    """Samples as scipy reads them, as a fraction of full scale."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", io.wavfile.WavFileWarning)
        rate_hz, data = io.wavfile.read(path)
    table = data[:, np.newaxis] if data.ndim == 1 else data
    if table.dtype == np.uint8:
        return (table.astype(np.float64) - 128) / 128, rate_hz
    if table.dtype.kind == "i":
        return table / 2.0 ** (8 * table.dtype.itemsize - 1), rate_hz
    return table.astype(np.float64), rate_hz


def test_the_foreign_files_are_there() -> None:
    """Every refused file exists, and at least 15 others do."""
    assert set(REFUSED) < set(FILES)
    assert len(FILES) - len(REFUSED) >= 15


@pytest.mark.parametrize("name", sorted(set(FILES) - set(REFUSED) - {SCIPY_REFUSES}))
def test_samples_are_those_that_scipy_reads(name: str) -> None:
    """Values, shape and rate equal an independent reader's, to the last bit."""
    samples, rate_hz = read_samples(FOLDER / name)
    expected, expected_rate_hz = scipy_samples(FOLDER / name)
    assert rate_hz == expected_rate_hz
    assert samples.shape == expected.shape
    np.testing.assert_array_equal(samples, expected)
    header = read_header(FOLDER / name)
    assert (header.frames, header.channels) == expected.shape


def test_a_file_that_scipy_refuses_still_gives_samples() -> None:
    """The library goes by channels and word length: five frames inside full scale."""
    samples, _ = read_samples(FOLDER / SCIPY_REFUSES)
    assert samples.shape == (5, 3)
    assert np.all(np.abs(samples) <= 1.0)


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_what_cannot_be_measured_is_refused(name: str) -> None:
    """The reason is named, and what to do."""
    with pytest.raises(RecordingError, match=REFUSED[name]) as caught:
        read_samples(FOLDER / name)
    assert name in caught.value.found
    assert caught.value.action


def test_a_file_cut_short_says_how_much_is_missing() -> None:
    """The header promises 4410 frames (as in the whole file beside it), the file holds 236."""
    path = FOLDER / "test-44100Hz-le-1ch-4bytes-early-eof.wav"
    samples, _ = read_samples(path)
    header = read_header(path)
    assert (header.declared_frames, header.frames) == (4410, 236)
    whole, _ = read_samples(FOLDER / "test-44100Hz-le-1ch-4bytes.wav")
    np.testing.assert_array_equal(samples, whole[:236])


@pytest.mark.parametrize(
    ("name", "bits"),
    [
        ("test-8000Hz-le-4ch-9S-12bit.wav", 12),
        ("test-8000Hz-le-5ch-9S-5bit.wav", 5),
        ("test-8000Hz-le-3ch-5S-24bit.wav", 24),
    ],
)
def test_bits_in_use_are_those_in_the_files_name(name: str, bits: int) -> None:
    """A short word in a longer container is seen as what it is."""
    samples, _ = read_samples(FOLDER / name)
    steps = samples * 2.0 ** (bits - 1)
    np.testing.assert_array_equal(steps, np.rint(steps))
    assert not np.array_equal(steps / 2, np.rint(steps / 2))
