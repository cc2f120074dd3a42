"""Which signal a recording made elsewhere belongs to."""

from __future__ import annotations

from pathlib import Path

import pytest

from loopback.errors import ArgumentError, DocumentError
from loopback.examination.played_signal import find_signal
from loopback.examination.signal_file import write_signal_file
from loopback.signal.take import plan_signal

SIGNAL = plan_signal(48_000, 1.0)


def test_the_signal_is_found_beside_the_recording_or_here(tmp_path: Path) -> None:
    """One document in either place will do; other documents are passed over."""
    for name in ("here", "elsewhere"):
        (tmp_path / name).mkdir()
    (tmp_path / "here" / "other.json").write_text('{"format": "something"}', encoding="utf-8")
    with pytest.raises(ArgumentError, match="No document of a signal was found in") as caught:
        find_signal([tmp_path / "here", tmp_path / "elsewhere", tmp_path / "here"])
    assert caught.value.found.count(str(tmp_path / "here")) == 1
    write_signal_file(tmp_path / "elsewhere" / "sweep.wav", SIGNAL)
    assert find_signal([tmp_path / "here", tmp_path / "elsewhere"]) == SIGNAL
    write_signal_file(tmp_path / "here" / "same.wav", SIGNAL)
    assert find_signal([tmp_path / "here", tmp_path / "elsewhere"]) == SIGNAL


def test_two_different_signals_are_not_guessed_between(tmp_path: Path) -> None:
    """Both are named."""
    write_signal_file(tmp_path / "a.wav", SIGNAL)
    write_signal_file(tmp_path / "b.wav", plan_signal(48_000, 2.0))
    with pytest.raises(ArgumentError, match=r"2 different signals.*a\.json.*b\.json"):
        find_signal([tmp_path])


def test_a_damaged_signal_document_is_not_passed_over(tmp_path: Path) -> None:
    """Something that calls itself one and is broken may be the one that was played."""
    write_signal_file(tmp_path / "a.wav", SIGNAL)
    text = (tmp_path / "a.json").read_text(encoding="utf-8")
    (tmp_path / "a.json").write_text(text.replace("48000", "x"), encoding="utf-8")
    with pytest.raises(DocumentError, match=r"a\.json"):
        find_signal([tmp_path])
