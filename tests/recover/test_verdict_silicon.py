"""Loud and soft take part in the verdict: wiring that bends is not called wired."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from loopback.analysis import analyse
from loopback.examination.document import decode_examination, encode_examination
from loopback.verdict.expected import compare_expected
from loopback.verdict.sentences import evidence_lines, not_tested_line, result_sentences
from tests.reference.fault_table import examine, sheet_of

PEDAL = """.title Bender
.about Boost with something on the line.
.family wiring fault
.footswitch mechanical-latching
.bypass bypass
.common
Cci IN 0 6p
Cco OUT 0 6p
.state bypass
Rsw IN OUT 0.05
{powered}
.state engaged
Cin IN a 100n
Rin a 0 1M
E1 e 0 a 0 4.5
Re e f 220
Cf f OUT 4.7u
Rvol OUT 0 100k
.softclip 3.5
.state unpowered
Rsw IN OUT 0.05
{unpowered}
.state dead
Cin IN a 100n
Rin a 0 1M
Cx a OUT 2p
Rvol OUT 0 100k
.table
on a bypass
on b engaged
off a unpowered
off b dead
"""


def written(place: Path, powered: str, unpowered: str) -> str:
    """A pedal file with one more line for power on and off."""
    path = place / "bender.cir"
    path.write_text(PEDAL.format(powered=powered, unpowered=unpowered), encoding="utf-8")
    return str(path)


def test_wire_that_bends_with_and_without_power_is_silicon_or_a_joint(tmp_path: Path) -> None:
    """Third harmonic 40 dB over the setup's in both states: not wired, and no more than that."""
    analysis = examine(tmp_path, written(tmp_path, ".bend third 72", ".bend third 72"))
    result = analysis.result
    assert (result.path, result.alternatives[:2]) == ("undecided", ("loaded", "faulty"))
    assert "wired" in result.excluded
    assert result.reasons[0].code in ("harmonics_raised", "level_dependent")
    assert "second_level" in result.would_tell
    assert "loud and soft do not pass alike" in result_sentences(result)[0]
    assert any("harmonic stands" in line for line in evidence_lines(result))
    sheet = sheet_of("wire")
    assert sheet is not None
    assert compare_expected(sheet, result)[0].outcome == "not met"


def test_what_bends_only_without_power_is_a_load(tmp_path: Path) -> None:
    """Diodes into a supply that is off: silicon on the line, whatever its R and C are."""
    result = examine(tmp_path, written(tmp_path, "", ".bend third 60")).result
    assert (result.path, result.alternatives) == ("loaded", ())
    assert result.reasons[0].code == "bends_unpowered"
    assert "silicon hangs on the line" in result_sentences(result)[0]
    allowed = sheet_of("1M")
    assert allowed is not None
    lines = compare_expected(replace(allowed, pulldown=None), result)
    assert lines[0].outcome == "not met"  # a pulldown is allowed, silicon is not


def test_a_whine_is_no_silicon(tmp_path: Path) -> None:
    """Tones within the gates of the harmonics are noise to them."""
    result = examine(tmp_path, "kit-whine").result
    assert result.path == "wired"
    codes = [reason.code for reason in result.reasons]
    assert "adds_tones" in codes
    assert "harmonics_raised" not in codes


@pytest.mark.parametrize("pressed", [True, False])
def test_what_was_pressed_is_tested(tmp_path: Path, pressed: bool) -> None:
    """After `press` its noise is a reason and no longer untested; ohms by the clock say so."""
    result = examine(tmp_path, "harbour-bell", watch="presses" if pressed else "").result
    codes = [reason.code for reason in result.reasons]
    assert ("pops" in codes) is pressed
    assert ("footswitch_noise" in result.not_tested) is not pressed
    assert result.path == "wired"
    line = not_tested_line(result)
    assert line.startswith("Delay by whole samples")
    assert ("footswitch noise" in line) is not pressed


def test_no_latency_where_nobody_knows_when_a_take_began(tmp_path: Path) -> None:
    """The same recordings, said to come from elsewhere, have none, and it is said why."""
    with_rig = examine(tmp_path, "harbour-bell")
    mine = [facts.behaviour for facts in with_rig.pedal_runs if facts.behaviour is not None]
    assert any(b.latency is not None for b in mine)
    assert all((b.latency is None) == (b.no_latency is not None) for b in mine)
    path = tmp_path / "harbour-bell" / "examination.json"
    document = decode_examination(path.read_bytes(), path.name)
    runs = tuple(
        msgspec.structs.replace(
            run,
            recordings=tuple(
                msgspec.structs.replace(r, expected_start=None, origin=f"{r.kind}.wav")
                for r in run.recordings
            ),
        )
        for run in document.runs
    )
    path.write_bytes(encode_examination(msgspec.structs.replace(document, runs=runs)))
    elsewhere = analyse(tmp_path / "harbour-bell")
    assert elsewhere.result.path == with_rig.result.path
    for facts in elsewhere.pedal_runs:
        assert facts.behaviour is not None
        assert facts.behaviour.latency is None
        assert facts.behaviour.no_latency in ("recorded_elsewhere", "does_not_pass", "moves")
    assert any(
        f.behaviour is not None and f.behaviour.no_latency == "recorded_elsewhere"
        for f in elsewhere.pedal_runs
    )
