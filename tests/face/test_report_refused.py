"""The report of an examination in which a gate refused runs: which, why, and how to mend it."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

from loopback.analysis import analyse
from loopback.arrays import F64
from loopback.examination.wav import write_wav24
from loopback.plan.naming import label_from_name
from loopback.report.page_refused import again_command, unused_runs
from tests.reference.command_line import here
from tests.reference.damaged_examinations import LONG, SIGNAL, sitting, store
from tests.reference.page_reader import Page


def cut_off(samples: F64) -> F64:
    """A recorder that was stopped half way."""
    return samples[: len(samples) // 2]


@pytest.fixture(scope="module")
def refused(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Runs 02 and 05 without a usable take, run 03 with one of two."""
    damage = dict.fromkeys([(2, 1), (2, 2), (5, 1), (5, 2), (3, 2)], cut_off)
    return store(tmp_path_factory.mktemp("refused"), sitting(LONG), damage).path


def test_page_names_the_refused_runs_why_and_how_to_make_them_again(
    refused: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In the result, then in full with reason and command; a take beside a good one is noticed."""
    done = here(["report", str(refused), "--into", str(tmp_path)], capsys)
    assert (done.status, done.err) == (0, "")
    text = " ".join(Page((tmp_path / "report.html").read_text(encoding="utf-8")).text.split())
    assert "2 of 9 runs could not be used: 02, 05." in text
    assert "takes 1 and 2: cut off at the tail" in text
    assert "Let the recording run on for a second after the last tone." in text
    assert "loopback add FOLDER pedal-on-a-resistor-100k-1%.wav --like --again 02" in text
    assert "loopback add FOLDER coupler-resistor-100k-1%.wav --like --again 05" in text
    assert "! 03/2: cut off" in text
    assert "! 02/1" not in text
    assert str(refused) not in text
    assert here(["report", str(refused), "--ticket", "--into", str(tmp_path)], capsys).status == 0
    ticket = Page((tmp_path / "ticket.html").read_text(encoding="utf-8")).text
    assert "2 of 9 runs could not be used: 02, 05." in " ".join(ticket.split())


def test_the_shown_command_makes_the_run_again(
    refused: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Typed as shown, with a good recording of that name, it leaves one run refused, not two."""
    analysis = analyse(refused)
    first = unused_runs(analysis)[0]
    words = shlex.split(again_command(analysis, first))
    assert words[:3] == ["loopback", "add", "FOLDER"]
    assert label_from_name(words[3]) == first.run.label
    write_wav24(tmp_path / words[3], sitting(LONG).takes[1][0], SIGNAL.rate_hz)
    call = ["add", str(refused), str(tmp_path / words[3]), *words[4:]]
    assert here(call, capsys).status == 0
    assert [facts.run.id for facts in unused_runs(analyse(refused))] == ["05"]
