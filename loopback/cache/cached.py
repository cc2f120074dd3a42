"""Analyses that are computed once: asked for here, found again as long as they still follow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from loopback.cache.contents import Contents, SeenFile, look_at
from loopback.cache.sealed import read_sealed, write_sealed
from loopback.comparing.summary import Summary

if TYPE_CHECKING:
    from loopback.facts import Analysis
    from loopback.verdict.expectation import Expectation

ANALYSIS, SUMMARY = "analysis.bin", "summary.json"


class _Kept(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What ``summary.json`` holds."""

    files: dict[str, SeenFile]
    summary: Summary


@dataclass(frozen=True, slots=True)
class Summarised:
    """A summary and what it rests on.

    Parameters
    ----------
    summary : Summary
        Of one examination.
    read : bool
        True when every byte of its recordings was read just now.
    changed : tuple of str
        Recordings that are gone, or no longer what was listed when they were made.
    """

    summary: Summary
    read: bool
    changed: tuple[str, ...]


def cached_analysis(path: Path, expectation: Expectation | None = None) -> Analysis:
    """Return the analysis of an examination: as kept, or made now and kept.

    The look is thorough: every recording is read and hashed, which takes a hundredth of the time
    that analysing takes.

    Parameters
    ----------
    path : Path
        Folder of the examination.
    expectation : Expectation or None
        What the pedal should be; compared with the result, never kept.

    Returns
    -------
    Analysis
        Equal to that of `loopback.analysis.analyse` in every bit. When not to use: for a proof,
        which has to compute.

    Raises
    ------
    FolderError
        If there is no examination.
    DocumentError
        If its document is damaged or newer than this program.
    """
    contents = look_at(path, {}, thorough=True)
    analysis = _kept_analysis(contents) or _made(contents)
    if expectation is None:
        return analysis
    from loopback.verdict.expected import compare_expected

    return replace(analysis, expected=compare_expected(expectation, analysis.result))


def cached_summary(path: Path, *, thorough: bool = False) -> Summarised:
    """Return what a comparison needs of an examination: as kept, or made now and kept.

    Parameters
    ----------
    path : Path
        Folder of the examination.
    thorough : bool
        True reads every recording; False believes size and times, see the package.

    Returns
    -------
    Summarised
        Without loading anything that analyses, where it was kept.

    Raises
    ------
    FolderError
        If there is no examination.
    DocumentError
        If its document is damaged or newer than this program.
    """
    from loopback.examination.stored import absolute

    sealed = read_sealed(absolute(path), SUMMARY, None)
    kept = None if sealed is None else _decoded(sealed[1])
    known: Mapping[str, SeenFile] = {} if kept is None else kept.files
    contents = look_at(path, known, thorough=thorough)
    if kept is not None and sealed is not None and sealed[0] == contents.key:
        if contents.files != kept.files:  # the same bytes at another time: a copied folder
            _keep_summary(contents, kept.summary)
        return Summarised(kept.summary, contents.read, contents.changed)
    from loopback.comparing.summarise import summary_of

    summary = summary_of(_kept_analysis(contents) or _made(contents))
    _keep_summary(contents, summary)
    return Summarised(summary, contents.read, contents.changed)


def _kept_analysis(contents: Contents) -> Analysis | None:
    sealed = read_sealed(contents.root, ANALYSIS, contents.key)
    if sealed is None:
        return None
    from loopback.cache.packed import unpack_analysis

    return unpack_analysis(sealed[1])


def _made(contents: Contents) -> Analysis:
    """Analyse, and keep it where nothing in the folder changed meanwhile."""
    from loopback.analysis import analyse
    from loopback.cache.packed import pack_analysis
    from loopback.comparing.summarise import summary_of

    analysis = analyse(contents.root)
    after = look_at(contents.root, contents.files, thorough=False)
    if after.key == contents.key and write_sealed(
        contents.root, ANALYSIS, contents.key, pack_analysis(analysis)
    ):
        _keep_summary(after, summary_of(analysis))
    return analysis


def _keep_summary(contents: Contents, summary: Summary) -> None:
    data = msgspec.json.encode(_Kept(contents.files, summary))
    write_sealed(contents.root, SUMMARY, contents.key, data)


def _decoded(data: bytes) -> _Kept | None:
    try:
        return msgspec.json.decode(data, type=_Kept)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return None
