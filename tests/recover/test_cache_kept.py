"""What is kept is the analysis itself, and is believed only while it follows from the folder."""

from __future__ import annotations

import dataclasses
import functools
import math
import os
import sys
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.analysis import analyse
from loopback.cache import cached, contents
from loopback.cache.cached import ANALYSIS, SUMMARY, cached_analysis, cached_summary
from loopback.cache.contents import look_at
from loopback.cache.packed import pack_analysis, unpack_analysis
from loopback.cache.sealed import FOLDER, read_sealed, write_sealed
from loopback.comparing.summarise import summary_of
from loopback.examination.records import Pedal
from loopback.examination.reference_record import FILE_NAME, Sitting, write_record
from loopback.facts import Analysis
from loopback.guided.simulated_sitting import SimulatedSitting
from loopback.report.document import facts_json
from loopback.report.exports import export_texts
from loopback.report.numbers import every_number
from loopback.report.text import result_screen
from loopback.verdict.expectation import parse_expectation
from tests.reference.invented_analysis import analysis as invented
from tests.reference.kept_folders import keep, stored_folder


def differences(one: Any, two: Any, where: str = "$") -> list[str]:
    """Every place at which two records are not the same in kind and in every bit."""
    if isinstance(one, np.ndarray):
        same = isinstance(two, np.ndarray) and (one.dtype, one.shape) == (two.dtype, two.shape)
        return [] if same and one.tobytes() == two.tobytes() else [where]
    if type(one) is not type(two) and not _both_numbers(one, two):
        return [f"{where}: {type(one).__name__}, {type(two).__name__}"]
    if dataclasses.is_dataclass(one):
        names = [field.name for field in dataclasses.fields(one)]
    elif isinstance(one, msgspec.Struct):
        names = list(one.__struct_fields__)
    elif isinstance(one, tuple | list):
        if len(one) != len(two):
            return [where]
        pairs = enumerate(zip(one, two, strict=True))
        return [d for i, (a, b) in pairs for d in differences(a, b, f"{where}[{i}]")]
    elif isinstance(one, dict):
        if list(one) != list(two):
            return [where]
        return [d for key in one for d in differences(one[key], two[key], f"{where}[{key!r}]")]
    else:
        both_nan = isinstance(one, float) and math.isnan(one) and math.isnan(two)
        return [] if one == two or both_nan else [where]
    return [
        d
        for name in names
        for d in differences(getattr(one, name), getattr(two, name), f"{where}.{name}")
    ]


def _both_numbers(one: Any, two: Any) -> bool:
    """A whole number where a float is declared comes back as that float."""
    return all(isinstance(x, int | float) and not isinstance(x, bool) for x in (one, two))


@pytest.fixture(scope="module", params=["quarry-lamp", "salt-lantern", "cold-hearth"])
def measured(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Analysis]:
    """Short examinations: a pulldown with a load plug, a buffer, a pedal that is silent."""
    circuit = str(request.param)
    plan = "full" if circuit == "quarry-lamp" else "quick"
    path = tmp_path_factory.mktemp("kept") / circuit
    sitting = SimulatedSitting(circuit, plan, sweep_s=1.0, silence_s=1.0, seed=3, bypass="a")
    sitting.play_into(path, Pedal(circuit))
    return path, analyse(path)


def test_what_is_kept_is_the_analysis_bit_for_bit(measured: tuple[Path, Analysis]) -> None:
    """Every field, float and array comes back, and so does every text written from them."""
    _, fresh = measured
    back = unpack_analysis(pack_analysis(fresh))
    assert back is not None
    assert differences(fresh, back) == []
    assert facts_json(back) == facts_json(fresh)
    assert export_texts(back) == export_texts(fresh)
    assert summary_of(back) == summary_of(fresh)
    for signs in (True, False):
        assert result_screen(back, "x", signs=signs) == result_screen(fresh, "x", signs=signs)
        assert every_number(back, signs=signs) == every_number(fresh, signs=signs)


def test_the_comparison_of_records_can_fail() -> None:
    """One changed bit of one array, or one other kind of value, is found."""
    one = invented()
    ratio = one.pedal_runs[0].ratio
    assert ratio is not None
    t = ratio.t.copy()
    t[5] = np.nextafter(t[5].real, 2.0) + 1j * t[5].imag
    runs = (
        dataclasses.replace(one.pedal_runs[0], ratio=dataclasses.replace(ratio, t=t)),
        *one.pedal_runs[1:],
    )
    two = dataclasses.replace(one, pedal_runs=runs)
    assert differences(one, two) == ["$.pedal_runs[0].ratio.t"]
    assert differences((1, 2), (1, None)) == ["$[1]: int, NoneType"]


def test_a_second_look_does_not_analyse(
    measured: tuple[Path, Analysis], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once analysed, a folder is only hashed; numbers and texts are those of the fresh analysis."""
    path, fresh = measured
    first = cached_analysis(path)

    def refuse(_: Path) -> Analysis:
        raise AssertionError("analysed again")

    monkeypatch.setattr("loopback.analysis.analyse", refuse)
    again = cached_analysis(path)
    assert differences(first, again) == []
    assert facts_json(again) == facts_json(fresh)
    assert cached_summary(path).summary == summary_of(fresh)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An invented examination with its results kept; who analyses it again is caught."""
    path = tmp_path / "lamp"
    keep(path, stored_folder(path), monkeypatch)

    def again(_: Path) -> Analysis:
        raise Analysed

    monkeypatch.setattr("loopback.analysis.analyse", again)
    return path


class Analysed(Exception):
    """Somebody wanted to compute."""


def _flip(path: Path, place: int = 3) -> None:
    """Change one byte and nothing that a folder shows: size and time of change are as before."""
    before = path.stat()
    data = bytearray(path.read_bytes())
    data[place] ^= 1
    with path.open("r+b") as file:
        file.write(data)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    after = path.stat()
    assert (after.st_size, after.st_mtime_ns) == (before.st_size, before.st_mtime_ns)


def test_nothing_changed_nothing_computed(folder: Path) -> None:
    """Kept results are found by a thorough and by a quick look."""
    assert cached_summary(folder, thorough=True).read
    quick = cached_summary(folder)
    assert not quick.read
    assert quick.changed == ()
    assert cached_analysis(folder).examination.pedal.name == "Quarry Lamp"


def test_one_flipped_byte_of_a_recording_is_seen(folder: Path) -> None:
    """Size and time as before: a thorough look reads it, and what is kept no longer fits."""
    _flip(folder / "recordings" / "03-1.wav")
    with pytest.raises(Analysed):
        cached_analysis(folder)
    with pytest.raises(Analysed):
        cached_summary(folder, thorough=True)


def test_a_quick_look_sees_it_by_the_time_of_the_entry(folder: Path) -> None:
    """A program cannot set that time back, so a quick look reads the file again; Windows has no
    such time, and there the change stays unseen until a thorough look."""
    _flip(folder / "recordings" / "03-1.wav")
    if sys.platform == "win32":
        assert not cached_summary(folder).read
    else:
        with pytest.raises(Analysed):
            cached_summary(folder)


def test_what_a_quick_look_misses(folder: Path) -> None:
    """Bits lost on the medium leave size and times as they were: only a thorough look sees that."""
    known = look_at(folder, {}, thorough=True).files
    name = "recordings/03-1.wav"
    _flip(folder / name)
    at = (folder / name).stat()
    times = msgspec.structs.replace(known[name], ctime_ns=at.st_ctime_ns)
    assert look_at(folder, known | {name: times}, thorough=False).changed == ()
    assert look_at(folder, known | {name: times}, thorough=True).changed == (name,)


def test_touching_is_no_change(folder: Path) -> None:
    """Another time on the same bytes costs one reading, and the next look is quick again."""
    os.utime(folder / "recordings" / "03-1.wav", ns=(1, 1))
    assert cached_summary(folder).summary.pedal.name == "Quarry Lamp"
    assert not cached_summary(folder).read


def test_key_follows_everything_that_a_number_may_follow_from(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Document, learned record, an unlisted file, a lost file, program: another key for each."""
    keys = [look_at(folder, {}, thorough=True).key]

    def changed() -> None:
        keys.append(look_at(folder, {}, thorough=True).key)

    document = folder / "examination.json"
    document.write_bytes(document.read_bytes().replace(b"Quarry Lamp", b"Quarry Lamq"))
    changed()
    sitting = Sitting("2026-11-20T10:00:00+00:00", [])
    write_record(folder / FILE_NAME, [sitting])
    changed()
    (folder / "recordings" / "99-1.wav").write_bytes(b"RIFF")
    changed()
    (folder / "recordings" / "03-1.wav").unlink()
    changed()
    monkeypatch.setattr(contents, "_program", lambda: "another program")
    changed()
    assert len(set(keys)) == len(keys)


def test_program_is_named_by_its_source() -> None:
    """The stages that compute are in the key by their text, with the numeric libraries."""
    sources = list(contents._sources())
    assert any(b"def ratio_to_reference" in data for data in sources)
    assert not any(b"def result_screen" in data for data in sources)
    assert sum(b"version" in data and b"short_version" in data for data in sources) >= 2


@pytest.mark.parametrize("name", [ANALYSIS, SUMMARY])
def test_damage_is_as_good_as_absence(folder: Path, name: str) -> None:
    """Cut short, emptied, or one bit changed in the line or the contents: it is not believed."""
    path = folder / FOLDER / name
    whole = path.read_bytes()
    key = whole.split(b" ")[2].decode()
    assert read_sealed(folder, name, key) is not None
    places = [0, 15, 20, 100, whole.index(b"\n"), whole.index(b"\n") + 1, len(whole) - 1]
    for place in places:
        broken = bytearray(whole)
        broken[place] ^= 1
        path.write_bytes(broken)
        found = read_sealed(folder, name, key)
        assert found is None, place
    for length in (0, 1, 80, len(whole) - 1):
        path.write_bytes(whole[:length])
        assert read_sealed(folder, name, key) is None
    (folder / FOLDER / ANALYSIS).write_bytes(b"")
    with pytest.raises(Analysed):
        cached_analysis(folder)


def test_a_summary_alone_suffices_and_an_analysis_makes_it(folder: Path) -> None:
    """Either file may be deleted; the summary comes back from the analysis without computing."""
    (folder / FOLDER / SUMMARY).unlink()
    assert cached_summary(folder).summary.path == "loaded"
    (folder / FOLDER / ANALYSIS).unlink()
    assert cached_summary(folder).summary.path == "loaded"


@given(st.binary(max_size=400))
def test_foreign_bytes_are_no_analysis(data: bytes) -> None:
    """Whatever lies there, nothing is raised and nothing is believed."""
    assert unpack_analysis(data) is None
    assert cached._decoded(data) is None


@given(st.integers(0, 10_000), st.integers(1, 255))
def test_changed_bytes_never_raise(place: int, flip: int) -> None:
    """A packed analysis with a changed byte is an analysis or none, never an exception."""
    data = bytearray(_packed())
    data[place % len(data)] ^= flip
    found = unpack_analysis(bytes(data))
    assert found is None or isinstance(found, Analysis)


@functools.cache
def _packed() -> bytes:
    return pack_analysis(invented())


def test_a_folder_that_cannot_be_written_costs_time_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where something else has the folder's name, or a link leads out, nothing is kept."""
    path, outside = tmp_path / "lamp", tmp_path / "outside"
    found = stored_folder(path)
    outside.mkdir()
    monkeypatch.setattr("loopback.analysis.analyse", lambda _: found)
    (path / FOLDER).write_text("not a folder", encoding="utf-8")
    assert cached_summary(path).summary.path == "loaded"
    assert not write_sealed(path, SUMMARY, "key", b"x")
    (path / FOLDER).unlink()
    (path / FOLDER).symlink_to(outside, target_is_directory=True)
    assert cached_summary(path).summary.path == "loaded"
    assert list(outside.iterdir()) == []


def test_what_changed_while_computing_is_not_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A recording that changes during the analysis leaves nothing behind that could be believed."""
    path = tmp_path / "lamp"
    found = stored_folder(path)

    def slow(_: Path) -> Analysis:
        (path / "recordings" / "02-1.wav").write_bytes(b"another sound")
        return found

    monkeypatch.setattr("loopback.analysis.analyse", slow)
    cached_analysis(path)
    assert not (path / FOLDER / ANALYSIS).exists()


def test_an_expectation_is_compared_and_never_kept(folder: Path) -> None:
    """What the pedal should be is held against the kept result, and the next look knows nothing."""
    expectation = parse_expectation("true_bypass = true\n", "sheet.toml")
    assert [e.outcome for e in cached_analysis(folder, expectation).expected] == ["not met"]
    assert cached_analysis(folder).expected == ()


def test_backup_programs_are_told(folder: Path) -> None:
    """The tag begins with the signature of the Cache Directory Tagging Specification."""
    text = (folder / FOLDER / "CACHEDIR.TAG").read_text(encoding="ascii")
    assert text.startswith("Signature: 8a477f597d28d172789f06886806bc55")
