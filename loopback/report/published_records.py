"""The file `published.json`: what was said about an examination, when, and by what."""

from __future__ import annotations

from typing import Any, Literal

from loopback.report.fact_base import FactRecord

PUBLISHED_VERSION: Literal[1] = 1


class Machine(FactRecord, frozen=True):
    """Kind of machine that computed: what can change the last digits, and nothing personal.

    Attributes
    ----------
    system, processor : str
        Such as ``"Linux"`` and ``"x86_64"``.
    python, numpy, scipy : str
        Versions.
    algebra : str
        Library under numpy's linear algebra, and its version.
    instructions : tuple of str
        Vector instructions that numpy found.
    threads : str
        How many the algebra was told to use; empty: nothing was said.
    """

    system: str
    processor: str
    python: str
    numpy: str
    scipy: str
    algebra: str
    instructions: tuple[str, ...]
    threads: str


class CurveHash(FactRecord, frozen=True):
    """One curve, by its bytes and by a few of its points.

    Attributes
    ----------
    name : str
        As the exported file is called, without its ending.
    points : int
        How many.
    sha256 : str
        Of all columns, names and 64-bit numbers.
    sketch : dict of str to tuple of float or None
        By column, a few points spread over the curve: what another machine compares with.
    """

    name: str
    points: int
    sha256: str
    sketch: dict[str, tuple[float | None, ...]]


class FileHash(FactRecord, frozen=True):
    """One file by its bytes.

    Attributes
    ----------
    file : str
        Path inside the folder, with forward slashes.
    sha256 : str
        Of its bytes.
    """

    file: str
    sha256: str


class Publication(FactRecord, frozen=True):
    """What was published once.

    Attributes
    ----------
    made : str
        ISO 8601 with offset.
    program : str
        Version that computed it.
    code : str
        SHA-256 of its source.
    machine : Machine
        What it ran on.
    before : str
        Seal of the publication before this one; empty: this is the first.
    document : str
        SHA-256 of the examination's document as it was, the private note left out.
    runs : tuple of str
        Ids of the runs it had.
    recordings : tuple of FileHash
        Every recording then listed.
    strays : tuple of str
        Files beside the recordings that no run listed.
    inputs : tuple of FileHash
        What else in the folder the numbers rest on.
    pages : tuple of FileHash
        Pages and pictures written with it.
    private : bool
        Whether private fields stand in those pages.
    expectation : str
        TOML that the result was held to; empty: none.
    facts : dict
        The facts document, as it was.
    curves : tuple of CurveHash
        Every curve.
    seal : str
        SHA-256 of all of the above. It shows a change, it does not say who wrote it.
    """

    made: str
    program: str
    code: str
    machine: Machine
    before: str
    document: str
    runs: tuple[str, ...]
    recordings: tuple[FileHash, ...]
    strays: tuple[str, ...]
    inputs: tuple[FileHash, ...]
    pages: tuple[FileHash, ...]
    private: bool
    expectation: str
    facts: dict[str, Any]
    curves: tuple[CurveHash, ...]
    seal: str = ""


class Published(FactRecord, frozen=True, tag_field="format", tag="loopback-published"):
    """All publications of one examination.

    Attributes
    ----------
    version : int
        Of this format.
    publications : tuple of Publication
        Oldest first; none is ever taken out.
    """

    version: Literal[1]
    publications: tuple[Publication, ...]
