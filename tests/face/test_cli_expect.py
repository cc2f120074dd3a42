"""``loopback show --expect``: exit status, mistakes in the file, and the file in the folder."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.reference.command_line import here, in_process

Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One pedal with a pulldown, measured once."""
    place = tmp_path_factory.mktemp("bench")
    ended = in_process(
        ["measure", "Quarry Lamp", "--simulate", "quarry-lamp", "--plan", "quick",
         "--rate", "48k", "--seconds", "1", "--yes", "--quiet"],
        place,
    )  # fmt: skip
    assert ended.status == 0
    return place / "quarry-lamp"


def _sheet(place: Path, text: str) -> str:
    file = place / "sheet.toml"
    file.write_text(text, encoding="utf-8")
    return str(file)


def test_as_expected_is_status_0(folder: Path, tmp_path: Path, capsys: Capture) -> None:
    """Every line met: nothing to complain about."""
    sheet = _sheet(
        tmp_path, 'pulldown = "1M"\npulldown_tolerance = "40%"\nmost_capacitance = "30p"'
    )
    ended = here(["show", str(folder), "--expect", sheet, "--plain"], capsys)
    assert ended.status == 0
    out = " ".join(ended.out.split())
    assert "Expected As expected in every line. 1.0 Mohm across the line: met" in out


def test_surely_not_as_expected_is_status_3(folder: Path, tmp_path: Path, capsys: Capture) -> None:
    """A pedal with a pulldown is no true bypass by the strict rule; also for machines."""
    sheet = _sheet(tmp_path, "true_bypass = true")
    assert here(["show", str(folder), "--expect", sheet], capsys).status == 3
    ended = here(["show", str(folder), "--expect", sheet, "--json"], capsys)
    assert ended.status == 3
    expected = json.loads(ended.out)["result"]["expected"]
    assert expected == [
        {"key": "true_bypass", "wanted": True, "probability": None, "outcome": "not met"}
    ]


def test_a_mistake_in_the_file_is_wrong_usage(
    folder: Path, tmp_path: Path, capsys: Capture
) -> None:
    """Named before any work is done."""
    sheet = _sheet(tmp_path, "pulldwn = 1")
    ended = here(["show", str(folder), "--expect", sheet], capsys)
    assert ended.status == 2
    assert '"pulldwn", which is not known' in ended.err


def test_the_file_in_the_folder_counts(folder: Path, capsys: Capture) -> None:
    """What lies in the folder as expectation.toml is used without being named."""
    stored = folder / "expectation.toml"
    stored.write_text("true_bypass = true\n", encoding="utf-8")
    try:
        ended = here(["show", str(folder)], capsys)
    finally:
        stored.unlink()
    assert ended.status == 3
    assert "Not as expected: true bypass." in " ".join(ended.out.split())


def test_measure_keeps_what_was_expected(tmp_path: Path) -> None:
    """The file lies in the pedal's folder afterwards, and the status is that of the result."""
    sheet = _sheet(tmp_path, 'least_resistance = "5M"')
    call = [
        "measure", "Quarry Lamp", "--simulate", "quarry-lamp", "--plan", "quick", "--rate", "48k",
        "--seconds", "1", "--yes", "--quiet", "--expect", sheet,
    ]  # fmt: skip
    ended = in_process(call, tmp_path)
    assert (ended.status, ended.err) == (3, "")
    kept = tmp_path / "quarry-lamp" / "expectation.toml"
    assert kept.read_text(encoding="utf-8") == 'least_resistance = "5M"'
    broken = in_process([*call[:-1], _sheet(tmp_path, "least = 1")], tmp_path)
    assert broken.status == 2
    assert not (tmp_path / "quarry-lamp-2").exists()
