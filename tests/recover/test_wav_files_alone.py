"""An examination made of sound files alone says what the simulator run directly says."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import msgspec
import pytest

from loopback.analysis import analyse
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.examination.wav import read_samples
from loopback.plan.naming import read_name
from loopback.report.document import facts_of
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import simulated_rig
from tests.reference.command_line import environment, here
from tests.reference.portable_recorder import signal_of

Capture = pytest.CaptureFixture[str]
SEED = 7
STANDARD = (
    "coupler-resistor",
    "pedal-on-a-resistor",
    "pedal-on-b-resistor",
    "pedal-off-a-resistor",
    "pedal-off-b-resistor",
    "coupler-resistor-2",
    "coupler-plain",
    "pedal-off-a-plain",
    "pedal-on-a-plain",
    "coupler-plain-2",
)
FOUR = ("coupler-resistor", "pedal-on-a-resistor", "pedal-off-a-resistor", "coupler-plain")
OF_A_FILE = {
    *("file", "sha256", "made", "origin", "path_channel", "expected_start", "where"),
    *("latency", "no_latency"),
}
"""What a recording made elsewhere cannot share with one made directly: nobody knows when it began
to play."""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> Path:
    """A folder that one is in, with the signal to play."""
    monkeypatch.chdir(tmp_path)
    arguments = ["signal", "sweep.wav", "--rate", "48k", "--seconds", "1"]
    assert here(arguments, capsys).status == 0
    return tmp_path


def recorded_elsewhere(
    place: Path, pedal: str, names: tuple[str, ...], how: dict[str, Any]
) -> list[Path]:
    """Let another process play the signal file and leave its recordings in a folder."""
    out = place / "recorder"
    out.mkdir()
    subprocess.run(
        [
            *(sys.executable, "-W", "error", "-m", "tests.reference.portable_recorder"),
            *("sweep.wav", pedal, str(SEED), str(out), msgspec.json.encode(how).decode(), *names),
        ],
        cwd=place,
        env=environment(),
        check=True,
        timeout=240,
    )
    order = {name: number for number, name in enumerate(names)}
    return sorted(out.iterdir(), key=lambda f: (order[f.stem.split("-take")[0]], f.name))


def added(files: list[Path], capsys: Capture) -> dict[str, Any]:
    """Add every file as a user does, a second take to the run of the first, and show the facts."""
    for file in files:
        run = (
            len(ExaminationFolder.open(Path("lamp")).document.runs) if Path("lamp").exists() else 0
        )
        hookup = ["--run", f"{run:02d}"] if file.stem.endswith("-take2") else ["--like"]
        arguments = ["add", "lamp", str(file), *hookup, "--resistor", "100k", "--tolerance", "1%"]
        ended = here(arguments, capsys)
        assert ended.status == 0, ended.err
    shown = here(["show", "lamp", "--json"], capsys)
    assert shown.status == 0
    facts: dict[str, Any] = msgspec.json.decode(shown.out)
    return facts


def directly(place: Path, pedal: str, names: tuple[str, ...]) -> dict[str, Any]:
    """Play the same hook-ups on the simulator in this process."""
    signal = signal_of(place / "sweep.wav")
    setup = Setup("simulator", resistor_ohm=100e3, resistor_tolerance=0.01)
    folder = ExaminationFolder.create(place / "direct", Pedal("Lamp"), setup, signal)
    rig = simulated_rig(pedal, SEED)
    for name in names:
        label = msgspec.structs.replace(read_name(name).label, resistor_ohm=None)
        if label.feed == "resistor":
            label = msgspec.structs.replace(label, resistor_ohm=100e3, resistor_tolerance=0.01)
        run = folder.append_run(label)
        for recorded in rig.play(RunRequest(label, signal, 2)):
            folder.append_recording(run, recorded, path_channel=0)
    facts: dict[str, Any] = msgspec.json.decode(
        msgspec.json.encode(facts_of(analyse(place / "direct")))
    )
    return facts


def without(facts: Any, left_out: set[str]) -> Any:
    """The same facts without some fields, at any depth."""
    if isinstance(facts, dict):
        return {k: without(v, left_out) for k, v in facts.items() if k not in left_out}
    if isinstance(facts, list):
        return [without(item, left_out) for item in facts]
    return facts


@pytest.mark.parametrize("pedal", ["quarry-lamp", "salt-lantern"])
def test_identical_samples_give_identical_numbers(place: Path, pedal: str, capsys: Capture) -> None:
    """Ten hook-ups through a process of its own: every fact is the same to the last digit."""
    files = recorded_elsewhere(place, pedal, STANDARD, {"takes_in_one": False})
    foreign = added(files, capsys)
    direct = directly(place, pedal, STANDARD)
    folders = [ExaminationFolder.open(place / name) for name in ("lamp", "direct")]
    for one, other in zip(*(f.document.runs for f in folders), strict=True):
        assert one.label == other.label
        for mine, theirs in zip(one.recordings, other.recordings, strict=True):
            a, _ = read_samples(folders[0].path_of(mine))
            b, _ = read_samples(folders[1].path_of(theirs))
            assert (a == b).all()
    for part in ("result", "pedal_runs", "references", "findings", "matrix"):
        assert without(foreign[part], OF_A_FILE) == without(direct[part], OF_A_FILE)


KINDS: dict[str, tuple[str, dict[str, Any]]] = {
    "flac, late, quieter": (
        "harbour-bell",
        {"suffix": ".flac", "lead_in_s": 3.0, "gain_db": -7.3},
    ),
    "float, among other channels": (
        "quarry-lamp",
        {"subtype": "FLOAT", "extra_before": 2, "extra_behind": 1},
    ),
    "16 bit, late": ("salt-lantern", {"subtype": "PCM_16", "lead_in_s": 1.2}),
    "fast clock": ("tidal-clock", {"clock_ppm": 30.0, "lead_in_s": 0.7, "extra_before": 1}),
    "slow clock, take by take": (
        "quarry-lamp",
        {"clock_ppm": -30.0, "gain_db": -3.0, "takes_in_one": False},
    ),
}
OF_THE_RECORDER = {"noise", "noise_over_reference_db", "behaviour"}
"""Noise is in dBFS of whatever recorded it and hides the pedal's; so do its own harmonics, which
those of a run are compared with, and the moment at which it was started."""


@pytest.mark.parametrize(("pedal", "how"), KINDS.values(), ids=KINDS)
def test_whatever_a_recorder_does_the_answer_stays(
    place: Path, pedal: str, how: dict[str, Any], capsys: Capture
) -> None:
    """Same class, power and size, and numbers that agree within what both state."""
    foreign = added(recorded_elsewhere(place, pedal, STANDARD, how), capsys)
    direct = directly(place, pedal, STANDARD)
    assert all(finding["grade"] != "refuse" for finding in foreign["findings"])
    assert foreign["result"]["path"] == direct["result"]["path"]
    assert foreign["result"]["power"] == direct["result"]["power"]
    assert (
        set(foreign["result"]["grades"]) & set(direct["result"]["grades"])
        or not direct["result"]["grades"]
    )
    assert (
        sum(
            compared(*(without(facts[part], OF_THE_RECORDER) for facts in (foreign, direct)))
            for part in ("result", "pedal_runs", "references")
        )
        >= 12
    )


def compared(foreign: Any, direct: Any) -> int:
    """Hold every number with a doubt to its twin; return how many there were."""
    if isinstance(foreign, dict) and isinstance(direct, dict):
        if {"value", "u"} <= foreign.keys() & direct.keys():
            apart = abs(foreign["value"] - direct["value"])
            if foreign["u"] is None:  # a doubt without bound carries no statement to hold
                assert direct["u"] is None
                return 0
            assert apart <= 2.5 * math.hypot(foreign["u"], direct["u"]), (foreign, direct)
            return 1
        return sum(compared(foreign[k], direct[k]) for k in foreign.keys() & direct.keys())
    if isinstance(foreign, list) and isinstance(direct, list):
        return sum(compared(a, b) for a, b in zip(foreign, direct, strict=False))
    return 0


def test_four_recordings_are_enough(place: Path, capsys: Capture) -> None:
    """Reference and pedal through the resistor, with and without power, and the plain reference."""
    result = added(recorded_elsewhere(place, "quarry-lamp", FOUR, {}), capsys)["result"]
    assert (result["path"], result["bypass_position"]) == ("loaded", "a")
