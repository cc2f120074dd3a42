"""A page taken apart with the standard library's parser, to see what is really in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "hr", "img", "input", "link", "meta", "source", "wbr"}
_SILENT = {"style", "script", "title"}


@dataclass
class Element:
    """One element: where it stands, its attributes, and the words in it."""

    tag: str
    attributes: dict[str, str]
    parents: tuple[str, ...]
    words: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """Everything written in it, with plain single spaces."""
        return " ".join("".join(self.words).split())


class Page(HTMLParser):
    """Elements in order; `faults` says what is not well formed."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self.faults: list[str] = []
        self.styles: list[str] = []
        self._open: list[Element] = []
        self.feed(html)
        self.close()
        self.faults += [f"<{one.tag}> is never closed" for one in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        if len(names) != len(set(names)):
            self.faults.append(f"<{tag}> has an attribute twice")
        given = {name: value or "" for name, value in attrs}
        element = Element(tag, given, tuple(one.tag for one in self._open))
        self.elements.append(element)
        if tag not in VOID:
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        if not self._open or self._open[-1].tag != tag:
            self.faults.append(f"</{tag}> closes nothing")
            return
        self._open.pop()

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1].tag == "style":
            self.styles.append(data)
        for one in self._open:
            if one.tag == self._open[-1].tag or self._open[-1].tag not in _SILENT:
                one.words.append(data)

    @property
    def text(self) -> str:
        """Everything that is shown, with plain single spaces."""
        return next(one.text for one in self.elements if one.tag == "body")

    @property
    def skeleton(self) -> list[tuple[str, tuple[str, ...]]]:
        """Every element outside the pictures with the names of its attributes."""
        return [
            (one.tag, tuple(sorted(one.attributes)))
            for one in self.elements
            if "svg" not in (one.tag, *one.parents)
        ]

    def section(self, anchor: str) -> Element:
        """The element of that identifier."""
        return next(one for one in self.elements if one.attributes.get("id") == anchor)

    def table(self, caption: str) -> list[list[str]]:
        """Lines of the table of that caption, with its head."""
        lines: list[list[str]] = []
        reading = False
        for one in self.elements:
            if one.tag == "caption":
                reading = one.text.startswith(caption)
            elif reading and one.tag == "tr":
                lines.append([])
            elif reading and one.tag in ("td", "th"):
                lines[-1].append(one.text)
        return lines


def same_skeleton(one: Page, other: Page, but_for: Sequence[str] = ()) -> bool:
    """Whether two pages are built alike, leaving out elements of some names."""
    first, second = (
        [entry for entry in page.skeleton if entry[0] not in but_for] for page in (one, other)
    )
    return first == second
