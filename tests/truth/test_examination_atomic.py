"""Files that are complete or absent."""

from __future__ import annotations

import errno
import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from loopback.errors import FolderError
from loopback.examination import atomic
from loopback.examination.atomic import file_chunks, is_hidden, sha256_of, write_new, write_over

CONTENTS = [b"one", b"", b"two" * 100_000]
HASH = hashlib.sha256(b"".join(CONTENTS)).hexdigest()


def without_links(monkeypatch: pytest.MonkeyPatch) -> None:
    """Behave like a memory stick, whose file system knows no links."""

    def refuse(*_args: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(os, "link", refuse)


@pytest.mark.parametrize("links", [True, False])
def test_a_new_file_has_its_contents_and_hash(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """And nothing else is left in the folder, on any file system."""
    if not links:
        without_links(monkeypatch)
    assert write_new(tmp_path / "a", CONTENTS) == HASH
    assert (tmp_path / "a").read_bytes() == b"".join(CONTENTS)
    assert sha256_of(tmp_path / "a") == HASH
    assert b"".join(file_chunks(tmp_path / "a")) == b"".join(CONTENTS)
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


@pytest.mark.parametrize("links", [True, False])
def test_a_taken_name_is_never_written_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    """Even when somebody takes it while the new file is being written."""
    if not links:
        without_links(monkeypatch)

    def taking() -> Iterator[bytes]:
        yield b"half"
        (tmp_path / "a").write_bytes(b"mine")

    for chunks in (taking(), iter(CONTENTS)):
        with pytest.raises(FolderError, match="exists already"):
            write_new(tmp_path / "a", chunks)
        assert (tmp_path / "a").read_bytes() == b"mine"
        assert [path.name for path in tmp_path.iterdir()] == ["a"]


def test_writing_over_takes_one_instant(tmp_path: Path) -> None:
    """Until the new contents are complete, the old ones can be read."""
    (tmp_path / "a").write_bytes(b"old")
    seen = []

    def watching() -> Iterator[bytes]:
        for chunk in CONTENTS:
            seen.append((tmp_path / "a").read_bytes())
            yield chunk

    assert write_over(tmp_path / "a", watching()) == HASH
    assert seen == [b"old"] * 3
    assert sha256_of(tmp_path / "a") == HASH
    assert write_over(tmp_path / "b", CONTENTS) == HASH


def test_contents_that_are_not_the_expected_ones_get_no_name(tmp_path: Path) -> None:
    """The hash is compared before the file has its name."""
    assert write_new(tmp_path / "a", CONTENTS, HASH) == HASH
    with pytest.raises(FolderError, match="has changed since it was recorded"):
        write_new(tmp_path / "b", [b"other"], HASH)
    assert [path.name for path in tmp_path.iterdir()] == ["a"]


@pytest.mark.parametrize("write", [write_new, write_over])
@pytest.mark.parametrize("error", [ZeroDivisionError, KeyboardInterrupt])
def test_contents_that_break_off_leave_nothing(
    tmp_path: Path, write: object, error: type[BaseException]
) -> None:
    """Whatever stops them, also the user."""
    assert callable(write)

    def breaking() -> Iterator[bytes]:
        yield b"half"
        raise error

    with pytest.raises(error):
        write(tmp_path / "a", breaking())
    assert list(tmp_path.iterdir()) == []


def test_a_partial_file_is_hidden_and_lies_in_the_same_folder(tmp_path: Path) -> None:
    """So that giving it its name never copies it, and nobody takes it for a recording."""
    seen: list[Path] = []

    def watching() -> Iterator[bytes]:
        seen.extend(tmp_path.iterdir())
        yield b"x"

    write_new(tmp_path / "03-2.wav", watching())
    assert len(seen) == 1
    assert is_hidden(seen[0])
    assert seen[0].name.startswith(".03-2.wav.")
    assert seen[0].suffix == atomic.PARTIAL_SUFFIX
    assert not is_hidden(tmp_path / "03-2.wav")


def test_places_where_nothing_can_be_written(tmp_path: Path) -> None:
    """No folder, or a name longer than the system takes."""
    with pytest.raises(FolderError, match="No such file or directory"):
        write_new(tmp_path / "none" / "a", CONTENTS)
    with pytest.raises(FolderError, match="cannot be written"):
        write_new(tmp_path / ("x" * 300), CONTENTS)
    assert list(tmp_path.iterdir()) == []
