"""Recompute an examination from its recordings, and hold what was published against it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import msgspec

from loopback import __version__
from loopback.analysis import analyse
from loopback.errors import ArgumentError, DocumentError
from loopback.examination.described import Reworded
from loopback.examination.stored import StoredExamination
from loopback.proof.as_published import AsPublished
from loopback.proof.comparing import Compared, compare_facts
from loopback.proof.curves import compare_curves
from loopback.proof.files import (
    Note,
    Problem,
    notes_of,
    order_problems,
    publication_problems,
    recording_problems,
)
from loopback.report.curve_columns import curves_of
from loopback.report.document import facts_of
from loopback.report.hashes import curve_hash
from loopback.report.machine import this_code, this_machine
from loopback.report.published import PUBLISHED, read_published
from loopback.report.published_records import Machine, Publication, Published
from loopback.report.records import FACTS_VERSION
from loopback.verdict.expectation import parse_expectation

Step = Callable[[str], None]
"""Is told what is being done."""


@dataclass(frozen=True, slots=True)
class Verification:
    """What came out.

    Parameters
    ----------
    pedal : str
        Its name.
    recordings : int
        How many are listed now.
    publication : Publication or None
        What was checked; None: nothing was ever published.
    number, of : int
        Which publication, from 1, of how many.
    program : str
        Version that recomputed.
    machine : Machine
        What it ran on.
    exact : bool
        Whether bit for bit was asked for: same version, same kind of machine.
    problems : tuple of Problem
        Files, documents and seals that are not as they were.
    notes : tuple of Note
        What else was noticed.
    facts, curves : Compared or None
        The numbers; None where nothing was published.
    reworded : tuple of Reworded
        Words about the item and the conditions that were changed since; no number follows from
        them.
    """

    pedal: str
    recordings: int
    publication: Publication | None
    number: int
    of: int
    program: str
    machine: Machine
    exact: bool
    problems: tuple[Problem, ...]
    notes: tuple[Note, ...]
    facts: Compared | None
    curves: Compared | None
    reworded: tuple[Reworded, ...] = ()

    @property
    def same_version(self) -> bool:
        """Whether the program that published and the one that recomputed are the same."""
        return self.publication is not None and self.publication.code == this_code()

    @property
    def numbers_follow(self) -> bool:
        """Whether every published number and class came out again.

        Another version may add facts and word its sentences differently.
        """
        if self.facts is None or self.curves is None:
            return False
        allowed = () if self.same_version else ("prose", "new")
        differences = (*self.facts.differences, *self.curves.differences)
        return all(difference.kind in allowed for difference in differences)

    @property
    def follows(self) -> bool:
        """Whether the published numbers follow from these recordings, and nothing was changed."""
        return self.numbers_follow and not self.problems


def verify(path: Path, number: int | None = None, step: Step | None = None) -> Verification:
    """Check every hash, compute everything again, and compare.

    Nothing stored is used but recordings and document: no cached result.

    Parameters
    ----------
    path : Path
        Folder of the examination.
    number : int or None
        Which publication, from 1; None: the last.
    step : callable or None
        Is told what is being done.

    Returns
    -------
    Verification
        With every place that differs.

    Raises
    ------
    FolderError
        If there is no examination.
    DocumentError
        If a document is damaged or newer than this program, so that nothing can be compared.
    ArgumentError
        If there is no publication of that number.
    """
    say = step or (lambda _: None)
    folder = StoredExamination.open(path)
    say("Checking every recording, byte for byte")
    problems = recording_problems(folder)
    pedal, recordings = folder.document.pedal.name, len(folder.document.recordings())
    here = this_machine()
    if not (folder.path / PUBLISHED).exists():
        return Verification(
            pedal, recordings, None, 0, 0, __version__, here, False, problems, (), None, None
        )
    published = read_published(folder.path / PUBLISHED)
    number = len(published.publications) if number is None else number
    publication = _chosen(published, number)
    cut = AsPublished.of(folder, publication)
    problems += publication_problems(folder, cut, publication)
    problems += order_problems(published.publications)
    say("Computing everything again from the recordings")
    text = publication.expectation
    analysis = analyse(cut, parse_expectation(text, "The published expectation") if text else None)
    exact = publication.code == this_code() and publication.machine == here
    facts = msgspec.json.decode(msgspec.json.encode(facts_of(analysis)))
    curves = [curve_hash(name, columns) for name, columns in curves_of(analysis).items()]
    return Verification(
        pedal=pedal,
        recordings=recordings,
        publication=publication,
        number=number,
        of=len(published.publications),
        program=__version__,
        machine=here,
        exact=exact,
        problems=problems,
        notes=notes_of(folder, publication),
        facts=compare_facts(publication.facts, facts, exact=exact),
        curves=compare_curves(publication.curves, curves, exact=exact),
        reworded=cut.reworded,
    )


def _chosen(published: Published, number: int) -> Publication:
    count = len(published.publications)
    if not 1 <= number <= count:
        raise ArgumentError(
            f"There is no publication {number}.", f"{PUBLISHED} holds {count}, counted from 1."
        )
    publication = published.publications[number - 1]
    version = publication.facts.get("version")
    if isinstance(version, int) and version > FACTS_VERSION:
        raise DocumentError(
            f"The facts in {PUBLISHED} have version {version} (program {publication.program}).",
            f"This program, {__version__}, knows facts up to version {FACTS_VERSION}.",
            "Install the newer program. Nothing was changed.",
        )
    return publication
