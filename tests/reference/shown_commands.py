"""What README and guide tell people to type, save and expect to see, read from their Markdown.

A command is a line of four spaces that begins with ``loopback``. A fence marked ``console`` shows
commands behind ``> `` with their output, in which a line of three points stands for any number of
lines; a fence marked ``text NAME`` is a file to save under that name.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from loopback.cli.guide import TOPICS, page
from tests.reference.command_line import ROOT

LINE = re.compile(r" {4}(loopback(?: .*)?)")
FENCE = re.compile(r"```(?:(console)|text (\S+)|\w*)")
INLINE = re.compile(r"`(loopback [^`]*)`")
NUMBER = re.compile(r"\d+(?:\.\d+)?")
DATE = re.compile(r"\b\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec) 20\d\d\b")


@dataclass(frozen=True)
class Document:
    """One page of Markdown."""

    name: str
    text: str


@dataclass(frozen=True)
class Step:
    """A command to type, with what the page shows of its output (None: nothing), or a file to save.

    For a file, `command` is its name and `shown` its contents.
    """

    document: str
    command: str
    shown: str | None = None
    is_file: bool = False


def documents() -> tuple[Document, ...]:
    """README first, then the guide in its own order."""
    readme = Document("README.md", (ROOT / "README.md").read_text(encoding="utf-8"))
    return (readme, *(Document(name, page(name)) for name, _ in TOPICS))


def steps_of(document: Document) -> tuple[Step, ...]:
    """Everything on one page that a reader would do, from top to bottom."""
    steps: list[Step] = []
    lines = iter(document.text.splitlines())
    for line in lines:
        fence = FENCE.fullmatch(line)
        if fence is None:
            if command := LINE.fullmatch(line):
                steps.append(Step(document.name, command[1].strip()))
            continue
        inside = "".join(f"{inner}\n" for inner in _until_fence(lines))
        if fence[1]:
            steps += _console(document.name, inside)
        elif fence[2]:
            steps.append(Step(document.name, fence[2], inside, is_file=True))
    return tuple(steps)


def _until_fence(lines: Iterator[str]) -> Iterator[str]:
    for line in lines:
        if line == "```":
            return
        yield line
    raise AssertionError("a fence is not closed")


def _console(name: str, inside: str) -> Iterator[Step]:
    for part in re.split(r"^> ", inside, flags=re.MULTILINE)[1:]:
        command, _, shown = part.partition("\n")
        yield Step(name, command.strip(), shown)


def unlike(shown: str, found: str) -> str:
    """Say where an output departs from what a page shows; empty where it does not.

    Words must be the same. Numbers may differ by a fifth, or by 0.003, and days by any: another
    processor rounds otherwise. Spaces and line breaks do not count.
    """
    pieces = [_words(piece) for piece in re.split(r"^\.\.\.$", shown, flags=re.MULTILINE)]
    words, at = _words(found), 0
    for i, piece in enumerate(pieces):
        last = i == len(pieces) - 1
        places = [0] if i == 0 else [len(words) - len(piece)] if last else range(at, len(words))
        hit = next((p for p in places if p >= at and _alike(piece, words[p:])), None)
        if hit is None or (last and piece and hit + len(piece) != len(words)):
            return _departure(piece, words[at:])
        at = hit + len(piece)
    return ""


def _words(text: str) -> list[str]:
    return DATE.sub("DATE", text).split()


def _alike(piece: Sequence[str], words: Sequence[str]) -> bool:
    return len(words) >= len(piece) and all(map(_same, piece, words))


def _same(one: str, other: str) -> bool:
    if NUMBER.sub("#", one) != NUMBER.sub("#", other):
        return False
    numbers = zip(NUMBER.findall(one), NUMBER.findall(other), strict=True)
    return all(math.isclose(float(a), float(b), rel_tol=0.2, abs_tol=0.003) for a, b in numbers)


def _departure(piece: Sequence[str], words: Sequence[str]) -> str:
    alike = next((i for i, (a, b) in enumerate(zip(piece, words, strict=False)) if not _same(a, b)),
                 min(len(piece), len(words)))  # fmt: skip
    near = slice(max(alike - 4, 0), alike + 8)
    return f"shown: {' '.join(piece[near])!r}, found: {' '.join(words[near])!r}"
