"""What `published.json` holds, and what it never does."""

from __future__ import annotations

import getpass
import hashlib
import platform
import re
import struct
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest

from loopback import __version__
from loopback.errors import DocumentError, FolderError
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.facts import Analysis
from loopback.report.hashes import curve_hash, sealed
from loopback.report.published import PUBLISHED, public_files, read_published, write_published
from tests.reference.invented_analysis import SIGNAL, analysis


@pytest.fixture
def examined(tmp_path: Path) -> tuple[Analysis, Path]:
    """An analysis made by hand, and the folder that it could come from."""
    folder = ExaminationFolder.create(
        tmp_path / "lamp", Pedal("Quarry Lamp", private_note="of a friend"), Setup("files"), SIGNAL
    )
    whole = analysis()
    pedal = folder.document.pedal
    return replace(
        whole, examination=msgspec.structs.replace(whole.examination, pedal=pedal)
    ), folder.path


def test_hash_of_a_curve_is_that_of_its_numbers() -> None:
    """Heading, a zero byte, then little-endian doubles: written out by hand."""
    columns = {"f (Hz)": np.array([1.0, 2.0]), "x (dB)": np.array([np.nan, -0.5])}
    found = curve_hash("a", columns)
    packed = b"f (Hz)\0" + struct.pack("<2d", 1, 2) + b"x (dB)\0" + struct.pack("<2d", np.nan, -0.5)
    assert found.sha256 == hashlib.sha256(packed).hexdigest()
    assert found.sketch == {"f (Hz)": (1.0, 2.0), "x (dB)": (None, -0.5)}
    assert found.points == 2
    big = curve_hash("a", {name: column.astype(">f8") for name, column in columns.items()})
    assert big.sha256 == found.sha256


def test_publications_are_kept_in_order(examined: tuple[Analysis, Path]) -> None:
    """The same once more adds nothing; another comes after the first, which is untouched."""
    whole, folder = examined
    path = write_published(whole, folder)
    once = path.read_bytes()
    write_published(whole, folder)
    assert path.read_bytes() == once
    other = replace(whole, result=replace(whole.result, certainty=0.99))
    write_published(other, folder)
    first, second = read_published(path).publications
    assert first == msgspec.json.decode(once, type=type(read_published(path))).publications[0]
    assert second.before == first.seal
    assert second.facts["result"]["certainty"] == 0.99
    assert all(sealed(p).seal == p.seal for p in (first, second))
    assert (first.program, first.machine.numpy) == (__version__, np.__version__)


def test_nothing_personal_is_published(examined: tuple[Analysis, Path]) -> None:
    """No private note, no name of computer or user, no path."""
    whole, folder = examined
    page = folder.parent / "elsewhere" / "page.html"
    page.parent.mkdir()
    page.write_text("x")
    text = write_published(whole, folder, pages=[page]).read_text(encoding="utf-8")
    assert "of a friend" not in text
    assert str(folder) not in text
    assert '"file": "page.html"' in text
    words = set(re.findall(r'"([^"]*)"', text))
    assert not words & {platform.node(), getpass.getuser(), str(Path.home())}


def test_damaged_file_is_never_written_over(examined: tuple[Analysis, Path]) -> None:
    """What is there and cannot be read stays, and the complaint says where it is damaged."""
    whole, folder = examined
    (folder / PUBLISHED).write_text('{"format": "loopback-published", "version": 1}')
    with pytest.raises(DocumentError, match="publications"):
        write_published(whole, folder)
    assert (folder / PUBLISHED).read_text() == '{"format": "loopback-published", "version": 1}'
    with pytest.raises(FolderError, match="belongs to what is published"):
        write_published(whole, folder, pages=[folder / "gone.html"])


def test_private_pages_are_no_public_files(examined: tuple[Analysis, Path]) -> None:
    """A private page stays behind, also where it took the place of a public one."""
    whole, folder = examined
    page, other = folder / "report.html", folder / "private.html"
    page.write_text("public")
    other.write_text("private")
    write_published(whole, folder, pages=[page])
    write_published(whole, folder, pages=[other], private=True)
    assert public_files(folder) == (PUBLISHED, "report.html")
    assert public_files(folder, private=True) == (PUBLISHED, "report.html", "private.html")
    page.write_text("private after all")
    write_published(whole, folder, pages=[page], private=True)
    assert public_files(folder) == (PUBLISHED,)
