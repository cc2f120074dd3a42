"""The signal as a file: samples and parameters beside each other, written and read back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopback.errors import DocumentError, FolderError
from loopback.examination.signal_file import read_sheet, sheet_path, write_signal_file
from loopback.examination.wav import read_header, read_samples
from loopback.signal.sheet import decode_sheet, encode_sheet, sheet_of, signal_problem
from loopback.signal.take import Signal, layout_of, plan_signal, render_take

SIGNAL = plan_signal(44_100, 1.0, -20.0)


@pytest.mark.parametrize("takes", [1, 2, 3])
def test_the_file_holds_the_takes_one_after_the_other(tmp_path: Path, takes: int) -> None:
    """24 bits, one channel, each take within half a step of its exact samples."""
    sheet = write_signal_file(tmp_path / "sweep.wav", SIGNAL, takes)
    header = read_header(tmp_path / "sweep.wav")
    assert (header.subtype, header.rate_hz, header.channels) == ("PCM_24", 44_100, 1)
    samples, _ = read_samples(tmp_path / "sweep.wav")
    assert len(samples) == takes * layout_of(SIGNAL).length == sheet.takes * sheet.take_frames
    for one in np.split(samples[:, 0], takes):
        np.testing.assert_allclose(one, render_take(SIGNAL), rtol=0, atol=2.0**-24)


def test_two_takes_are_the_rule_and_the_parameters_come_back(tmp_path: Path) -> None:
    """Found by the name of either file; equal parameters render equal samples."""
    written = write_signal_file(tmp_path / "sweep.wav", SIGNAL)
    assert written.takes == 2
    assert sheet_path(tmp_path / "sweep.wav") == tmp_path / "sweep.json"
    for name in ("sweep.wav", "sweep.json"):
        assert read_sheet(tmp_path / name) == written
    assert read_sheet(tmp_path / "sweep.wav").signal == SIGNAL
    document = json.loads((tmp_path / "sweep.json").read_text(encoding="utf-8"))
    assert (document["format"], document["version"]) == ("loopback-signal", 1)


def test_the_same_signal_gives_the_same_bytes(tmp_path: Path) -> None:
    """Both files, every time."""
    for name in ("a", "b"):
        write_signal_file(tmp_path / f"{name}.wav", SIGNAL)
    for suffix in (".wav", ".json"):
        one, other = ((tmp_path / f"{name}{suffix}").read_bytes() for name in ("a", "b"))
        assert one == other


@pytest.mark.parametrize("taken", ["sweep.wav", "sweep.json"])
def test_nothing_is_overwritten_unless_asked_for(tmp_path: Path, taken: str) -> None:
    """Either name being taken stops both, before anything is written."""
    (tmp_path / taken).write_bytes(b"mine")
    with pytest.raises(FolderError, match=f"{taken}.*exists already"):
        write_signal_file(tmp_path / "sweep.wav", SIGNAL)
    assert [path.name for path in tmp_path.iterdir()] == [taken]
    assert (tmp_path / taken).read_bytes() == b"mine"
    write_signal_file(tmp_path / "sweep.wav", SIGNAL, overwrite=True)
    assert read_sheet(tmp_path / "sweep.wav").signal == SIGNAL


def test_places_where_nothing_can_be_written(tmp_path: Path) -> None:
    """A folder that is not there, and a name that is the document's own."""
    with pytest.raises(FolderError, match="No such file or directory"):
        write_signal_file(tmp_path / "none" / "sweep.wav", SIGNAL)
    with pytest.raises(FolderError, match=r"does not end in \.wav"):
        write_signal_file(tmp_path / "sweep.json", SIGNAL)


def test_a_signal_without_its_document(tmp_path: Path) -> None:
    """Said with what to do."""
    with pytest.raises(DocumentError, match=r"sweep\.json.*cannot be read") as caught:
        read_sheet(tmp_path / "sweep.wav")
    assert caught.value.action


signals = st.builds(
    plan_signal,
    rate_hz=st.integers(44_100, 192_000),
    seconds=st.floats(1, 30),
    level_dbfs=st.floats(-80, -12),
)


@settings(max_examples=100)
@given(signal=signals, takes=st.integers(1, 1000))
def test_every_signal_that_can_be_planned_comes_back(signal: Signal, takes: int) -> None:
    """To the last bit of every parameter."""
    sheet = sheet_of(signal, takes)
    assert signal_problem(signal) is None
    assert decode_sheet(encode_sheet(sheet), "a.json") == sheet


DAMAGE: list[tuple[str, Any, str]] = [
    ("signal.rate_hz", 8000, r"8000 Hz, outside 44100 to 192000 - at `\$\.signal\.rate_hz`"),
    ("signal.rate_hz", "48k", r"`\$\.signal\.rate_hz`"),
    ("signal.f1_hz", 0.0, r"`\$\.signal\.f1_hz`"),
    ("signal.f2_hz", 5.0, r"`\$\.signal\.f2_hz`"),
    ("signal.f2_hz", 23_000.0, r"`\$\.signal\.f2_hz`"),
    ("signal.cycles", 0, r"`\$\.signal\.cycles`"),
    ("signal.cycles", 10**15, r"`\$\.signal\.cycles`"),
    ("signal.level_dbfs", 1.0, r"`\$\.signal\.level_dbfs`"),
    ("signal.level_dbfs", None, r"`\$\.signal\.level_dbfs`"),
    ("signal.colour", "pink", r"unknown field `colour` - at `\$\.signal`"),
    ("takes", 0, r"`\$\.takes`"),
    ("take_frames", 17, r"a take of 17 samples, where this signal has \d+ - at `\$\.take_frames`"),
    ("version", 2, r"`\$\.version`"),
    ("format", "loopback-examination", r"`\$\.format`"),
]


@pytest.mark.parametrize(("place", "value", "words"), DAMAGE)
def test_damage_is_named_with_its_path(place: str, value: Any, words: str) -> None:
    """Nothing that could not be played gets through."""
    document = json.loads(encode_sheet(sheet_of(SIGNAL)))
    *owners, field = place.split(".")
    owner = document[owners[0]] if owners else document
    owner[field] = value
    with pytest.raises(DocumentError, match=words):
        decode_sheet(json.dumps(document).encode(), "sweep.json")


VALID = encode_sheet(sheet_of(SIGNAL))


@settings(max_examples=400)
@given(
    start=st.integers(0, len(VALID)),
    length=st.integers(0, 8),
    new=st.binary(max_size=6) | st.sampled_from([b"null", b"1e400", b"[", b"-", b"999999999999"]),
)
def test_a_document_changed_anywhere_is_read_or_refused(
    start: int, length: int, new: bytes
) -> None:
    """A DocumentError, or a signal that can be laid out; nothing else."""
    data = VALID[:start] + new + VALID[start + length :]
    try:
        sheet = decode_sheet(data, "sweep.json")
    except DocumentError as error:
        message = error.found
    else:
        assert layout_of(sheet.signal).length == sheet.take_frames
        return
    assert "sweep.json" in message
