"""The help page and what happens to wrong usage."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from loopback.cli.main import loopback
from tests.reference.command_line import here, in_process

COMMANDS = (
    "demo",
    "guide",
    "setup",
    "measure",
    "signal",
    "add",
    "show",
    "plot",
    "report",
    "player",
    "compare",
    "export",
    "verify",
    "pack",
    "unpack",
    "meter",
    "press",
    "tap",
    "describe",
)


def test_help_page_lists_what_exists(capsys: pytest.CaptureFixture[str]) -> None:
    """Every command of the page exists, and every command is on the page."""
    page = here(["--help"], capsys)
    assert page.status == 0
    listed = re.findall(r"^  ([a-z]+)\s", page.out, re.MULTILINE)
    assert set(listed) == set(COMMANDS)
    context = click.Context(loopback)
    assert set(loopback.list_commands(context)) == set(COMMANDS)
    assert [loopback.get_command(context, n).name for n in COMMANDS] == list(COMMANDS)
    assert max(len(line) for line in page.out.splitlines()) <= 80
    assert page.out.isascii()


@pytest.mark.parametrize("arguments", [[], ["-h"]])
def test_page_is_shown_when_nothing_is_asked(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a command there is the same page, and it is no error."""
    assert here(arguments, capsys).out == here(["--help"], capsys).out


@pytest.mark.parametrize("name", COMMANDS)
def test_command_explains_itself(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Each help page fits a small console and ends in lines that can be pasted."""
    page = here([name, "--help"], capsys)
    assert page.status == 0
    assert page.out.isascii()
    lines = page.out.rstrip().splitlines()
    assert max(len(line) for line in lines) <= 80
    assert lines[-1].strip().startswith(f"loopback {name}")
    assert "--plain" in page.out
    assert "--quiet" in page.out


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["tune"], "tune"),
        (["show"], "FOLDER"),
        (["show", "--loud", "x"], "--loud"),
        (["add", "lamp"], "FILE"),
        (["signal", "a.wav", "--seconds", "long"], "long"),
        (["signal", "a.wav", "--rate", "44,1k"], "44.1k"),
        (["signal", "a.wav", "--rate", "eleven"], "eleven"),
        (["measure", "x", "--simulate", "harbour-bell", "--resistor", "0"], "100k"),
    ],
)
def test_wrong_usage_is_2_and_says_what(
    arguments: list[str], word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Wrong usage names what was wrong, on standard error, without a traceback."""
    ended = here(arguments, capsys)
    assert ended.status == 2
    assert ended.out == ""
    assert ended.err.startswith("! ")
    assert word in ended.err
    assert "Traceback" not in ended.err


def test_version_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    """The version of the package, in one line."""
    assert re.fullmatch(r"loopback \d+\.\d+\.\d+\n", here(["--version"], capsys).out)


def test_module_can_be_run(tmp_path: Path) -> None:
    """`python -m loopback` is the same program."""
    ended = in_process(["--help"], tmp_path)
    assert (ended.status, ended.err) == (0, "")
    assert "measure PEDAL" in ended.out
