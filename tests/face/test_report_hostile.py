"""Hostile names and notes: no element, no attribute, no file and no direction arises from them."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loopback.examination.records import Setup
from loopback.facts import Analysis
from loopback.quality.finding import Finding
from loopback.report.report_files import report_paths
from loopback.report.report_page import report_page, ticket_page
from tests.reference.invented_analysis import analysis
from tests.reference.page_reader import Page, same_skeleton

ISSUED = "2026-11-25T20:00:00+01:00"
TEXTS = ("maker", "model", "serial", "revision", "mode", "jacks", "supply", "claim", "note")
NAMES = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "</title></style></svg></bdi><h1>Approved</h1>",
    "]]></text><![CDATA[<a href='javascript:alert(1)'>",
    "{{ 7 * 7 }} {% raw %} ${7*7} &lt;b&gt; &#60;i&#62;",
    "</textarea><!-- --><style>*{display:none}</style>",
    "a\nb\r\nc\td\x00e\x1b[31mf\x7f",
    "right\u202eto\u2066left\u2069\u200f\u061c\u200b\ufeff",
    "../../etc/passwd; rm -rf ~ & C:\\con\\nul | `id` $(id)",
    "\ud800\udfff\uffff\U000e0041",
    '#298fc2 url(#x) href="#y" id="z"',
    "W" * 10_000,
    "Z\u0351\u0352\u0353\u0354\u0355" * 200,
    "עברית العربية 日本語 한국어 \U0001f3b8",
)
# A mark from left to right is put into pictures by ourselves, and turns nothing over.
_TURNING = re.compile("[\u061c\u200b\u200f\u202a-\u202e\u2066-\u2069\ufeff]")


def with_texts(text: str, finding: bool = False) -> Analysis:
    """An analysis in which whatever a user can write is this text."""
    made = analysis(
        text, findings=(Finding("hum", "look", "31 dB", text, text, "01"),) if finding else ()
    )
    document = made.examination
    pedal = msgspec.structs.replace(document.pedal, **dict.fromkeys(TEXTS, text))
    runs = tuple(
        msgspec.structs.replace(
            run,
            label=msgspec.structs.replace(run.label, note=text),
            recordings=tuple(msgspec.structs.replace(r, origin=text) for r in run.recordings),
        )
        for run in document.runs
    )
    setup = msgspec.structs.replace(document.setup, name=text, note=text)
    assert isinstance(setup, Setup)
    document = msgspec.structs.replace(
        document, pedal=pedal, setup=setup, runs=runs, conditions=text
    )
    return replace(made, examination=document)


@pytest.fixture(scope="module")
def tame() -> Page:
    """The same page with harmless words."""
    return Page(report_page(with_texts("Quarry Lamp", finding=True), issued=ISSUED))


@pytest.mark.parametrize("text", NAMES)
def test_text_stays_text(text: str, tame: Page) -> None:
    """The page is built as with harmless words, well formed, and holds nothing that turns it."""
    html = report_page(with_texts(text, finding=True), issued=ISSUED)
    page = Page(html)
    assert page.faults == []
    # A row whose text is nothing but marks is left out, and one with line ends has more lines.
    assert same_skeleton(page, tame, ("span", "bdi", "div", "dt", "dd"))
    assert not {e.tag for e in page.elements} & {"script", "img", "textarea", "iframe"}
    for element in page.elements:
        assert not any(name.startswith("on") for name in element.attributes)
        for name in ("href", "xlink:href"):
            assert element.attributes.get(name, "#").startswith("#")
    assert len([e for e in page.elements if e.tag == "h1"]) == 1
    assert not _TURNING.search(html)
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]", html)
    assert html.encode("utf-8")
    ids = [e.attributes["id"] for e in page.elements if "id" in e.attributes]
    assert len(ids) == len(set(ids))
    assert len(html) < 2_000_000


def test_markup_is_shown_as_it_was_typed() -> None:
    """What looks like markup, a template or a colour is read as its letters."""
    for text in (NAMES[0], NAMES[5], "#298fc2 #ffffff"):
        page = Page(report_page(with_texts(text), issued=ISSUED))
        shown = " ".join(text.split())
        assert next(e for e in page.elements if e.tag == "h1").text == shown
        titles = [e.text for e in page.elements if e.tag == "title" and "svg" in e.parents]
        assert titles
        assert all(title.startswith(shown) for title in titles)


@given(st.text(alphabet=st.characters(), max_size=60))
@settings(max_examples=60)
def test_any_text_is_harmless_on_a_ticket(text: str) -> None:
    """The same with whatever can be typed, on the page without pictures."""
    html = ticket_page(with_texts(text), private=True)
    page = Page(html)
    assert page.faults == []
    plain = Page(ticket_page(with_texts("Quarry Lamp"), private=True))
    assert same_skeleton(page, plain, ("span", "bdi", "div", "dt", "dd", "dl"))
    assert not _TURNING.search(html)


@pytest.mark.parametrize("private", [False, True])
def test_private_fields_stay_out_unless_asked_for(private: bool) -> None:
    """The private note, and the names that imported files had; the page says which it is."""
    made = analysis(private_note="belongs to a neighbour", note="for all to see")
    runs = tuple(
        msgspec.structs.replace(
            run,
            recordings=tuple(
                msgspec.structs.replace(r, origin="smith-pedal.wav") for r in run.recordings
            ),
        )
        for run in made.examination.runs
    )
    made = replace(made, examination=msgspec.structs.replace(made.examination, runs=runs))
    page = Page(report_page(made, issued=ISSUED, private=private))
    ticket = Page(ticket_page(made, private=private))
    for text in (page.text, ticket.text):
        assert "for all to see" in text
        assert ("neighbour" in text) == private
        assert ("not for publication" in text) == private
    assert ("smith-pedal.wav" in page.text) == private


def test_file_names_hold_nothing_that_was_typed() -> None:
    """Four names for pages, whatever the pedal is called; a private page has a name of its own."""
    places = {
        report_paths(Path("r"), private=private, ticket=ticket, pictures=False)[0].name
        for private in (False, True)
        for ticket in (False, True)
    }
    assert places == {"report.html", "report-private.html", "ticket.html", "ticket-private.html"}


def test_long_name_is_cut_in_the_heading_only() -> None:
    """10,000 letters: a heading that can be read; the item keeps as many as a screen shows."""
    page = Page(report_page(with_texts(NAMES[12]), issued=ISSUED))
    heading = next(e for e in page.elements if e.tag == "h1").text
    assert heading == "W" * 119 + "…"
    assert "W" * 150 in page.section("item").text
