"""Documents of version 1 stay readable, and are still written letter by letter the same."""

from __future__ import annotations

from pathlib import Path

from loopback.examination.document import decode_examination, encode_examination
from loopback.examination.records import Pedal
from loopback.plan.runs import RunLabel
from loopback.signal.sheet import decode_sheet, encode_sheet, sheet_of
from loopback.signal.take import plan_signal

FOLDER = Path(__file__).parent.parent.parent / "fixtures" / "documents"


def test_an_examination_of_version_1() -> None:
    """Pinned: the document with every field filled, as first published."""
    data = (FOLDER / "examination-1.json").read_bytes()
    examination = decode_examination(data, "examination-1.json")
    assert examination.pedal == Pedal("Quarry Lamp", private_note="mine")
    assert examination.runs[0].label == RunLabel(
        "pedal", "resistor", "on", "a", "lit", 1e5, 0.01, load="plug", load_ohm=1e3
    )
    assert examination.runs[0].recordings[0].flags == ("overflow",)
    assert examination.runs[1].repeats == "01"
    assert encode_examination(examination) == data


def test_a_signal_of_version_1() -> None:
    """Pinned: the ordinary signal at 96 kHz; its length shows that the layout is still the same."""
    data = (FOLDER / "signal-1.json").read_bytes()
    sheet = decode_sheet(data, "signal-1.json")
    assert sheet == sheet_of(plan_signal(96_000, 4.0))
    assert encode_sheet(sheet) == data
