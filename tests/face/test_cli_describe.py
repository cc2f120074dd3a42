"""The verb that notes which unit it was: what it shows, changes, keeps private and leaves alone."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import msgspec
import pytest

from loopback.cli.describe import _OPTIONS
from loopback.errors import ArgumentError
from loopback.examination import writable
from loopback.examination.described import MOST_LETTERS, WORDS
from loopback.examination.folder import ExaminationFolder
from loopback.examination.lock import writer_lock
from loopback.examination.records import Pedal, Setup
from loopback.examination.unpack import unpack
from loopback.report.item_words import HEADINGS, not_noted
from tests.reference.command_line import here
from tests.reference.damaged_examinations import SIGNAL, sitting, store
from tests.reference.invented_analysis import analysis
from tests.reference.page_reader import Page

Capture = pytest.CaptureFixture[str]
SECRET = "belongs to a neighbour"


@pytest.fixture
def lamp(tmp_path: Path) -> Path:
    """An examination without runs of which nothing is noted but its name."""
    return ExaminationFolder.create(tmp_path / "lamp", Pedal("Lamp"), Setup("files"), SIGNAL).path


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three runs of which nothing is noted but the name."""
    return store(tmp_path_factory.mktemp("described"), sitting()).path


@pytest.fixture
def measured(original: Path, tmp_path: Path) -> Path:
    """A copy to be changed."""
    return Path(shutil.copytree(original, tmp_path / "lamp"))


def test_every_field_has_an_option_and_a_heading() -> None:
    """What the document holds, the command takes and the screens name are the same fields."""
    assert [name.replace("-", "_") for name, _ in _OPTIONS] == list(WORDS)
    assert set(HEADINGS) == {"name", *WORDS}
    assert {"name", *WORDS} == {*Pedal.__struct_fields__, "conditions"}


def test_empty_fields_are_shown_with_what_fills_them(lamp: Path, capsys: Capture) -> None:
    """Without options nothing is written; each field says its option, and one call is given."""
    before = (lamp / "examination.json").read_bytes()
    shown = here(["describe", str(lamp)], capsys)
    assert (shown.status, shown.err) == (0, "")
    assert shown.out.count("not noted") == len(WORDS)
    for name, _ in _OPTIONS:
        assert f"(--{name} TEXT)" in shown.out
    assert f'loopback describe {lamp} --maker "..." --serial "..."' in shown.out
    assert (lamp / "examination.json").read_bytes() == before


def test_several_fields_at_once_and_the_former_words_are_told(lamp: Path, capsys: Capture) -> None:
    """New words are stored together, what they replace is written out, an empty text clears."""
    options = [word for name, _ in _OPTIONS for word in (f"--{name}", f"the {name}")]
    assert here(["describe", str(lamp), *options], capsys).status == 0
    document = ExaminationFolder.open(lamp).document
    assert document.pedal.private_note == "the private-note"
    assert document.conditions == "the conditions"
    shown = here(["describe", str(lamp)], capsys)
    assert "not noted" not in shown.out
    changed = here(["describe", str(lamp), "--serial", " 0043 ", "--note", "  "], capsys)
    said = " ".join(changed.out.split())
    assert "Serial number 0043 before: the serial" in said
    assert "Note cleared before: the note" in said
    after = ExaminationFolder.open(lamp).document
    assert (after.pedal.serial, after.pedal.note) == ("0043", "")
    assert after.pedal.model == "the model"
    again = here(["describe", str(lamp), "--serial", "0043"], capsys)
    assert "Nothing was changed" in again.out


def test_while_another_writes_nothing_is_changed(
    lamp: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lock is respected: status 1, the reason, the document as it was; showing still works."""
    monkeypatch.setattr(writable, "writer_lock", lambda root: writer_lock(root, 0.0))
    before = (lamp / "examination.json").read_bytes()
    with writer_lock(lamp):
        refused = here(["describe", str(lamp), "--serial", "0042"], capsys)
        assert here(["describe", str(lamp)], capsys).status == 0
    assert refused.status == 1
    assert "Only one may write at a time" in refused.err
    assert (lamp / "examination.json").read_bytes() == before


def test_a_second_writer_loses_nothing(lamp: Path) -> None:
    """Two programs with the folder open: each reads it again before it writes."""
    one, two = ExaminationFolder.open(lamp), ExaminationFolder.open(lamp)
    one.describe({"serial": "0042"})
    two.describe({"conditions": "21 °C"})
    document = ExaminationFolder.open(lamp).document
    assert (document.pedal.serial, document.conditions) == ("0042", "21 °C")


def test_what_cannot_be_noted_is_refused_whole(lamp: Path) -> None:
    """An unknown field or a book is an error, and the good words beside it are not stored."""
    there = ExaminationFolder.open(lamp)
    with pytest.raises(ArgumentError, match='no field "name"'):
        there.describe({"serial": "0042", "name": "Other"})
    with pytest.raises(ArgumentError, match="4001 letters"):
        there.describe({"serial": "0042", "note": "x" * (MOST_LETTERS + 1)})
    assert ExaminationFolder.open(lamp).document.pedal.serial == ""


def test_no_folder_is_said(tmp_path: Path, capsys: Capture) -> None:
    """A folder that is no examination is named, and nothing is made there."""
    refused = here(["describe", str(tmp_path), "--serial", "1"], capsys)
    assert refused.status == 1
    assert "not the folder of a pedal" in refused.err
    assert list(tmp_path.iterdir()) == []


def test_report_says_what_is_missing_then_has_it(measured: Path, capsys: Capture) -> None:
    """Without serial and conditions the report points here; the next one has both on the page."""
    first = here(["report", str(measured), "--ticket"], capsys)
    assert (first.status, first.err) == (0, "")
    assert "Not noted: serial number and conditions." in first.out
    words = ["--serial", "0042", "--conditions", "21 °C, 45 % RH", "--private-note", SECRET]
    noted = here(["describe", str(measured), *words], capsys)
    assert f"loopback report {measured} --replace" in noted.out
    second = here(["report", str(measured)], capsys)
    assert "Not noted" not in second.out
    page = Page((measured / "report" / "report.html").read_text(encoding="utf-8"))
    assert "serial number 0042" in page.text
    assert "21 °C, 45 % RH" in page.text
    publications = json.loads((measured / "published.json").read_text())["publications"]
    assert [p["facts"]["pedal"]["serial"] for p in publications] == ["", "0042"]


def test_a_private_note_stays_private(measured: Path, tmp_path: Path, capsys: Capture) -> None:
    """Page, facts, publication and package do not hold it; no text of the package does."""
    here(["describe", str(measured), "--private-note", SECRET, "--serial", "0042"], capsys)
    facts = here(["show", str(measured), "--json"], capsys)
    assert "0042" in facts.out
    assert SECRET not in facts.out
    assert here(["report", str(measured), "--ticket"], capsys).status == 0
    pack = tmp_path / "lamp.zip"
    assert here(["pack", str(measured), str(pack)], capsys).status == 0
    received = tmp_path / "received"
    unpack(pack, received)
    assert ExaminationFolder.open(received).document.pedal.serial == "0042"
    files = [p for p in received.rglob("*") if p.is_file()]
    files += [measured / "published.json", *(measured / "report").iterdir()]
    assert len(files) > 8
    assert [path for path in files if SECRET.encode() in path.read_bytes()] == []


@pytest.mark.parametrize(("rig", "said"), [("files", True), ("device", True), ("simulator", False)])
def test_only_a_real_unit_is_asked_for(rig: str, said: bool) -> None:
    """A simulated pedal has no serial number and no room, so nobody is asked for them."""
    document = analysis(serial="").examination
    setup = msgspec.structs.replace(document.setup, rig=rig)
    document = msgspec.structs.replace(document, setup=setup, conditions="")
    assert bool(not_noted(document, "lamp")) is said
