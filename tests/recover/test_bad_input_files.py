"""Files that are no usable recordings: the exact reaction, and nothing lost."""

from __future__ import annotations

import re
import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile

from loopback.analysis import analyse
from loopback.arrays import F64
from loopback.errors import RecordingError
from loopback.rig.protocol import Recorded
from tests.reference.damaged_examinations import (
    SIGNAL,
    nothing_lost,
    noticed,
    sitting,
    start_of,
    store,
)


def written(subtype: str, change: Callable[[F64], F64] = np.asarray, rate_hz: int = SIGNAL.rate_hz):
    """Store the take as a WAV file of that sample format."""

    def make(samples: F64, folder: Path) -> Path:
        file = folder / "take.wav"
        soundfile.write(file, change(samples), rate_hz, subtype=subtype)
        return file

    return make


def _with_holes(samples: F64) -> F64:
    samples[start_of(samples) + 50_000 : start_of(samples) + 50_003] = np.nan
    samples[100] = np.inf
    return samples


def _channels(count: int, used: int) -> Callable[[F64], F64]:
    """The take in one of several channels, noise in the others."""

    def change(samples: F64) -> F64:
        noise = 1e-5 * np.random.default_rng(4).standard_normal((len(samples), count))
        noise[:, used] = samples[:, 0]
        return noise

    return change


CASES = {
    "NaN and Inf": (
        written("FLOAT", _with_holes),
        {("not_numbers", "refuse", "02/1")},
        "4 of .* values are not numbers",
    ),
    "huge float values": (
        written("FLOAT", lambda x: 32_768 * x),
        {("over_full_scale", "refuse", "02/1")},
        r"peak [67]\.\d+e\+03 times full scale",
    ),
    "8-bit file": (written("PCM_U8"), {("few_bits", "refuse", "02/1")}, "8 bits"),
    "16-bit file": (written("PCM_16"), {("few_bits", "look", "02/1")}, "16 bits"),
    "wrong rate in the header": (
        written("PCM_24", rate_hz=44_100),
        {("other_rate", "refuse", "02/1")},
        r"recorded at 44\.1 kHz, played at 48 kHz",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_unusable_file_is_refused_and_kept(name: str, tmp_path: Path) -> None:
    """One file of a run is unusable: it is named, kept byte for byte, and the other one counts."""
    make, expected, number = CASES[name]
    folder = store(tmp_path, sitting(), files={(2, 1): make})
    analysis = analyse(folder.path)
    assert noticed(analysis) == expected
    told = next(f for f in analysis.findings if f.where == "02/1")
    assert re.search(number, told.number)
    assert nothing_lost(folder, recordings=6)
    kept = folder.path_of(folder.document.runs[1].recordings[0])
    assert kept.read_bytes() == (tmp_path / "outside-2-1" / "take.wav").read_bytes()
    assert analysis.result.path == "loaded"


def test_float_files_over_full_scale_are_used(tmp_path: Path) -> None:
    """Floating point above full scale is not clipped: said, and the result is the usual one."""
    louder = written("FLOAT", lambda x: 6 * x)
    every = {(run, take): louder for run in (1, 2, 3) for take in (1, 2)}
    folder = store(tmp_path, sitting(), files=every)
    analysis = analyse(folder.path)
    assert {(code, grade) for code, grade, _ in noticed(analysis)} == {("over_full_scale", "look")}
    assert len(noticed(analysis)) == 6
    assert analysis.result.path == "loaded"


@pytest.mark.parametrize(("count", "used"), [(2, 1), (6, 4)])
def test_more_channels_than_expected_are_searched(count: int, used: int, tmp_path: Path) -> None:
    """The channel with the signal is found and named; the result is that of a mono file."""
    make = written("PCM_24", _channels(count, used))
    folder = store(tmp_path, sitting(), files={(2, 1): make, (2, 2): make})
    analysis = analyse(folder.path)
    assert noticed(analysis) == set()
    told = [f.number for f in analysis.findings if f.code == "channel_found"]
    assert told == [f"{count} channels, the signal is in channel {used + 1}"] * 2
    assert analysis.result.path == "loaded"


def test_mono_file_where_two_channels_were_announced(tmp_path: Path) -> None:
    """Without the channel that was named the only one is read, and both lacks are said."""
    folder = store(tmp_path, sitting(), path_channel=0)
    recording = folder.append_recording(
        "02",
        Recorded("sweep", SIGNAL.rate_hz, np.repeat(sitting().takes[1][0], 2, axis=1)),
        path_channel=1,
        check_channel=0,
    )
    file = folder.path_of(recording)
    soundfile.write(file, sitting().takes[1][0][:, 0], SIGNAL.rate_hz, subtype="PCM_24")
    analysis = analyse(folder.path)
    told = [f for f in analysis.findings if f.where == "02/3"]
    assert [(f.code, f.grade) for f in told] == [("channel_missing", "look")]
    assert "1 channel, and the pedal was on channel 2" in told[0].number
    assert not folder.check_hash(recording)


def _riff(data: bytes, promised: int) -> bytes:
    """A 24-bit mono WAV file whose header promises some bytes."""
    rate = SIGNAL.rate_hz
    layout = struct.pack("<4sIHHIIHH", b"fmt ", 16, 1, 1, rate, 3 * rate, 3, 24)
    body = b"WAVE" + layout + b"data" + struct.pack("<I", promised) + data
    return b"RIFF" + struct.pack("<I", 4 + len(layout) + 8 + promised) + body


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", r"is empty \(0 bytes\)"),
        (b"Dear diary, today I measured a pedal.", "is not a sound file"),
        (b"ID3\x04" + bytes(400), "is (not a sound|a compressed) file"),
        (b"RIFF\x24\x00\x00\x00WAVEjunk", "is not a sound file"),
    ],
    ids=["empty", "text", "compressed", "only a beginning"],
)
def test_what_is_no_recording_is_refused_at_the_door(
    content: bytes, message: str, tmp_path: Path
) -> None:
    """Nothing is added, nothing is changed, and the file stays where it was."""
    folder = store(tmp_path, sitting())
    before = folder.document
    file = tmp_path / "odd.wav"
    file.write_bytes(content)
    with pytest.raises(RecordingError, match=message) as caught:
        folder.append_recording("02", Recorded("sweep", SIGNAL.rate_hz, None, file))
    assert caught.value.action
    assert folder.document == before
    assert nothing_lost(folder, recordings=6)
    assert file.read_bytes() == content


def test_zero_length_data_is_refused_at_the_door_or_in_the_analysis(tmp_path: Path) -> None:
    """A header without sound never becomes a take, and never stops the analysis."""
    folder = store(tmp_path, sitting())
    file = tmp_path / "nothing.wav"
    file.write_bytes(_riff(b"", 0))
    recording = folder.append_recording("02", Recorded("sweep", SIGNAL.rate_hz, None, file))
    analysis = analyse(folder.path)
    assert noticed(analysis) == {("unreadable", "refuse", "02/3")}
    told = next(f for f in analysis.findings if f.code == "unreadable")
    assert "holds 0 samples" in told.number
    assert recording.frames == 0
    assert nothing_lost(folder, recordings=7)
    assert analysis.result.path == "loaded"


@pytest.mark.parametrize(("share", "grade"), [(0.4, "refuse"), (0.999, "look")])
def test_truncated_file_is_used_as_far_as_it_goes(share: float, grade: str, tmp_path: Path) -> None:
    """Cut in mid sweep the take is refused; cut in the silence after it, it is used."""

    def make(samples: F64, folder: Path) -> Path:
        whole = (folder / "take.wav", folder / "cut.wav")
        soundfile.write(whole[0], samples, SIGNAL.rate_hz, subtype="PCM_24")
        content = whole[0].read_bytes()
        whole[1].write_bytes(content[: int(len(content) * share)])
        return whole[1]

    folder = store(tmp_path, sitting(), files={(2, 1): make})
    analysis = analyse(folder.path)
    found = noticed(analysis)
    assert ("file_cut", "look", "02/1") in found
    assert (("take_cut", "refuse", "02/1") in found) == (grade == "refuse")
    response = analysis.pedal_runs[0].response
    assert response is not None
    assert response.takes == (1 if grade == "refuse" else 2)
    assert nothing_lost(folder, recordings=6)
    assert analysis.result.path == "loaded"


def test_file_that_was_deleted_is_said_to_be_gone(tmp_path: Path) -> None:
    """A recording that is listed and missing refuses its take, not the examination."""
    folder = store(tmp_path, sitting())
    folder.path_of(folder.document.runs[1].recordings[0]).unlink()
    analysis = analyse(folder.path)
    assert noticed(analysis) == {("unreadable", "refuse", "02/1")}
    assert analysis.result.path == "loaded"


def test_recording_without_a_run_is_named(tmp_path: Path) -> None:
    """A file that a broken-off writing left behind is told, and disturbs nothing."""
    folder = store(tmp_path, sitting())
    whole = folder.path_of(folder.document.runs[1].recordings[0])
    (whole.parent / "09-1.wav").write_bytes(whole.read_bytes())
    analysis = analyse(folder.path)
    assert noticed(analysis) == {("not_listed", "look", "")}
    told = next(f for f in analysis.findings if f.code == "not_listed")
    assert "recordings/09-1.wav" in told.number
    assert analysis.result.path == "loaded"
