"""The document: everything comes back as it went in, and damage is named with its path."""

from __future__ import annotations

import json
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopback.errors import ArgumentError, DocumentError
from loopback.examination.document import decode_examination, encode_examination
from loopback.examination.records import Examination, Pedal, Recording, Run, Setup
from loopback.plan.runs import RunLabel
from loopback.signal.take import plan_signal

MADE = "2026-11-25T18:00:00+01:00"
HASH = "0123456789abcdef" * 4

texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=40) | st.sampled_from(
    [
        "שלום \u202e reversed",
        "漢字 🎸",
        "a\0b",
        '"\\/\b\f\n\r\t',
        "x" * 5000,
        "NaN",
        "../../etc",
        "é\u0301",
    ]
)
ohms = st.none() | st.floats(1e-300, 1e300)
labels = st.builds(
    RunLabel,
    path=st.sampled_from(["coupler", "pedal", "unplugged"]),
    feed=st.sampled_from(["plain", "resistor"]),
    power=st.sampled_from([None, "on", "off"]),
    position=st.sampled_from([None, "a", "b", "none"]),
    lamp=st.sampled_from([None, "lit", "dark", "none"]),
    resistor_ohm=ohms,
    resistor_tolerance=st.none() | st.floats(0, 1, exclude_max=True),
    resistor_end=st.sampled_from(["pedal", "interface"]),
    load=st.sampled_from(["instrument", "line", "plug"]),
    load_ohm=ohms,
    mating=st.integers(0, 10**6),
    direction=st.sampled_from(["forward", "reversed"]),
    note=texts,
    level_db=st.floats(-120, 0),
)
recordings = st.builds(
    Recording,
    file=st.just(""),
    sha256=st.text("0123456789abcdef", min_size=64, max_size=64),
    rate_hz=st.integers(1, 2**31),
    channels=st.integers(3, 1024),
    frames=st.integers(0, 2**62),
    kind=st.sampled_from(["sweep", "silence"]),
    made=st.just(MADE),
    path_channel=st.none() | st.integers(0, 2),
    check_channel=st.none() | st.integers(0, 2),
    expected_start=st.none() | st.integers(0, 2**62),
    flags=st.lists(texts, max_size=3).map(tuple),
    origin=texts,
)
pedals = st.builds(Pedal, **dict.fromkeys(Pedal.__struct_fields__, texts))
setups = st.builds(
    Setup,
    rig=st.sampled_from(["device", "files", "simulator"]),
    name=texts,
    resistor_ohm=ohms,
    resistor_tolerance=st.none() | st.floats(0, 0.5),
    full_scale_dbu=st.none() | st.floats(-60, 60),
    note=texts,
)
signals = st.builds(
    plan_signal,
    rate_hz=st.sampled_from([44_100, 48_000, 88_200, 96_000, 192_000]),
    seconds=st.floats(1, 30),
    level_dbfs=st.floats(-80, -12),
)


@st.composite
def examinations(draw: st.DrawFn) -> Examination:
    """Whole documents, with file names and ids in order."""
    runs = []
    for number in range(1, draw(st.integers(0, 3)) + 1):
        taken = draw(st.lists(recordings, max_size=2))
        files = [
            msgspec.structs.replace(recording, file=f"recordings/{number:02d}-{take}.wav")
            for take, recording in enumerate(taken, start=1)
        ]
        repeats = f"{number - 1:02d}" if number > 1 and draw(st.booleans()) else ""
        runs.append(Run(f"{number:02d}", draw(labels), tuple(files), repeats))
    return Examination(
        version=1,
        created=MADE,
        pedal=draw(pedals),
        setup=draw(setups),
        signal=draw(signals),
        runs=tuple(runs),
        conditions=draw(texts),
    )


def sample() -> Examination:
    """A document with every field filled."""
    label = RunLabel("pedal", "resistor", "on", "a", "lit", 1e5, 0.01, load="plug", load_ohm=1e3)
    recording = Recording(
        "recordings/01-1.wav", HASH, 48_000, 2, 9, "sweep", MADE, 0, 1, 5, ("overflow",), "a.wav"
    )
    return Examination(
        version=1,
        created=MADE,
        pedal=Pedal("Quarry Lamp", private_note="mine"),
        setup=Setup("files", "box", 1e5, 0.01, 10.0),
        signal=plan_signal(48_000, 1.0),
        runs=(
            Run("01", label, (recording,)),
            Run(
                "02", label, (msgspec.structs.replace(recording, file="recordings/02-1.wav"),), "01"
            ),
        ),
    )


@settings(max_examples=200)
@given(examination=examinations())
def test_every_document_comes_back_equal(examination: Examination) -> None:
    """Every field, whatever letters and numbers are in it; and the bytes are standard JSON."""
    data = encode_examination(examination)
    assert decode_examination(data, "examination.json") == examination
    assert json.loads(data)["pedal"]["name"] == examination.pedal.name


HOSTILE: list[Any] = [
    np.float64(1.0),
    np.float32(1.0),
    np.int64(1),
    np.bool_(True),
    np.array([1.0]),
    float("nan"),
    float("inf"),
    float("-inf"),
    "\ud800",
    b"bytes",
    ["a"],
    {"a": 1},
    object(),
]
PLACES = [
    (("pedal", "name"), "$.pedal.name"),
    (("setup", "resistor_ohm"), "$.setup.resistor_ohm"),
    (("signal", "f1_hz"), "$.signal.f1_hz"),
    (("conditions",), "$.conditions"),
]


@pytest.mark.parametrize("value", HOSTILE, ids=lambda value: repr(value)[:20])
@pytest.mark.parametrize(("place", "path"), PLACES, ids=lambda item: str(item)[:25])
def test_what_json_would_change_or_refuse_is_named(
    value: Any, place: tuple[str, ...], path: str
) -> None:
    """Numbers of another library, nan, inf, broken text: refused with their path, never written."""
    whole = sample()
    changed: Any = value
    for field in reversed(place):
        owner = whole if field == place[0] else getattr(whole, place[0])
        changed = msgspec.structs.replace(owner, **{field: changed})
    with pytest.raises(ArgumentError) as caught:
        encode_examination(changed)
    assert f"`{path}`" in caught.value.found


def test_hostile_values_inside_runs_are_named() -> None:
    """The path leads through lists."""
    whole = sample()
    label = msgspec.structs.replace(whole.runs[1].label, load_ohm=np.float64(5.0))
    runs = (whole.runs[0], msgspec.structs.replace(whole.runs[1], label=label))
    with pytest.raises(ArgumentError, match=r"numpy\.float64 was given - at `\$\.runs\[1\]\.label"):
        encode_examination(msgspec.structs.replace(whole, runs=runs))


DAMAGE: list[tuple[tuple[str | int, ...], Any, str]] = [
    (("runs", 1, "label", "feed"), "bare", r"`\$\.runs\[1\]\.label\.feed`"),
    (("runs", 0, "label", "extra"), 1, r"unknown field `extra` - at `\$\.runs\[0\]\.label`"),
    (("extra",), 1, r"unknown field `extra` - at `\$`"),
    (("runs", 0, "recordings", 0, "rate_hz"), "48k", r"`\$\.runs\[0\]\.recordings\[0\]\.rate_hz`"),
    (("runs", 0, "recordings", 0, "rate_hz"), 0, r"0 is too small - at .*rate_hz`"),
    (("runs", 0, "recordings", 0, "file"), "../a.wav", r"no file in recordings/ - at .*\.file`"),
    (("runs", 0, "recordings", 0, "file"), "recordings/../a", "no file in recordings/"),
    (("runs", 0, "recordings", 0, "file"), "/etc/passwd", "no file in recordings/"),
    (("runs", 0, "recordings", 0, "file"), "recordings\\a.wav", "no file in recordings/"),
    (("runs", 0, "recordings", 0, "file"), "recordings/.a", "no file in recordings/"),
    (("runs", 0, "recordings", 0, "file"), "recordings/a:b", "no file in recordings/"),
    (("runs", 0, "recordings", 0, "file"), "", "no file in recordings/"),
    (("runs", 1, "recordings", 0, "file"), "recordings/01-1.WAV", "is listed twice"),
    (("runs", 0, "recordings", 0, "sha256"), "abc", r"is no SHA-256 - at .*\.sha256`"),
    (("runs", 0, "recordings", 0, "made"), "yesterday", r"is not a time .*\.made`"),
    (("runs", 0, "recordings", 0, "path_channel"), 2, "Channel 2 of 2, counted from 0"),
    (("runs", 0, "recordings", 0, "expected_start"), -1, "-1 is too small"),
    (("runs", 0, "label", "resistor_ohm"), -1.0, r"A resistance of -1 ohm - at .*resistor_ohm`"),
    (("runs", 0, "label", "resistor_tolerance"), 5, r"A tolerance of 5"),
    (("setup", "resistor_ohm"), 0.0, r"A resistance of 0 ohm - at `\$\.setup\.resistor_ohm`"),
    (("runs", 0, "label", "load_ohm"), -1, r"A resistance of -1 ohm - at .*load_ohm`"),
    (("runs", 0, "label", "level_db"), 3.0, r"A level 3 dB against .*level_db`"),
    (("runs", 0, "label", "mating"), -1, "Plugged again -1 times"),
    (("runs", 1, "id"), "01", r"used twice - at `\$\.runs\[1\]\.id`"),
    (("runs", 1, "id"), "two", "is no run number"),
    (("runs", 1, "repeats"), "09", r"no earlier run.* - at `\$\.runs\[1\]\.repeats`"),
    (("created",), "2026-11-25 18:00", r"not a time with an offset - at `\$\.created`"),
    (("signal", "rate_hz"), 8000, r"8000 Hz, outside .* - at `\$\.signal\.rate_hz`"),
    (("signal", "f2_hz"), 1e9, r"at `\$\.signal\.f2_hz`"),
    (("signal", "cycles"), 10**9, r"at `\$\.signal\.cycles`"),
    (("signal", "level_dbfs"), 6.0, r"at `\$\.signal\.level_dbfs`"),
    (("version",), "1", r"`\$\.version`"),
    (("version",), 0, r"`\$\.version`"),
    (("format",), "something", r'has the format "something" - at `\$\.format`'),
    (("pedal",), None, r"`\$\.pedal`"),
    (("runs",), {}, r"`\$\.runs`"),
]


@pytest.mark.parametrize(("place", "value", "words"), DAMAGE, ids=lambda item: str(item)[:40])
def test_damage_is_named_with_its_path(
    place: tuple[str | int, ...], value: Any, words: str
) -> None:
    """One wrong value anywhere: refused, with where it is."""
    document: Any = json.loads(encode_examination(sample()))
    owner = document
    for step in place[:-1]:
        owner = owner[step]
    owner[place[-1]] = value
    with pytest.raises(DocumentError, match=words) as caught:
        decode_examination(json.dumps(document).encode(), "examination.json")
    assert "examination.json" in caught.value.found


def test_a_newer_version_is_refused_with_a_clear_sentence() -> None:
    """Also when it has fields that this program does not know."""
    document = json.loads(encode_examination(sample()))
    document |= {"version": 2, "novelty": True}
    with pytest.raises(DocumentError, match=r"version 2.*versions up to 1; a newer one wrote"):
        decode_examination(json.dumps(document).encode(), "examination.json")


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"[]", b"null", b"\xff\xfe{}", b"[" * 100_000, b'{"format": ' * 50_000, b"{}{}"],
    ids=lambda data: repr(data)[:15],
)
def test_what_is_no_document(data: bytes) -> None:
    """Empty, broken, deeply nested, another kind of JSON."""
    with pytest.raises(DocumentError, match=r"`\$"):
        decode_examination(data, "examination.json")


VALID = encode_examination(sample())
TOKENS = [b"null", b"-1", b"1e400", b"NaN", b'"\\ud800"', b"[]", b"{}", b"true", b"9" * 40, b"\xff"]


@settings(max_examples=800)
@given(
    edits=st.lists(
        st.tuples(
            st.integers(0, len(VALID)),
            st.integers(0, 12),
            st.binary(max_size=6) | st.sampled_from(TOKENS),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_a_document_changed_anywhere_is_read_or_refused(
    edits: list[tuple[int, int, bytes]],
) -> None:
    """A DocumentError with a path, or a document that can be written again; nothing else."""
    data = VALID
    for start, length, new in edits:
        data = data[:start] + new + data[start + length :]
    try:
        examination = decode_examination(data, "examination.json")
    except DocumentError as error:
        message = error.found
    else:
        assert decode_examination(encode_examination(examination), "x") == examination
        return
    assert "`$" in message
