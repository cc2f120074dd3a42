"""What README and guide tell people to type works, in the order in which it stands there."""

from __future__ import annotations

import ast
import doctest
import json
import re
import shlex
import sys
from pathlib import Path

import click
import jsonschema
import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.cli.main import loopback as program
from loopback.examination.folder import ExaminationFolder
from loopback.examination.signal_file import read_sheet
from loopback.examination.wav import write_wav24
from loopback.plan.naming import read_name
from loopback.plan.runs import RunLabel
from loopback.report.document import facts_json
from loopback.report.facts_schema import shipped_schema
from loopback.report.text import MOST_LINES
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import simulated_rig
from tests.reference.command_line import ROOT, Called, in_process
from tests.reference.shown_commands import INLINE, Step, documents, steps_of, unlike

DOCUMENTS = documents()
README = DOCUMENTS[0].text
STEPS = tuple(step for document in DOCUMENTS for step in steps_of(document))
COMMANDS = tuple(dict.fromkeys(step.command for step in STEPS if not step.is_file))
"""Each once: a page may repeat what another one said."""
FIRST = "loopback demo"
"""README shows a screen of it before it says how to get there."""
INLINE_COMMANDS = tuple(
    sorted({c for d in DOCUMENTS for c in INLINE.findall(d.text)} - {"loopback --help"})
)
Ran = tuple[Path, dict[str, Called]]


def record_what_is_added(place: Path) -> None:
    """Be the recorder: play the signal through a simulated pedal for every file that is added."""
    signal = read_sheet(place / "sweep.wav").signal
    rig = simulated_rig("quarry-lamp", seed=5)
    for command in COMMANDS:
        words = shlex.split(command)
        if words[:2] != ["loopback", "add"]:
            continue
        named = "--like" in words
        label = (
            read_name(words[3]).label
            if named
            else RunLabel("pedal", "resistor", "on", "b", resistor_ohm=100e3)
        )
        takes = rig.play(RunRequest(label, signal, 2))
        channel = [take.samples[:, 0] for take in takes if take.samples is not None]
        write_wav24(place / words[3], np.concatenate(channel)[:, np.newaxis], signal.rate_hz)


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """Every command of README and guide, typed one after the other in one folder."""
    place = tmp_path_factory.mktemp("readme")
    ended = {FIRST: in_process(shlex.split(FIRST)[1:], place)}
    for step in STEPS:
        if step.is_file:
            (place / step.command).write_text(step.shown or "", encoding="utf-8")
        elif step.command not in ended:
            ended[step.command] = in_process(shlex.split(step.command)[1:], place)
            if step.command.startswith("loopback signal"):
                record_what_is_added(place)
    return place, ended


def test_readme_shows_every_command() -> None:
    """The README has a line to paste for each command there is."""
    mine = (step for step in STEPS if step.document == "README.md" and not step.is_file)
    shown = {shlex.split(step.command)[1] for step in mine}
    commands = program.list_commands(click.Context(program))
    assert shown == {"--help", *commands}


@pytest.mark.parametrize("command", COMMANDS)
def test_shown_command_works(ran: Ran, command: str) -> None:
    """It ends with status 0 and says nothing on standard error."""
    ended = ran[1][command]
    assert (ended.status, ended.err) == (0, "")


SHOWN = [step for step in STEPS if step.shown is not None and not step.is_file]


@pytest.mark.parametrize("step", SHOWN, ids=lambda step: f"{step.document}: {step.command}")
def test_shown_output_is_what_comes_out(ran: Ran, step: Step) -> None:
    """What a page shows below a command is what the command writes."""
    assert unlike(step.shown or "", ran[1][step.command].out) == ""


def test_the_comparison_of_outputs_can_fail() -> None:
    """Another word, a number that is too far off, a line too many are seen; another day is not."""
    found = "LAMP on 3 May 2027\nabout 12.8 pF ± 0.8\nall is well\n"
    assert unlike("LAMP on 25 Nov 2026\nabout 12.9 pF ± 0.8\nall is well", found) == ""
    assert unlike("LAMP on 25 Nov 2026\n...\nis well", found) == ""
    assert "12.8" in unlike("LAMP on 25 Nov 2026\nabout 16.8 pF ± 0.8\nall is well", found)
    assert "bell" in unlike("LAMP on 25 Nov 2026\n...\nall is bell", found)
    assert unlike("LAMP on 25 Nov 2026\nabout 12.8 pF ± 0.8", found) != ""
    assert unlike("...\nis well\n...\nabout 12.8", found) != ""


@pytest.mark.parametrize("command", INLINE_COMMANDS)
def test_command_within_a_sentence_exists(command: str) -> None:
    """Verb and options exist, and a page of the guide that is named is there."""
    words = shlex.split(command)[1:]
    verb = program.get_command(click.Context(program), words[0])
    assert verb is not None
    known = {name for parameter in verb.params for name in parameter.opts}
    assert {word for word in words if word.startswith("--")} <= known | {"--help"}
    if words[0] == "guide" and len(words) > 1:
        assert words[1] in {document.name for document in DOCUMENTS}


def test_python_of_the_readme_says_what_it_shows(ran: Ran, monkeypatch: pytest.MonkeyPatch) -> None:
    """The example of use from Python runs in that folder, and every shown line is right."""
    monkeypatch.chdir(ran[0])
    code = re.findall(r"^```python\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    assert len(code) == 1
    test = doctest.DocTestParser().get_doctest(code[0], {}, "README.md", "README.md", 0)
    assert len(test.examples) > 5
    told: list[str] = []
    doctest.DocTestRunner().run(test, out=told.append)
    assert told == []
    assert (ran[0] / "insertion.png").stat().st_size > 10_000


def test_links_lead_somewhere() -> None:
    """Every link of the README is a file of the project, and every page of the guide is linked."""
    links = re.findall(r"\]\(([^)]+)\)", README)
    assert [link for link in links if not (ROOT / link).is_file()] == []
    pages = {Path(link).stem for link in links if link.startswith("loopback/guide/")}
    assert pages == {document.name for document in DOCUMENTS[1:]}


def test_four_recordings_give_the_answer(ran: Ran) -> None:
    """The four files of the README, with nothing else, find the 1 MΩ pulldown."""
    shown = ran[1]["loopback show lamp"].out
    said = " ".join(shown.split())
    assert "Passive, not true bypass by the strict rule" in said
    assert "Passes without power in the bypass position" in said
    value = re.search(r"tip to sleeve +([\d.]+) (MΩ|kΩ)", shown)
    assert value is not None
    ohm = float(value[1]) * {"MΩ": 1e6, "kΩ": 1e3}[value[2]]
    assert ohm == pytest.approx(1e6, rel=0.03)


def test_demo_shows_the_five_kinds(ran: Ran) -> None:
    """True bypass, 1 MΩ, half-switched, buffered, and one that cannot be told, each on a screen."""
    out = ran[1]["loopback demo"].out
    names = re.findall(r"^([A-Z][A-Z ]+) in bypass", out, re.MULTILINE)
    blocks = {name: out.split(f"{name} in bypass")[1] for name in names}
    said = {name: " ".join(block.split("Next ")[0].split()) for name, block in blocks.items()}
    assert list(said) == [
        "HARBOUR BELL", "QUARRY LAMP", "TIDAL CLOCK", "SALT LANTERN", "DRIFT BOTTLE",
    ]  # fmt: skip
    assert "Result True bypass" in said["HARBOUR BELL"]
    assert "not true bypass by the strict rule" in said["QUARRY LAMP"]
    assert "Passive, loaded" in said["TIDAL CLOCK"]
    assert "Active, buffered" in said["SALT LANTERN"]
    assert '"true bypass": does not agree' in said["SALT LANTERN"]
    assert "Cannot tell true bypass from a load" in said["DRIFT BOTTLE"]
    assert "resistor, 47 to 220 kΩ" in said["DRIFT BOTTLE"]
    for block in blocks.values():
        screen = re.split(r"\n\n", block)[0].splitlines()
        assert len(screen) <= MOST_LINES


def test_demo_leaves_what_it_lists(ran: Ran) -> None:
    """Every file named to be opened exists, and every folder is a whole examination."""
    place, ended = ran
    listed = re.findall(r"^  (demo.*\.html)$", ended["loopback demo"].out, re.MULTILINE)
    assert len(listed) == 5
    assert all((place / name).stat().st_size > 10_000 for name in listed)
    folders = [ExaminationFolder.open(path) for path in sorted((place / "demo").iterdir())]
    assert sorted(len(f.document.runs) for f in folders) == [6, 10, 10, 10, 10]
    assert all(f.missing == () for f in folders)


def test_facts_of_every_demo_pedal_fit_the_schema(ran: Ran) -> None:
    """An independent library finds nothing in their JSON that the published schema forbids."""
    schema = jsonschema.Draft202012Validator(json.loads(shipped_schema()))
    folders = sorted((ran[0] / "demo").iterdir())
    assert len(folders) == 5
    for folder in folders:
        facts = json.loads(facts_json(analyse(folder)))
        assert [f"{e.json_path}: {e.message}" for e in schema.iter_errors(facts)] == []


def test_packed_and_unpacked_it_still_follows(ran: Ran) -> None:
    """What was published, sent and unpacked elsewhere is verified there, to the last bit."""
    said = " ".join(ran[1]["loopback verify received"].out.split())
    assert "The published numbers follow from these recordings." in said
    assert "the same to the last bit" in said


def test_demo_script_needs_nothing_installed() -> None:
    """Before it has installed anything it imports the standard library and its neighbour only."""
    for name in ("demo.py", "environment.py"):
        tree = ast.parse((ROOT / "scripts" / name).read_text(encoding="utf-8"))
        imported = {
            name.split(".")[0]
            for node in ast.walk(tree)
            for name in (
                [alias.name for alias in node.names]
                if isinstance(node, ast.Import)
                else [node.module or ""]
                if isinstance(node, ast.ImportFrom)
                else []
            )
        }
        assert imported <= {*sys.stdlib_module_names, "environment"}


CAUTIONS = ("headphones", "loudspeaker", "mains", "earth", "48 V", "licensed practice")


@pytest.mark.parametrize("caution", CAUTIONS)
def test_cautions_stand_before_the_first_command(caution: str) -> None:
    """Whoever reads from the top meets every caution before anything can be typed."""
    assert caution.lower() in README.split("python3 scripts/demo.py")[0].lower()
