"""Whatever bytes are in a file: samples or a RecordingError, and nothing else."""

from __future__ import annotations

import io
import warnings
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from loopback.errors import RecordingError
from loopback.examination.wav import read_header, read_samples


def _sound_file(container: str, subtype: str) -> bytes:
    x = np.random.default_rng(6).uniform(-0.5, 0.5, (60, 2))
    out = io.BytesIO()
    soundfile.write(out, x, 48_000, format=container, subtype=subtype)
    return out.getvalue()


SEEDS = tuple(
    _sound_file(*kind)
    for kind in (
        ("WAV", "PCM_24"),
        ("WAV", "PCM_U8"),
        ("WAVEX", "FLOAT"),
        ("WAV", "DOUBLE"),
        ("RF64", "PCM_24"),
        ("W64", "PCM_16"),
        ("AIFF", "PCM_24"),
        ("CAF", "ALAC_24"),
        ("FLAC", "PCM_24"),
        ("WAV", "IMA_ADPCM"),
    )
)
HEADER_BYTES = 120
changes = st.lists(
    st.tuples(st.integers(0, HEADER_BYTES - 1), st.integers(0, 255)), min_size=1, max_size=8
)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return one name that every example writes again."""
    return tmp_path_factory.mktemp("fuzz") / "a.wav"


OUTCOMES = ("samples", "refused")


def outcome_of(file: Path, data: bytes) -> str:
    """Read header and samples; only a RecordingError may stop that."""
    file.write_bytes(data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        refused: RecordingError | None = None
        try:
            header = read_header(file)
            samples, rate_hz = read_samples(file)
        except RecordingError as error:
            refused = error
    if refused is not None:
        assert refused.found
        assert refused.action
        return "refused"
    assert samples.dtype == np.float64
    assert samples.ndim == 2
    assert samples.shape[0] >= 1
    assert samples.shape[1] == header.channels
    assert rate_hz == header.rate_hz >= 1
    return "samples"


@settings(max_examples=600)
@given(seed=st.sampled_from(SEEDS), changed=changes)
def test_damaged_headers(file: Path, seed: bytes, changed: list[tuple[int, int]]) -> None:
    """Up to eight bytes of the header have other values."""
    data = bytearray(seed)
    for position, value in changed:
        data[position % len(data)] = value
    assert outcome_of(file, bytes(data)) in OUTCOMES


@settings(max_examples=300)
@given(seed=st.sampled_from(SEEDS), share=st.floats(0, 1), tail=st.binary(max_size=40))
def test_files_that_break_off(file: Path, seed: bytes, share: float, tail: bytes) -> None:
    """Any part of a file from its beginning, with anything behind it."""
    assert outcome_of(file, seed[: round(share * len(seed))] + tail) in OUTCOMES


@settings(max_examples=300)
@given(
    start=st.sampled_from([b"", b"RIFF", b"RIFX", b"RF64", b"riff", b"FORM", b"caff", b"fLaC"]),
    data=st.binary(max_size=300),
)
def test_arbitrary_bytes(file: Path, start: bytes, data: bytes) -> None:
    """Anything at all, also behind the first four bytes of a sound file."""
    assert outcome_of(file, start + data) in OUTCOMES


@settings(max_examples=300)
@given(
    seed=st.sampled_from(SEEDS),
    position=st.integers(0, HEADER_BYTES - 4),
    value=st.sampled_from([0, 1, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 0xFFFFFFFE]),
    order=st.sampled_from(["little", "big"]),
)
def test_absurd_lengths(file: Path, seed: bytes, position: int, value: int, order: str) -> None:
    """A length, rate or count at the ends of its range takes neither memory nor time."""
    data = bytearray(seed)
    data[position : position + 4] = value.to_bytes(4, "big" if order == "big" else "little")
    assert outcome_of(file, bytes(data)) in OUTCOMES


def test_undamaged_files_give_samples(file: Path) -> None:
    """All but the lossy one: the damage above is done to files that can be read."""
    outcomes = [outcome_of(file, seed) for seed in SEEDS]
    assert outcomes == ["samples"] * (len(SEEDS) - 1) + ["refused"]
