"""Whatever somebody types as a name or a note: no output breaks, and nothing gets into it.

The page has its own tests; here are terminal, JSON, tables, Touchstone, pictures, names of files.
"""

from __future__ import annotations

import csv
import json
import re
import shlex
import unicodedata
import xml.etree.ElementTree as ET
from dataclasses import replace
from io import StringIO
from pathlib import Path

import jsonschema
import msgspec
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from loopback.cli.folders import folder_name, pasted
from loopback.cli.screen import Screen
from loopback.examination.described import WORDS, reworded, with_words, words_of
from loopback.examination.package import name_problem
from loopback.examination.records import Examination
from loopback.examination.shown import shown
from loopback.facts import Analysis
from loopback.proof.told import verification_json, verification_screen
from loopback.proof.verify import Verification
from loopback.report.document import facts_json
from loopback.report.exports import export_texts
from loopback.report.facts_schema import facts_schema
from loopback.report.item_words import described_screen, reworded_screen
from loopback.report.machine import this_machine
from loopback.report.pictures import picture_svg
from loopback.report.short import MOST_LINE, line_form, short_form_text
from loopback.report.text import result_screen
from loopback.report.touchstone import touchstone_text
from loopback.texts import for_terminal, one_line, some_lines
from tests.reference.invented_analysis import analysis

UNFIT = re.compile(
    "[\x00-\x09\x0b-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e\u2066-\u2069]"
)
FIELDS = ("name", "maker", "model", "serial", "revision", "mode", "jacks", "supply", "claim")
PIECES = (
    "\n", "\r\n", "\r", "\t", "\x00", "\x07", "\x1b[31m", "\x1b]0;title\x07", "\x9b1m", "\x85",
    "\u2028", "\u202e", "\u2066", "\u200f", "\u061c", "\ufeff", "\u200b", "\uffff", "\ufdd0",
    "<script>", "</svg>", "&amp;", "]]>", "--", "'", '"', "`id`", "$(id)", "$x^2$", "\\", "..", "/",
    "=1+1", "+1", "-1", "@x", "CON", "nul", "%s", "{}", "{0}", "! ", "# Hz", "Result  True bypass",
    "\u0301" * 9, "\U0001f3b8", "אבג", "é", "e\u0301", "ﬁ", " ", ",", ";", "W" * 300,
)  # fmt: skip
HOSTILE = st.lists(st.sampled_from(PIECES) | st.text(max_size=8), min_size=1, max_size=8).map(
    "".join
)
SCHEMA = jsonschema.Draft202012Validator(facts_schema())


def stored(text: str) -> Examination:
    """A document in which everything that can be typed is this text, as a file would hold it."""
    document = analysis().examination
    pedal = msgspec.structs.replace(
        document.pedal, **dict.fromkeys((*FIELDS, "note", "private_note"), text)
    )
    runs = tuple(
        msgspec.structs.replace(
            run,
            label=msgspec.structs.replace(run.label, note=text),
            recordings=tuple(msgspec.structs.replace(r, origin=text) for r in run.recordings),
        )
        for run in document.runs
    )
    setup = msgspec.structs.replace(document.setup, name=text, note=text)
    return msgspec.structs.replace(document, pedal=pedal, setup=setup, runs=runs, conditions=text)


def shown_analysis(text: str) -> Analysis:
    """What the analysis of such a document is, as far as texts go."""
    document = shown(stored(text))
    made = analysis()
    runs = tuple(
        replace(facts, run=run) for facts, run in zip(made.pedal_runs, document.runs, strict=True)
    )
    return replace(made, examination=document, pedal_runs=runs)


def assert_harmless(text: str) -> None:
    """Only line feeds control anything, and only they break lines."""
    assert not UNFIT.search(text), ascii(text)
    assert (text + ".").splitlines() == (text + ".").split("\n")


@given(st.text() | HOSTILE)
def test_one_line_is_one_line(text: str) -> None:
    """Printable, single spaces, bounded; once more it is the same, and plain text is untouched."""
    line = one_line(text, 50)
    assert "\n" not in line
    assert_harmless(line)
    assert len(line) <= 50
    assert one_line(line, 50) == line
    assert not any(0xD800 <= ord(letter) <= 0xDFFF for letter in line)
    assert_harmless(some_lines(text))
    assert some_lines(some_lines(text)) == some_lines(text)


@pytest.mark.parametrize("text", ["Quarry Lamp", "Ö-Zerrer №3", "日本語", "שלום", "नमस्ते", "👩‍🎤 π"])
def test_names_of_the_world_stay(text: str) -> None:
    """No letter of an honest name is lost; a note keeps its lines."""
    assert one_line(text) == text
    assert some_lines(f"{text}\n\n{text}") == f"{text}\n\n{text}"
    assert shown(stored(text)).pedal.name == text


@given(HOSTILE)
@example("0042\nNote           forged\n")
@settings(max_examples=40)
def test_described_words_keep_their_lines(text: str) -> None:
    """What is noted and what it replaces: each heading once, and nothing that a console obeys."""
    document = stored(text)
    screen = described_screen(document, "lamp", signs=True)
    assert_harmless(screen)
    headings = re.findall(r"^(\w[\w ]*?)(?:  |$)", "\n".join(screen.split("\n")[1:]), re.MULTILINE)
    assert headings[: len(WORDS)] == list(dict.fromkeys(headings))[: len(WORDS)]
    assert headings.count("Serial number") == 1
    changed = with_words(document, dict.fromkeys(WORDS, text + "x"))
    assert words_of(with_words(changed, words_of(changed))) == words_of(changed)
    back = reworded(document, with_words(document, dict.fromkeys(WORDS, "")))
    assert_harmless(reworded_screen(back, signs=True))
    assert_harmless(reworded_screen(reworded(document, changed), signs=True))


@given(HOSTILE)
@example("Lamp\nResult         True bypass\n")
@settings(max_examples=40)
def test_screens_keep_their_lines(text: str) -> None:
    """The result screen has each heading once, whatever the name says; short forms stay short."""
    made = shown_analysis(text)
    screen = result_screen(made, "lamp", signs=True)
    assert_harmless(screen)
    headings = re.findall(r"^(\w[\w ]*?)(?:  |$)", "\n".join(screen.split("\n")[1:]), re.MULTILINE)
    assert headings.count("Result") == 1
    assert len(headings) == len(set(headings))
    line = line_form(made)
    assert_harmless(line)
    assert len(line) <= MOST_LINE
    assert "\n" not in line
    assert "19.2 pF ± 0.7" in line
    short = short_form_text(made)
    assert_harmless(short)
    assert sum(row.startswith("Size: ") for row in short.split("\n")) == 1
    assert len(short.split("\n")) <= 10


@given(HOSTILE)
@settings(max_examples=25)
def test_files_for_machines_stay_whole(text: str) -> None:
    """JSON fits its schema, tables keep their columns, no cell is a formula, s2p its lines."""
    made = shown_analysis(text)
    facts = json.loads(facts_json(made))
    SCHEMA.validate(facts)
    assert facts["pedal"]["private_note"] == ""
    texts = export_texts(made)
    for name, table in texts.items():
        assert not name_problem(name)
        if not name.endswith(".csv"):
            continue
        assert_harmless(table)
        rows = list(csv.reader(StringIO(table)))
        assert {len(row) for row in rows} == {len(rows[0])}
        if name == "contents.csv":
            assert not [c for row in rows for c in row if c[:1] in ("=", "+", "-", "@", "\t", "\r")]
    matrix = np.tile(np.eye(2, dtype=np.complex128), (2, 1, 1))
    matrix[:, 0, 1] = 1.0
    lines = touchstone_text(np.array([1.0, 2.0]), matrix, [text]).split("\n")
    assert next(line for line in lines if not line.startswith("!")) == "# Hz S RI R 600"
    assert sum(not line.startswith(("!", "#")) for line in lines[:-1]) == 2
    assert all(line.isascii() and line.isprintable() for line in lines)


@given(HOSTILE)
@example("\x1b[2J\x1b]8;;evil\x07\u202e")
@settings(max_examples=40)
def test_terminal_is_never_told_what_to_do(text: str) -> None:
    """Even a text that nobody cleaned reaches the terminal without a control character."""
    assert_harmless(for_terminal(text).replace("\x1b[0m", "").replace("\x1b[1m", ""))
    made = Verification(text, 0, None, 0, 0, "0.1.0", this_machine(), False, (), (), None, None)
    assert_harmless(verification_screen(made, "lamp"))
    assert json.loads(for_terminal(verification_json(made)))["follows"] is None


def test_what_is_written_went_through_the_filter(capsys: pytest.CaptureFixture[str]) -> None:
    """Results, notes and complaints all do; bold is taken out where nothing can show it."""
    screen = Screen()
    for write in (screen.result, screen.note, screen.complain):
        write("a\x1b[31mb\x07\u202ec\x1b[1md\x1b[0m\ne")
        out, err = capsys.readouterr()
        assert "a\ufffd[31mb\ufffd\ufffdcd\ne" in (out or err)


@given(HOSTILE)
@example("$\\frac{1}{$ </text><script>alert(1)</script>")
@settings(max_examples=4)
def test_pictures_are_well_formed(text: str) -> None:
    """A picture is drawn, is XML, and has no element that the text brought along."""
    root = ET.fromstring(picture_svg(shown_analysis(text), "zoom"))
    names = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert not names & {"script", "a", "foreignObject", "image", "iframe"}


@given(st.text() | HOSTILE)
@example("CON")
@example("com1")
@example("é" * 500)
def test_folders_have_names_for_every_system(text: str) -> None:
    """Lower-case letters, digits and hyphens, no device, short enough for every disk."""
    name = folder_name(text)
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]*", name)
    assert not name_problem(name)
    assert unicodedata.is_normalized("NFKD", name)


@given(st.text(min_size=1, max_size=20).filter(lambda t: "\x00" not in t))
@example("$(id)")
@example("a`id`b")
@example("-rf")
@example('a"b')
def test_pasted_paths_are_one_word(text: str) -> None:
    """A shell reads a path that is shown for pasting as that path and nothing else."""
    path = Path(text)
    if any(unicodedata.category(c) in ("Cc", "Cf", "Zs", "Zl", "Zp") and c != " " for c in text):
        return  # shown with a stand-in, see above
    (word,) = shlex.split(pasted(path))
    assert Path(word) == path
    assert not word.startswith("-")
