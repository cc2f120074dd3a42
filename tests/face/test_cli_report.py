"""The verb that writes the page: where it goes, what is not overwritten, what is kept as proof."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from loopback.examination.records import Pedal
from loopback.guided.simulated_sitting import SimulatedSitting
from loopback.report.page_measured import PLACES
from loopback.report.pictures import PICTURES
from tests.reference.command_line import Called, here, in_process
from tests.reference.page_reader import Page

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One pedal with a private note, pressed and tapped as well."""
    place = tmp_path_factory.mktemp("Werkstatt é")
    pedal = Pedal("Quarry Lamp", serial="0042", private_note="belongs to a neighbour")
    SimulatedSitting("quarry-lamp", "quick").play_into(place / "lamp", pedal)
    for call in (
        ["press", "lamp", "--presses", "8", "--tone-presses", "4", "--rest", "5"],
        ["tap", "lamp", "--seconds", "5"],
    ):
        done = in_process([*call, "--simulate", "harbour-bell", "--yes"], place)
        assert (done.status, done.err) == (0, "")
    return place


@pytest.fixture(scope="module")
def reported(measured: Path) -> Called:
    """The report of that pedal, as a user asks for it."""
    return in_process(["report", "lamp"], measured)


def test_page_and_pictures_are_written_and_named(measured: Path, reported: Called) -> None:
    """The page first, then each picture as PNG and SVG; nothing else lies in that folder."""
    assert (reported.status, reported.err) == (0, "")
    names = [Path(line).name for line in reported.out.splitlines()]
    assert names[0] == "report.html"
    assert set(names[1:]) == {f"{name}.{kind}" for name in PICTURES for kind in ("png", "svg")}
    folder = measured / "lamp" / "report"
    assert sorted(names) == sorted(path.name for path in folder.iterdir())
    assert "neighbour" not in (folder / "report.html").read_text(encoding="utf-8")
    assert "serial number 0042" in Page((folder / "report.html").read_text(encoding="utf-8")).text


def test_every_picture_has_a_place() -> None:
    """No picture that is drawn is left out of the page."""
    assert sorted(name for names in PLACES.values() for name in names) == sorted(PICTURES)


def test_footswitch_and_taps_are_reported(measured: Path, reported: Called) -> None:
    """Sentence, table and cause of the presses, and what tapping showed, as on their screens."""
    assert reported.status == 0
    page = Page((measured / "lamp" / "report" / "report.html").read_text(encoding="utf-8"))
    text = page.section("footswitch").text
    assert "Effect on: 4 of 4 pop" in text
    assert "Consistent with a capacitor that leaks" in text
    assert "Tapped: result" in text
    assert "5 s watched" not in text
    lines = page.table("Median")
    assert lines[0] == ["Figure", "effect on", "effect off"]
    assert [line[0] for line in lines[1:3]] == ["Peak", "A-weighted"]
    assert all(" V" in cell or " mV" in cell for cell in lines[1][1:])
    assert page.section("picture-presses").parents[-1] == "section"
    assert page.faults == []
    hashes = [line[1] for line in page.table("Every file")[1:]]
    assert hashes.count("presses") == 2
    assert hashes.count("taps") == 1


def test_what_was_published_is_kept(measured: Path, reported: Called) -> None:
    """The hash of the page stands in published.json, and nothing private does."""
    assert reported.status == 0
    text = (measured / "lamp" / "published.json").read_text(encoding="utf-8")
    page = (measured / "lamp" / "report" / "report.html").read_bytes()
    assert hashlib.sha256(page).hexdigest() in text
    assert "neighbour" not in text
    assert json.loads(text)["publications"][0]["private"] is False


def test_report_is_not_overwritten_unless_asked(
    measured: Path, reported: Called, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """A second time is refused with what to do; --replace does it; another folder is free."""
    assert reported.status == 0
    monkeypatch.chdir(measured)
    page = measured / "lamp" / "report" / "report.html"
    page.write_text("mine", encoding="utf-8")
    refused = here(["report", "lamp"], capsys)
    assert refused.status == 1
    assert "exists already" in refused.err
    assert "--replace" in refused.err
    assert page.read_text(encoding="utf-8") == "mine"
    assert here(["report", "lamp", "--replace", "--quiet"], capsys).status == 0
    assert Page(page.read_text(encoding="utf-8")).faults == []
    other = here(["report", "lamp", "--into", "publish", "--ticket"], capsys)
    assert (other.status, other.out.strip()) == (0, str(Path("publish") / "ticket.html"))


def test_private_page_has_a_name_of_its_own(
    measured: Path,
    reported: Called,
    monkeypatch: pytest.MonkeyPatch,
    capsys: Capture,
    tmp_path: Path,
) -> None:
    """It holds the note, says so on the page and on the screen, and is kept as private."""
    assert reported.status == 0
    shutil.copytree(measured / "lamp", tmp_path / "lamp")
    monkeypatch.chdir(tmp_path)
    ended = here(["report", "lamp", "--private", "--ticket"], capsys)
    assert ended.status == 0
    assert "not for publication" in ended.out
    page = Page((tmp_path / "lamp/report/ticket-private.html").read_text(encoding="utf-8"))
    assert "belongs to a neighbour" in page.text
    assert "not for publication" in page.text
    kept = json.loads((tmp_path / "lamp" / "published.json").read_text(encoding="utf-8"))
    assert kept["publications"][-1]["private"] is True


def test_folder_without_examination_is_refused(tmp_path: Path, capsys: Capture) -> None:
    """Nothing is made where there is nothing to report."""
    ended = here(["report", str(tmp_path / "none")], capsys)
    assert ended.status == 1
    assert "examination" in ended.err
    assert not (tmp_path / "none").exists()
