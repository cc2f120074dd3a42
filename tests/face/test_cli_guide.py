"""The pages of the guide: all there, as wide as a console, and true to what they draw and name."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from loopback.cli.guide import TOPICS, page
from loopback.plan.drawing import draw
from loopback.plan.runs import RunLabel
from loopback.simulate.pedal_text import FOOTSWITCHES
from loopback.simulate.state_sound import KINDS
from loopback.verdict.faults.record import FaultCode
from loopback.verdict.sentences_faults import NAMES
from tests.reference.command_line import ROOT, Called, here, in_process

NAMED = tuple(name for name, _ in TOPICS)
PACKAGE = ROOT / "loopback"


def test_every_page_is_listed_and_every_listed_page_is_there(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The list, the files and the table of topics agree."""
    listed = re.findall(r"^  ([a-z-]+)  ", here(["guide"], capsys).out, re.MULTILINE)
    assert tuple(listed) == NAMED
    assert {path.stem for path in (PACKAGE / "guide").iterdir()} == set(NAMED)


def test_every_page_that_the_tool_names_exists() -> None:
    """No sentence of the program sends anybody to a page that is not there."""
    files = [*PACKAGE.rglob("*.py"), *PACKAGE.rglob("*.md"), *PACKAGE.rglob("*.j2")]
    said = {
        topic
        for path in files
        for topic in re.findall(r"loopback guide ([a-z-]+)", path.read_text(encoding="utf-8"))
    }
    assert said >= {"resistor-lead", "needs"}
    assert said <= set(NAMED)


@pytest.mark.parametrize("topic", NAMED)
def test_page_fits_a_small_console(topic: str, capsys: pytest.CaptureFixture[str]) -> None:
    """At most 80 columns, no page too long to read at a table, nothing left of the markup."""
    shown = here(["guide", topic], capsys)
    assert (shown.status, shown.err) == (0, "")
    lines = shown.out.splitlines()
    assert max(len(line) for line in lines) <= 80
    assert 20 < len(lines) < 125
    assert not re.search(r"\*\*|```|^#|^\|", shown.out, re.MULTILINE)
    assert "\n\n\n" not in shown.out


@pytest.mark.parametrize("topic", NAMED)
def test_page_can_be_written_in_ascii(topic: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Plain signs on request: every letter is one that any console has."""
    out = here(["guide", topic, "--plain"], capsys).out
    assert out.replace("é", "e").isascii()  # in a name of the bibliography
    # What a command writes stands as it is, and grows by the letters of its units.
    assert max(len(line) for line in out.splitlines()) <= 88
    assert "ohm" in out or topic in ("five-minutes", "cautions")


def test_one_byte_console_gets_it_too(tmp_path: Path) -> None:
    """In a process whose console is ASCII nothing fails and nothing is lost to question marks."""
    shown = in_process(["guide", "needs"], tmp_path, encoding="ascii")
    assert (shown.status, shown.err) == (0, "")
    assert "1 Mohm" in shown.out
    assert shown.out.count("?") == page("needs").count("?")


def _on_a_terminal(topic: str, monkeypatch: pytest.MonkeyPatch,
                   capsys: pytest.CaptureFixture[str]) -> Called:  # fmt: skip
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.delenv("NO_COLOR", raising=False)
    return here(["guide", topic], capsys)


def test_terminal_shows_bold_and_no_colour(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is typed and what heads a section is bold; no colour, and still 80 columns."""
    monkeypatch.setattr("click.utils.should_strip_ansi", lambda *_: False)
    shown = _on_a_terminal("needs", monkeypatch, capsys).out
    assert set(re.findall(r"\x1b\[([\d;]*)m", shown)) <= {"", "0", "1"}
    assert "\x1b[1mloopback guide resistor-lead\x1b[0m" in shown
    assert max(len(click.unstyle(line)) for line in shown.splitlines()) <= 80


def test_unknown_page_names_what_is_near(capsys: pytest.CaptureFixture[str]) -> None:
    """A slip of the fingers is wrong usage, and the page that was meant is named."""
    ended = here(["guide", "fault"], capsys)
    assert ended.status == 2
    assert 'Near to it: "faults"' in ended.err
    assert all(name in ended.err for name in NAMED)


def test_hook_ups_are_drawn_as_the_tool_draws_them() -> None:
    """Whoever read the page knows the drawings of `measure` again."""
    drawn = [
        draw(RunLabel(path, feed, resistor_ohm=100e3 if feed == "resistor" else None))
        for feed in ("resistor", "plain")
        for path in ("coupler", "pedal")
    ]
    assert all(f"\n    {line}\n" in page("needs") for line in drawn)


def test_conductors_of_the_drawings_line_up() -> None:
    """In the drawings of both conductors, tip and sleeve are joined at the same places."""
    lines = page("needs").splitlines()
    tips = [i for i, line in enumerate(lines) if re.match(r"    tip +o=", line)]
    assert len(tips) == 2
    for i in tips:
        tip, sleeve = lines[i], lines[i + 2]
        assert sleeve.startswith("    sleeve")
        ends = [[m.start() for m in re.finditer(r"(?<=[ =-])o|o(?=[ =-])", line)]
                for line in (tip.split("tip", 1)[1], sleeve.split("sleeve", 1)[1])]  # fmt: skip
        shift = len("sleeve") - len("tip")
        assert [at - shift for at in ends[0]] == ends[1]
        assert tip.index("[100k]") > len(tip) / 3  # at the end of the pedal
        assert "[" not in sleeve  # never in the screen


def test_every_fault_has_its_place_on_the_page() -> None:
    """The names that the result uses are found on the page of faults, letter by letter."""
    text = " ".join(page("faults").replace("*", "").split()).casefold()
    assert set(NAMES) == set(FaultCode.__args__)
    missing = [name for name in NAMES.values() if name.casefold() not in text]
    assert missing == []


def test_every_directive_is_described() -> None:
    """Whatever a pedal file may say about its sound, its states and its switch is on the page."""
    text = page("simulated-pedals")
    words = (*KINDS, "softclip", "noise", "delay", "band", "press", "tap", "unpowered", "table")
    assert [word for word in words if f".{word}" not in text] == []
    assert [kind for kind in FOOTSWITCHES if f"`{kind}`" not in text] == []


@pytest.mark.parametrize("word", ["headphones", "loudspeaker", "earth", "48 v", "licensed",
                                  "local codes", "resistor", "high voltage"])  # fmt: skip
def test_cautions_hold_them_all(word: str) -> None:
    """Nothing of what may hurt is missing."""
    assert word in page("cautions").casefold()
