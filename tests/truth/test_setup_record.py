"""The setup file: written with comments, read back equal, and refused in words."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.errors import ArgumentError, DocumentError
from loopback.examination.setup_record import (
    SetupRecord,
    decode_setup,
    encode_setup,
    read_setup,
    write_setup,
)

FULL = SetupRecord(
    device='Kestrel "Two" é',
    driver="ASIO",
    rate_hz=96_000,
    check_output=2,
    check_input=2,
    level_dbfs=-18.0,
    ceiling_dbfs=-12.0,
    full_scale_dbu=10.404,
    resistor_ohm=99_600.0,
    resistor_tolerance=0.005,
    resistor_end="interface",
    node_farad=4.12e-10,
    input_ohm=1.02e6,
    floor_dbfs_a=-101.3,
    leak_db=-97.0,
    mains_hz=50.0,
    made="2026-11-25T12:00:00+01:00",
    recordings="setup-unplugged",
)
LEAST = SetupRecord(device="x", rate_hz=48_000, level_dbfs=-20.0, ceiling_dbfs=-12.0)


@pytest.mark.parametrize("record", [FULL, LEAST])
def test_reads_back_equal(record: SetupRecord) -> None:
    """What was written is TOML, and gives the very same record."""
    text = encode_setup(record)
    assert decode_setup(text) == record
    assert tomllib.loads(text)["rate_hz"] == record.rate_hz


def test_every_line_says_what_it_is() -> None:
    """A comment on each value, also on those that are not known."""
    for record in (FULL, LEAST):
        lines = [line for line in encode_setup(record).splitlines() if " =" in line]
        assert len(lines) == len(SetupRecord.__struct_fields__)
        assert all("  # " in line for line in lines)
        assert all(len(line) <= 100 for line in lines)


@given(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=40),
    st.floats(-80, 0),
    st.one_of(st.none(), st.floats(1e-13, 1e-6)),
)
def test_any_name_and_number_survive(name: str, level: float, node: float | None) -> None:
    """Quotes, controls, letters of any script, every bit of a number."""
    record = SetupRecord(
        device=name, rate_hz=48_000, level_dbfs=level, ceiling_dbfs=0.0, node_farad=node
    )
    assert decode_setup(encode_setup(record)) == record


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Nothing but a record or a clear error comes out."""
    with pytest.raises(DocumentError, match=r"^\"setup\.toml\" "):
        decode_setup(text)  # no random text has all the fields that are needed


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("rate_hz = 96k", "cannot be read"),
        ("level = -18", "unknown field `level`"),
        ("level_dbfs = -3.0", "above the ceiling"),
        ("input = 0", "sockets count from 1"),
        ("check_input = 2", "two ends"),
        ("resistor_ohm = -5", "resistor_ohm is -5"),
        ('resistor_end = "middle"', "resistor_end"),
        ('rate_hz = "fast"', "rate_hz"),
    ],
)
def test_what_cannot_be_is_said(change: str, words: str) -> None:
    """An edited line that makes no sense: what is wrong, and what to do."""
    name = change.split()[0]
    text = encode_setup(msgspec.structs.replace(LEAST, resistor_ohm=100e3))
    lines = [line for line in text.splitlines() if not line.startswith(f"{name} ")]
    with pytest.raises(DocumentError, match=r"setup\.toml") as caught:
        decode_setup("\n".join([*lines, change]))
    assert words in caught.value.found
    assert "loopback setup" in caught.value.action


def test_numbers_that_are_none_are_not_written() -> None:
    """Infinity is no level."""
    with pytest.raises(ArgumentError, match="leak_db is -inf"):
        encode_setup(msgspec.structs.replace(LEAST, leak_db=-math.inf))


def test_an_earlier_file_stays(tmp_path: Path) -> None:
    """Written again, the one before gets another name; twice, another again."""
    path = tmp_path / "setup.toml"
    assert write_setup(path, LEAST) is None
    first, second = write_setup(path, FULL), write_setup(path, LEAST)
    assert first is not None
    assert second is not None
    assert [read_setup(p) for p in (path, first, second)] == [LEAST, LEAST, FULL]
    with pytest.raises(DocumentError, match="cannot be read"):
        read_setup(tmp_path / "absent.toml")
