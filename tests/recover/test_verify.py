"""A folder that was published from, then changed in every way: what `verify` finds."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec
import pytest

from loopback.analysis import analyse
from loopback.errors import ArgumentError, DocumentError
from loopback.examination.atomic import sha256_of
from loopback.examination.folder import ExaminationFolder
from loopback.proof.told import FOLLOWS, FOLLOWS_BUT, FOLLOWS_NOT, result_sentence
from loopback.proof.verify import Verification, verify
from loopback.report.hashes import sealed
from loopback.report.published import PUBLISHED, read_published, write_published
from loopback.report.published_records import Publication, Published
from loopback.rig.protocol import Recorded
from tests.reference.command_line import here
from tests.reference.damaged_examinations import REFERENCE, SIGNAL, sitting, store

Tree = dict[str, Any]


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three runs, analysed and published once."""
    folder = store(tmp_path_factory.mktemp("proof"), sitting())
    page = folder.path / "report" / "report.html"
    page.parent.mkdir()
    page.write_text("the page")
    write_published(analyse(folder.path), folder.path, pages=[page])
    return folder.path


@pytest.fixture
def folder(original: Path, tmp_path: Path) -> Path:
    """A copy to be changed."""
    return Path(shutil.copytree(original, tmp_path / "pedal"))


def publish_again(folder: Path, change: Callable[[Publication], Publication]) -> None:
    """Change the last publication and seal it again, as a forger or another program would."""
    kept = read_published(folder / PUBLISHED)
    *earlier, last = kept.publications
    forged = Published(version=1, publications=(*earlier, sealed(change(last))))
    (folder / PUBLISHED).write_bytes(msgspec.json.encode(forged))


def on_another_machine(publication: Publication, **more: Any) -> Publication:
    """The same, published on another kind of machine."""
    machine = msgspec.structs.replace(publication.machine, processor="another")
    return msgspec.structs.replace(publication, machine=machine, **more)


def with_capacitance(publication: Publication, shift_in_u: float) -> Publication:
    """The capacitance across the line, moved by so many of its standard uncertainties."""
    facts: Tree = json.loads(json.dumps(publication.facts))
    across = facts["result"]["across"]["c_farad"]
    for name in ("value", "low95", "high95"):
        across[name] += shift_in_u * across["u"]
    return msgspec.structs.replace(publication, facts=facts)


def codes(found: Verification) -> set[tuple[str, str]]:
    """Code and place of every problem."""
    return {(problem.code, problem.where) for problem in found.problems}


def paths(found: Verification) -> list[str]:
    """Where facts differ."""
    assert found.facts is not None
    return [difference.path for difference in found.facts.differences]


def test_untouched_folder_follows_bit_for_bit(original: Path) -> None:
    """Same program, same machine: every number and every curve is the same to the last bit."""
    found = verify(original)
    assert found.exact
    assert found.follows
    assert result_sentence(found) == FOLLOWS
    assert found.facts is not None
    assert found.curves is not None
    assert found.facts.leaves > 500
    assert found.curves.leaves >= 4
    assert (found.facts.within, found.curves.within, found.problems, found.notes) == (0, 0, (), ())


def test_changed_recording_is_named(folder: Path) -> None:
    """One bit of the last sample of a recording is enough, even where no number moves."""
    path = folder / "recordings" / "03-2.wav"
    data = bytearray(path.read_bytes())
    data[-1] ^= 1
    path.write_bytes(data)
    found = verify(folder)
    assert codes(found) == {("recording_changed", "recordings/03-2.wav")}
    assert not found.follows
    assert result_sentence(found) in (FOLLOWS_BUT, FOLLOWS_NOT)


def test_missing_recording_is_named_and_its_numbers_are_gone(folder: Path) -> None:
    """Without its takes a run has no level any more; nothing of this machine is written out."""
    for take in ("03-1", "03-2"):
        (folder / "recordings" / f"{take}.wav").unlink()
    found = verify(folder)
    assert codes(found) == {
        ("recording_missing", "recordings/03-1.wav"),
        ("recording_missing", "recordings/03-2.wav"),
    }
    assert "$.pedal_runs[03].level_db" in paths(found)
    assert result_sentence(found) == FOLLOWS_NOT
    assert str(folder) not in repr(found.facts)


def test_exchanged_recording_is_found_though_the_document_was_mended(folder: Path) -> None:
    """Another recording in its place, its hash in the document: it is not what was published."""
    shutil.copy(folder / "recordings" / "02-1.wav", folder / "recordings" / "03-1.wav")
    document = (folder / "examination.json").read_text()
    for recording in ExaminationFolder.open(folder).document.run("03").recordings[:1]:
        document = document.replace(
            recording.sha256, sha256_of(folder / "recordings" / "02-1.wav"), 1
        )
    (folder / "examination.json").write_text(document)
    found = verify(folder)
    assert {code for code, _ in codes(found)} == {"recording_replaced", "document_changed"}
    assert result_sentence(found) == FOLLOWS_NOT


def test_changed_document_moves_the_numbers(folder: Path) -> None:
    """Another resistor in the document: it is said, and both values of what it moves are listed."""
    path = folder / "examination.json"
    text = path.read_text().replace('"resistor_ohm": 100000.0', '"resistor_ohm": 90000.0')
    path.write_text(text)
    found = verify(folder)
    assert codes(found) == {("document_changed", "examination.json")}
    assert "$.result.across.c_farad" in paths(found)
    assert result_sentence(found) == FOLLOWS_NOT


def test_private_note_is_not_what_was_published(folder: Path) -> None:
    """A private note that was added or taken out changes nothing."""
    path = folder / "examination.json"
    text = path.read_text().replace('"private_note": ""', '"private_note": "from a friend"')
    assert "from a friend" in text
    path.write_text(text)
    assert verify(folder).follows


def test_words_changed_since_are_words_and_no_tampering(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Serial and conditions noted later: every number follows, and the words are listed apart."""
    ExaminationFolder.open(folder).describe(
        {"serial": "0042", "conditions": "21 °C", "private_note": "of a friend"}
    )
    found = verify(folder)
    assert found.follows
    assert [(w.name, w.before, w.after) for w in found.reworded] == [
        ("serial", "", "0042"),
        ("conditions", "", "21 °C"),
    ]
    screen = here(["verify", str(folder)], capsys)
    assert screen.status == 0
    assert 'Serial number: published nothing, now "0042"' in screen.out
    assert "friend" not in screen.out
    told = json.loads(here(["verify", str(folder), "--json"], capsys).out)
    assert [w["field"] for w in told["words_changed"]] == ["serial", "conditions"]
    page = folder / "report" / "report.html"
    write_published(analyse(folder), folder, pages=[page])
    assert verify(folder).reworded == ()
    assert [w.before for w in verify(folder, 1).reworded] == ["", ""]
    assert verify(folder, 1).follows


def test_forged_words_break_the_seal_and_the_document(folder: Path) -> None:
    """Another serial number in the publication itself: seal broken; sealed anew, hash of none."""

    def forged(publication: Publication) -> Publication:
        facts: Tree = json.loads(json.dumps(publication.facts))
        facts["pedal"]["serial"] = "9999"
        return msgspec.structs.replace(publication, facts=facts)

    kept = read_published(folder / PUBLISHED)
    (folder / PUBLISHED).write_bytes(
        msgspec.json.encode(Published(1, (forged(kept.publications[0]),)))
    )
    assert ("seal_broken", f"{PUBLISHED}, publication 1") in codes(verify(folder))
    publish_again(folder, forged)
    assert codes(verify(folder)) == {("document_changed", "examination.json")}


def test_changed_published_number_breaks_the_seal(folder: Path) -> None:
    """A number changed by hand: the seal does not fit, and published and true value are told."""
    kept = read_published(folder / PUBLISHED)
    changed = with_capacitance(kept.publications[0], -3.0)
    (folder / PUBLISHED).write_bytes(msgspec.json.encode(Published(1, (changed,))))
    found = verify(folder)
    assert codes(found) == {("seal_broken", f"{PUBLISHED}, publication 1")}
    assert found.facts is not None
    (difference,) = found.facts.differences
    assert difference.path == "$.result.across.c_farad"
    assert difference.published == changed.facts["result"]["across"]["c_farad"]
    assert difference.found == kept.publications[0].facts["result"]["across"]["c_farad"]


def test_sealed_anew_a_wrong_number_is_still_wrong(folder: Path) -> None:
    """Whoever seals a wrong number again is found by the recordings."""
    publish_again(folder, lambda p: with_capacitance(p, 1e-9))
    found = verify(folder)
    assert found.problems == ()
    assert paths(found) == ["$.result.across.c_farad"]
    assert result_sentence(found) == FOLLOWS_NOT


@pytest.mark.parametrize(("shift", "follows"), [(0.0, True), (0.009, True), (0.02, False)])
def test_another_machine_has_a_hundredth_of_the_uncertainty(
    folder: Path, shift: float, follows: bool
) -> None:
    """On another kind of machine a value may move by 1 % of its standard uncertainty, no more."""
    publish_again(folder, lambda p: on_another_machine(with_capacitance(p, shift)))
    found = verify(folder)
    assert not found.exact
    assert found.follows is follows
    assert found.facts is not None
    assert found.facts.within == (1 if follows and shift else 0)
    assert paths(found) == ([] if follows else ["$.result.across.c_farad"])


def test_words_are_compared_exactly_on_every_machine(folder: Path) -> None:
    """A class is no number: another one is a difference on any machine."""

    def reclassed(publication: Publication) -> Publication:
        facts: Tree = json.loads(json.dumps(publication.facts))
        facts["result"]["path"] = "wired"
        return on_another_machine(msgspec.structs.replace(publication, facts=facts))

    publish_again(folder, reclassed)
    assert paths(verify(folder)) == ["$.result.path"]


def test_curve_of_another_machine_is_held_to_its_points(folder: Path) -> None:
    """Other bytes and the same points follow; a point 0.1 dB off is named with its column."""

    def moved(by_db: float) -> Callable[[Publication], Publication]:
        def change(publication: Publication) -> Publication:
            curve, *rest = publication.curves
            column = curve.sketch["level (dB)"]
            sketch = curve.sketch | {"level (dB)": tuple((v or 0.0) + by_db for v in column)}
            other = msgspec.structs.replace(curve, sha256="0" * 64, sketch=sketch)
            return on_another_machine(publication, curves=(other, *rest))

        return change

    publish_again(folder, moved(0.0))
    found = verify(folder)
    assert found.follows
    assert found.curves is not None
    assert found.curves.within == 1
    publish_again(folder, moved(0.1))
    found = verify(folder)
    assert found.curves is not None
    assert [d.path for d in found.curves.differences] == ["curve insertion-02, level (dB)"]


def test_another_program_may_reword_and_add(folder: Path) -> None:
    """Sentences worded otherwise and facts not known then count for nothing; numbers still do."""

    def older(publication: Publication) -> Publication:
        facts: Tree = json.loads(json.dumps(publication.facts))
        facts["result"]["sentences"] = ["It was worded otherwise."]
        del facts["bleed"]
        return msgspec.structs.replace(publication, facts=facts, code="0" * 64, program="0.0.9")

    publish_again(folder, older)
    found = verify(folder)
    assert found.follows
    publish_again(folder, lambda p: with_capacitance(p, 1.0))
    assert not verify(folder).follows


def test_what_was_added_since_is_told_and_changes_nothing(folder: Path) -> None:
    """More recordings, and a file that no run lists: the published numbers still follow."""
    there = ExaminationFolder.open(folder)
    run_id = there.append_run(REFERENCE)
    there.append_recording(run_id, Recorded("sweep", SIGNAL.rate_hz, sitting().takes[0][0]))
    shutil.copy(folder / "recordings" / "01-1.wav", folder / "recordings" / "77-1.wav")
    found = verify(folder)
    assert found.follows
    assert {(note.code, note.where) for note in found.notes} == {
        ("added_recording", "recordings/04-1.wav"),
        ("extra_file", "recordings/77-1.wav"),
    }


def test_pages_are_held_to_their_hash(folder: Path) -> None:
    """A page that was edited is named; one that is gone is told and takes nothing away."""
    (folder / "report" / "report.html").write_text("another page")
    assert codes(verify(folder)) == {("page_changed", "report/report.html")}
    (folder / "report" / "report.html").unlink()
    found = verify(folder)
    assert found.follows
    assert [note.code for note in found.notes] == ["page_missing"]


def test_a_record_of_the_setup_that_was_not_there(folder: Path) -> None:
    """What the analysis would learn from must be what it learned from then."""
    (folder / "setup-references.json").write_text('{"version": 1, "sittings": []}')
    assert codes(verify(folder)) == {("input_added", "setup-references.json")}


def test_a_publication_taken_out_is_noticed(folder: Path) -> None:
    """Publications follow one another; any of them can be verified, and none goes unnoticed."""
    analysis = analyse(folder)
    for number in (1, 2):
        page = folder / f"page-{number}.html"
        page.write_text(f"page {number}")
        write_published(analysis, folder, pages=[page])
    kept = read_published(folder / PUBLISHED)
    assert [verify(folder, n).number for n in (1, 3)] == [1, 3]
    assert verify(folder, 2).follows
    first, _, last = kept.publications
    (folder / PUBLISHED).write_bytes(msgspec.json.encode(Published(1, (first, last))))
    assert codes(verify(folder)) == {("order_broken", f"{PUBLISHED}, publication 2")}
    with pytest.raises(ArgumentError, match="no publication 3"):
        verify(folder, 3)


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ('"version":1,"publications"', '"version":2,"publications"', "newer one wrote it"),
        ('"format":"loopback-published"', '"format":"something"', "something else"),
        ('"version":1,"program"', '"version":9,"program"', "facts up to version"),
        ('"publications":[', '"publications":[{},', "changed or damaged"),
    ],
)
def test_what_cannot_be_compared_says_so(folder: Path, old: str, new: str, complaint: str) -> None:
    """A newer, foreign or damaged file is an error with its reason, never a comparison."""
    text = msgspec.json.encode(read_published(folder / PUBLISHED)).decode()
    assert old in text
    (folder / PUBLISHED).write_text(text.replace(old, new, 1))
    with pytest.raises(DocumentError, match=complaint):
        verify(folder)


@pytest.mark.parametrize("name", ["../../secret", "/etc/hostname"])
def test_a_page_outside_is_never_read(folder: Path, name: str) -> None:
    """A file named by a forged publication that lies outside the folder is refused."""

    def forged(publication: Publication) -> Publication:
        page = msgspec.structs.replace(publication.pages[0], file=name)
        return msgspec.structs.replace(publication, pages=(page,))

    publish_again(folder, forged)
    with pytest.raises(DocumentError, match="not in this folder"):
        verify(folder)


def test_exit_status_and_screen(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0 and a plain sentence; 4 with both values and what to do; --json says the same."""
    good = here(["verify", str(folder)], capsys)
    assert (good.status, good.err) == (0, "")
    assert FOLLOWS in good.out
    publish_again(folder, lambda p: with_capacitance(p, 2.0))
    bad = here(["verify", str(folder), "--plain"], capsys)
    assert (bad.status, bad.err) == (4, "")
    said = " ".join(bad.out.split())
    assert FOLLOWS_NOT in said
    assert "! result.across.c_farad: published" in said
    assert "Next" in bad.out
    assert bad.out.isascii()
    machine = here(["verify", str(folder), "--json"], capsys)
    assert machine.status == 4
    told = json.loads(machine.out)
    assert (told["follows"], told["comparison"], len(told["differences"])) == (False, "exact", 1)


def test_nothing_published(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing to compare is status 1; a changed recording is 4 all the same."""
    (folder / PUBLISHED).unlink()
    nothing = here(["verify", str(folder)], capsys)
    assert nothing.status == 1
    assert "Nothing has been published" in nothing.out
    assert "loopback report" in nothing.out
    (folder / "recordings" / "02-1.wav").unlink()
    changed = here(["verify", str(folder)], capsys)
    assert changed.status == 4
    assert "recordings/02-1.wav is missing" in changed.out


@lru_cache
def _proof_sources() -> dict[str, str]:
    package = Path(__file__).parent.parent.parent / "loopback" / "proof"
    return {path.name: path.read_text(encoding="utf-8") for path in package.glob("*.py")}


def test_no_stored_result_is_read() -> None:
    """Nothing that recomputes knows of kept results; everything begins at the recordings."""
    assert "verify.py" in _proof_sources()
    assert not [name for name, text in _proof_sources().items() if "loopback.cache" in text]
