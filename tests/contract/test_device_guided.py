"""`setup` and the whole guided measurement through the real server, with hands between the runs."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from pathlib import Path

import numpy as np
import pytest

from loopback.analysis import analyse
from loopback.cli.level_meter import LevelMeter
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.examination.setup_record import read_setup
from loopback.guided.looking import Onlooker
from loopback.guided.setting_up import carry_out, keep_unplugged
from loopback.guided.setup_asked import SetupOutcome, Wishes
from loopback.guided.setup_steps import set_up
from loopback.guided.sitting import sit
from loopback.plan.guide_state import begin
from loopback.plan.plans import TableFacts
from loopback.rig.device import DeviceRig
from loopback.rig.protocol import Recorded, RunRequest
from loopback.signal.take import plan_signal
from tests.contract.audio_server import AudioServer, faster, reachable
from tests.contract.device_runs import NOISE
from tests.contract.hands import HandsRig, impulse_response
from tests.reference.command_line import here
from tests.reference.scripted_hands import ScriptedHands, short_plan

pytestmark = pytest.mark.needs("jackd", "lib:portaudio")


@pytest.fixture(scope="module")
def server() -> Generator[AudioServer]:
    """Give a server with long periods: faster, and nothing here depends on them."""
    with AudioServer(48_000, period=4096) as running, reachable(running):
        yield running


def set_up_on(server: AudioServer, folder: Path) -> tuple[SetupOutcome, ScriptedHands]:
    """Set up with the check cable that the server has."""
    hands = ScriptedHands(["yes"])
    rig = HandsRig(server, "harbour-bell", folder)
    wishes = Wishes(
        "pedal", (48_000,), check_output=2, check_input=2, resistor_ohm=100e3,
        resistor_tolerance=0.01,
    )  # fmt: skip
    return carry_out(set_up(wishes), lambda _check: rig, hands, 1.0), hands


@pytest.fixture(scope="module")
def outcome(server: AudioServer, tmp_path_factory: pytest.TempPathFactory) -> SetupOutcome:
    """What setting up found on this server, once for all tests."""
    return set_up_on(server, tmp_path_factory.mktemp("filters"))[0]


def test_setup_finds_what_is_there(server: AudioServer, tmp_path: Path) -> None:
    """Level, floor, check cable, setup capacitance and input resistance; nothing bad."""
    found, hands = set_up_on(server, tmp_path)
    assert hands.bad() == []
    assert found.check
    assert found.level_dbfs == -12.0  # the ceiling: a gain of -12 dB asks for more
    # 300 pF lead, 110 pF input, 2 pF coupler, 1.02 MΩ: the circuit that the hands plug.
    assert found.node_farad == pytest.approx(412e-12, rel=0.02)
    assert found.input_ohm == pytest.approx(1.02e6, rel=0.03)
    assert found.unplugged.leak_db is not None
    assert found.unplugged.leak_db < -70.0
    assert found.unplugged.gain_db is None


@pytest.mark.parametrize(
    ("pedal", "plan", "path", "power"),
    [
        # Without the plain lead a part in line could look like wire: so both leads for this one.
        ("harbour-bell", "standard", "wired", "bypass_position"),
        ("quarry-lamp", "quick", "loaded", "bypass_position"),
        ("salt-lantern", "quick", "buffered", "never"),
    ],
)
def test_guided_measurement_gives_the_right_result(
    server: AudioServer,
    outcome: SetupOutcome,
    tmp_path: Path,
    pedal: str,
    plan: str,
    path: str,
    power: str,
) -> None:
    """A plan with short sweeps at the level found; the unplugged run of setup goes along."""
    setup = Setup("device", "pedal", outcome.resistor_ohm, outcome.resistor_tolerance)
    assert keep_unplugged(tmp_path / "unplugged", outcome, setup, 1.0)
    rig = HandsRig(server, pedal, tmp_path)
    signal = plan_signal(outcome.rate_hz, 1.0, outcome.level_dbfs)
    folder = ExaminationFolder.create(tmp_path / "lamp", Pedal(pedal), setup, signal)
    facts = TableFacts(
        resistor_ohm=outcome.resistor_ohm, resistor_tolerance=outcome.resistor_tolerance
    )
    hands = ScriptedHands()
    state = begin(short_plan(plan), pedal, facts)
    done = sit(state, folder, rig, hands, Onlooker(folder))
    runs = len(state.plan.steps)
    assert done.text == f"All {runs} runs usable. Leads may come off now."
    folder.copy_run_from(ExaminationFolder.open(tmp_path / "unplugged"), "01")
    needs_power = power == "never"
    assert len(hands.bad()) == needs_power  # once: is the dead path a press that was forgotten?
    result = analyse(tmp_path / "lamp").result
    assert (result.path, result.power) == (path, power)


def test_the_commands_play_through_the_interface(
    server: AudioServer,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`setup` and `measure` as typed, on the server; only the plugging is done for them."""
    original = DeviceRig.play

    def plugged(self: DeviceRig, request: RunRequest) -> Iterator[Recorded]:
        taps = impulse_response(request.label, "quarry-lamp", "", request.signal.rate_hz)
        server.use_filter(taps, tmp_path)
        return original(self, request)

    quick = faster(server)
    monkeypatch.setattr(DeviceRig, "play", plugged)
    monkeypatch.setattr(LevelMeter, "__call__", lambda _self, done, peak: quick(done, peak))
    monkeypatch.chdir(tmp_path)
    server.tell("noise", NOISE)
    call = ["setup", "--device", "pedal", "--rate", "48k", "--seconds", "1", "--yes"]
    ended = here([*call, "--check-cable", "2:2", "--resistor", "100k"], capsys)
    assert (ended.status, ended.err) == (0, "")
    record = read_setup(tmp_path / "setup.toml")
    assert (record.device, record.check_input) == ("pedal", 2)
    assert record.node_farad == pytest.approx(412e-12, rel=0.02)
    ended = here(["measure", "Quarry Lamp", "--plan", "quick", "--yes"], capsys)
    assert (ended.status, ended.err) == (0, "")
    assert "All 5 runs usable." in ended.out
    document = ExaminationFolder.open(tmp_path / "quarry-lamp").document
    assert (document.setup.rig, document.setup.name) == ("device", "pedal")
    assert all(r.check_channel == 1 for run in document.runs[:5] for r in run.recordings)


def test_a_wire_inside_the_box_is_no_input(
    server: AudioServer,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Nothing plugged in, and the signal arrives bit for bit: refused before anything else."""
    quick = faster(server)
    monkeypatch.setattr(LevelMeter, "__call__", lambda _self, done, peak: quick(done, peak))
    monkeypatch.chdir(tmp_path)
    server.use_filter(np.ones(1), tmp_path)
    server.tell("noise", 0)
    ended = here(["setup", "--device", "pedal", "--rate", "48k", "--yes"], capsys)
    assert ended.status == 1
    assert "No analogue input is that exact" in ended.err
    assert not (tmp_path / "setup.toml").exists()
