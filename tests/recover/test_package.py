"""Packages: whole round trips, and every way in which one that was sent can be wrong."""

from __future__ import annotations

import hashlib
import json
import shutil
import unicodedata
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from loopback.errors import DocumentError, FolderError, PackageError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.pack import pack
from loopback.examination.package import MANIFEST, clashes, name_problem
from loopback.examination.records import Pedal, Setup
from loopback.examination.unpack import unpack
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded
from loopback.signal.take import plan_signal
from tests.reference.command_line import here

SIGNAL = plan_signal(48_000, 1.0)
NOTE = "bought from a friend"


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small examination: two recordings, a page, a private note, and what is not packed."""
    path = tmp_path_factory.mktemp("packed") / "quarry lamp"
    pedal = Pedal("Quarry Lamp", note="öffentlich", private_note=NOTE)
    folder = ExaminationFolder.create(path, pedal, Setup("files"), SIGNAL)
    rng = np.random.default_rng(1)
    for label in (RunLabel("coupler", "plain"), RunLabel("pedal", "plain", "on", "a")):
        samples = 0.1 * rng.standard_normal((600, 1))
        folder.append_recording(folder.append_run(label), Recorded("sweep", 48_000, samples))
    (path / "signal.wav").unlink()  # large, and a package is whole without it
    (path / "report").mkdir()
    (path / "report" / "report.html").write_text("<p>page</p>")
    (path / "plots").mkdir()
    (path / "plots" / "noise.png").write_bytes(b"picture")
    return path


@pytest.fixture(scope="module")
def package(original: Path) -> Path:
    """The same as one file."""
    return pack(original, original.parent / "lamp.zip", more=["report/report.html"]).path


def contents(folder: Path) -> dict[str, bytes]:
    """Bytes of every file by its path, hidden ones too."""
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def refused(package: Path, place: Path, match: str = "ackage|lists") -> None:
    """Assert that unpacking is refused by an error of the tree and leaves nothing anywhere."""
    before = contents(place)
    with pytest.raises((PackageError, DocumentError), match=match):
        unpack(package, place / "inner" / "out")
    assert contents(place) == before
    assert list((place / "inner").iterdir()) == []


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A folder in a folder: whatever escapes by one level is seen."""
    (tmp_path / "inner").mkdir()
    return tmp_path


def test_round_trip_keeps_every_byte(original: Path, package: Path, place: Path) -> None:
    """Recordings and page come back as they were; what can be made again was left out."""
    done = unpack(package, place / "out")
    found, was = contents(place / "out"), contents(original)
    assert set(was) - set(found) == {"plots/noise.png", ".writer.lock"}
    assert set(found) <= set(was)
    assert {n for n in found if found[n] != was[n]} == {"examination.json"}
    assert (done.files, done.recordings, done.private) == (5, 2, False)
    assert zipfile.ZipFile(package).testzip() is None


def test_private_note_stays_out_unless_asked_for(original: Path, place: Path) -> None:
    """By default no byte of it is in the package; with `private` the document is as it was."""
    for private in (False, True):
        target = place / f"{private}.zip"
        pack(original, target, private=private)
        with zipfile.ZipFile(target) as archive:
            data = b"".join(archive.read(name) for name in archive.namelist())
        assert (NOTE.encode() in data) is private
        assert unpack(target, place / str(private)).private is private
    was = contents(original)["examination.json"]
    assert contents(place / "True")["examination.json"] == was
    document = json.loads(was)
    document["pedal"]["private_note"] = ""
    assert json.loads(contents(place / "False")["examination.json"]) == document


def test_same_contents_same_bytes(package: Path, place: Path) -> None:
    """Unpacked elsewhere under another name and packed again, it is the same file."""
    unpack(package, place / "elsewhere")
    pack(place / "elsewhere", place / "again.zip", more=["report/report.html"])
    assert (place / "again.zip").read_bytes() == package.read_bytes()
    opened = zipfile.ZipFile(package)
    assert {entry.date_time for entry in opened.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert {name.split("/")[0] for name in opened.namelist()} == {"quarry-lamp"}


def test_nothing_is_overwritten(original: Path, package: Path, place: Path) -> None:
    """An existing file, folder, empty folder or dangling link is left as it is."""
    (place / "taken.zip").write_text("mine")
    with pytest.raises(FolderError, match="exists already"):
        pack(original, place / "taken.zip")
    (place / "dangling").symlink_to(place / "nowhere")
    for name in ("taken.zip", "inner", "dangling"):
        with pytest.raises(FolderError, match="exists already"):
            unpack(package, place / name)
    with pytest.raises(FolderError, match="cannot be made"):
        unpack(package, place / "no" / "such" / "place")
    assert contents(place) == {"taken.zip": b"mine"}


def test_only_what_was_recorded_is_packed(original: Path, place: Path) -> None:
    """A changed or missing recording, and a link, stop the packing; no half package is left."""
    folder = Path(shutil.copytree(original, place / "lamp"))
    (folder / "expectation.toml").symlink_to(original / "examination.json")
    with pytest.raises(PackageError, match="is a link"):
        pack(folder, place / "x.zip")
    (folder / "expectation.toml").unlink()
    pack(folder, place / "whole.zip", more=["../lamp/examination.json", "/etc/hostname", "gone"])
    with (folder / "recordings" / "01-1.wav").open("ab") as file:
        file.write(b"\0")
    with pytest.raises(FolderError, match="missing or changed"):
        pack(folder, place / "x.zip")
    assert not (place / "x.zip").exists()
    assert not [n for n in zipfile.ZipFile(place / "whole.zip").namelist() if "host" in n]


# ---- a package that was made by somebody who means harm


Files = dict[str, bytes]


def built(place: Path, change: Callable[[Files, dict[str, Any]], None], package: Path) -> Path:
    """A package in which names, contents and the list were changed; sizes and hashes fit again."""
    with zipfile.ZipFile(package) as archive:
        files = {n.partition("/")[2]: archive.read(n) for n in archive.namelist()}
    manifest = json.loads(files.pop(MANIFEST))
    extra: dict[str, Any] = {"manifest": manifest, "raw": []}
    change(files, extra)
    manifest["files"] = extra.get("files") or [
        {"file": name, "size": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        for name, data in files.items()
    ]
    target = place / "harm.zip"
    with warnings.catch_warnings(), zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        warnings.simplefilter("ignore")  # names that are there twice
        archive.writestr(f"x/{MANIFEST}", json.dumps(manifest))
        for name, data in files.items():
            archive.writestr(f"x/{name}", data)
        for entry, data in extra["raw"]:
            archive.writestr(entry, data)
    return target


ESCAPES = (
    "../out.txt", "a/../../out.txt", "/etc/out.txt", "//host/share", "C:/out.txt", "C:out.txt",
    "..\\out.txt", "a\\..\\..\\out.txt", "\\\\host\\share", "./out.txt", "a//out.txt", "a/./out",
    "NUL", "con.txt", "recordings/COM1.wav", "lpt9", "a/aux/b", "name.", "name ", "a. /b", "-x",
    ".hidden", "ﬁle.txt", "cafe\u0301.txt", "caf\u00e9.txt", "x\u202etxt.exe", "x\x00y", "x\ny",
    "a:stream", "a*b", "~/out", "~root", "$HOME", "%TEMP%", "a" * 101, "a/b/c/d/e", "", "x/",
)  # fmt: skip


@pytest.mark.parametrize("name", ESCAPES)
def test_no_name_escapes(package: Path, place: Path, name: str) -> None:
    """Each of these names is refused before anything is written, wherever it would lead."""

    def add(files: Files, _: dict[str, Any]) -> None:
        files[name] = b"harm"

    assert name_problem(name)
    refused(built(place, add, package), place)


@pytest.mark.parametrize(
    ("first", "second"),
    [("Page.html", "page.HTML"), ("recordings/01-1.WAV", ""), ("signal.json/x.txt", "")],
)
def test_names_that_clash_are_refused(package: Path, place: Path, first: str, second: str) -> None:
    """Names that differ in capitals only, and a file that is a folder too."""

    def add(files: Files, _: dict[str, Any]) -> None:
        files |= {name: b"x" for name in (first, second) if name}

    refused(built(place, add, package), place, "twice")


def _link(files: Files, extra: dict[str, Any]) -> None:
    entry = zipfile.ZipInfo("x/signal.json")
    entry.create_system, entry.external_attr = 3, 0o120777 << 16
    extra["files"] = _listed(files)
    extra["raw"].append((entry, files.pop("signal.json")))


def _listed(files: Files) -> list[dict[str, Any]]:
    return [
        {"file": name, "size": len(data), "sha256": hashlib.sha256(data).hexdigest()}
        for name, data in files.items()
    ]


def _twice(files: Files, extra: dict[str, Any]) -> None:
    extra["raw"].append(("x/signal.json", files["signal.json"]))


def _unlisted(_: Files, extra: dict[str, Any]) -> None:
    extra["raw"].append(("x/more.txt", b"x"))


def _beside(_: Files, extra: dict[str, Any]) -> None:
    extra["raw"].append(("y/more.txt", b"x"))


def _other_bytes(files: Files, extra: dict[str, Any]) -> None:
    extra["files"] = _listed(files)
    files["signal.json"] = files["signal.json"].replace(b"48000", b"96000")


def _absent(files: Files, extra: dict[str, Any]) -> None:
    extra["files"] = _listed(files)
    del files["signal.json"]


def _negative(files: Files, extra: dict[str, Any]) -> None:
    extra["files"] = [{**file, "size": -1} for file in _listed(files)]


def _huge(files: Files, extra: dict[str, Any]) -> None:
    extra["files"] = [{**file, "size": 1 << 40} for file in _listed(files)]


def _newer(_: Files, extra: dict[str, Any]) -> None:
    extra["manifest"]["version"] = 2


def _foreign(_: Files, extra: dict[str, Any]) -> None:
    extra["manifest"]["format"] = "another"


def _second_list(_: Files, extra: dict[str, Any]) -> None:
    extra["raw"].append((f"y/{MANIFEST}", b"{}"))


def _no_document(files: Files, _: dict[str, Any]) -> None:
    del files["examination.json"]


def _newer_document(files: Files, _: dict[str, Any]) -> None:
    files["examination.json"] = files["examination.json"].replace(b'"version": 1', b'"version": 7')


def _without_recording(files: Files, _: dict[str, Any]) -> None:
    del files["recordings/02-1.wav"]


def _exchanged(files: Files, _: dict[str, Any]) -> None:
    files["recordings/02-1.wav"] = files["recordings/01-1.wav"]


def _many(files: Files, _: dict[str, Any]) -> None:
    files |= {f"more/{n}.txt": b"" for n in range(2001)}


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        (_link, "link"), (_twice, "twice"), (_unlisted, "does not list"),
        (_beside, "does not list"), (_other_bytes, "SHA-256"), (_absent, "does not hold"),
        (_negative, "limit"), (_huge, "would take"), (_newer, "newer one packed"),
        (_foreign, "was changed"), (_second_list, "2 lists"), (_no_document, "no examination"),
        (_newer_document, "newer one wrote"), (_without_recording, "not the whole"),
        (_exchanged, "another one"), (_many, "too many"),
    ],
)  # fmt: skip
def test_harmful_package_is_refused(
    package: Path, place: Path, change: Callable[[Files, dict[str, Any]], None], complaint: str
) -> None:
    """It is refused with its reason, and nothing is left behind."""
    refused(built(place, change, package), place, complaint)


def test_bomb_ends_at_the_size_that_is_listed(package: Path, place: Path) -> None:
    """A megabyte of zeros behind headers that say ten bytes: not one byte more is kept."""

    def bomb(files: Files, extra: dict[str, Any]) -> None:
        extra["files"] = [*_listed(files), {"file": "b.txt", "size": 10, "sha256": "0" * 64}]
        files["b.txt"] = b"\0" * 1_000_000

    target = built(place, bomb, package)
    refused(target, place, "does not have the size")
    data = target.read_bytes()
    lying = data.replace((1_000_000).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    assert lying != data
    target.write_bytes(lying)
    refused(target, place)


def test_limit_of_size_can_be_lower(package: Path, place: Path) -> None:
    """A package that is larger than the caller allows is refused by what it lists."""
    with pytest.raises(PackageError, match="would take"):
        unpack(package, place / "out", most_bytes=1000)


@given(st.text(alphabet=st.sampled_from("aN.\\/: ~\x00\u0301ConUL1-"), max_size=12) | st.text())
@example("com1.tar.gz")
def test_a_sound_name_stays_inside_on_every_system(name: str) -> None:
    """Whatever passes is relative, of plain parts, and written in one way, there and on Windows."""
    if name_problem(name):
        return
    for kind in (PurePosixPath, PureWindowsPath):
        path = kind(name)
        assert not path.is_absolute()
        assert (path.drive, path.root) == ("", "")
        assert path.parts == tuple(name.split("/"))
        assert ".." not in path.parts
    devices = {"CON", "PRN", "AUX", "NUL", *(f"{d}{n}" for d in ("COM", "LPT") for n in range(10))}
    assert not devices & {part.split(".")[0].upper() for part in name.split("/")}
    assert unicodedata.normalize("NFKD", name) == name


def test_names_of_our_own_are_sound() -> None:
    """Whatever this program writes can be packed."""
    names = ["examination.json", "recordings/01-1.wav", "report/insertion-dark.svg", "signal.wav"]
    assert [name_problem(name) for name in names] == [""] * 4
    assert list(clashes(names)) == []


@given(
    edits=st.lists(
        st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), min_size=1, max_size=4
    ),
    keep=st.one_of(st.just(1.0), st.floats(0.0, 1.0)),
)
@example(edits=[(0.0, 0)], keep=0.0)
@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_damaged_package_is_whole_or_nothing(
    package: Path, tmp_path_factory: pytest.TempPathFactory, edits: list[tuple[float, int]],
    keep: float,
) -> None:  # fmt: skip
    """Bytes changed or cut off anywhere: the same comes out, or an error of the tree."""
    place = tmp_path_factory.mktemp("fuzz")
    data = bytearray(package.read_bytes())
    for at, byte in edits:
        data[int(at * len(data))] = byte
    del data[int(keep * len(data)) :]
    (place / "damaged.zip").write_bytes(data)
    (place / "inner").mkdir()
    try:
        unpack(place / "damaged.zip", place / "inner" / "out")
    except (PackageError, DocumentError):
        assert list((place / "inner").iterdir()) == []
    else:
        with zipfile.ZipFile(package) as archive:
            whole = {n.partition("/")[2]: archive.read(n) for n in archive.namelist()}
        del whole[MANIFEST]
        assert contents(place / "inner" / "out") == whole
    shutil.rmtree(place)


def test_commands_say_what_to_do_next(
    original: Path, place: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`pack` names the file and what the other one types; `unpack` where it is and what is next."""
    monkeypatch.chdir(place)
    packed = here(["pack", str(original), "for you.zip"], capsys)
    assert (packed.status, packed.err) == (0, "")
    assert 'loopback unpack "for you.zip"' in packed.out
    assert "Private fields are not in it" in packed.out
    unpacked = here(["unpack", "for you.zip"], capsys)
    assert (unpacked.status, unpacked.err) == (0, "")
    assert "loopback show for-you" in unpacked.out
    again = here(["unpack", "for you.zip"], capsys)
    assert again.status == 0
    assert "loopback show for-you-2" in again.out
    taken = here(["unpack", "for you.zip", "for-you"], capsys)
    assert taken.status == 1
    assert "exists already" in taken.err
