"""The layout of presses and taps, their documents, and their lines in a pedal file."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from loopback.errors import ArgumentError, DocumentError, NetlistError, RigError
from loopback.examination.document import decode_examination, encode_examination
from loopback.examination.folder import ExaminationFolder
from loopback.examination.records import Pedal, Setup
from loopback.plan.runs import RunLabel
from loopback.rig.files import FileRig
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import simulated_rig
from loopback.rig.tape import Tape
from loopback.signal.take import plan_signal
from loopback.signal.watch import (
    MARK_S,
    SETTLE_S,
    Watch,
    envelope_of,
    press_times,
    render_watch,
    watch_problem,
)
from loopback.simulate.pedal import load_pedal, parse_pedal
from loopback.simulate.press_text import Joint, PressModel, read_joint, read_press

SIGNAL = plan_signal(48_000, 1.0)
LABEL = RunLabel("pedal", "plain", "on", "a")
SHORT = Watch(steady=False, presses=4, rest_s=1.0, interval_s=0.8, corner_hz=2.0)


def test_both_directions_get_a_press_after_a_rest() -> None:
    """The second half begins after another rest, and with the direction the first did not."""
    for presses in range(2, 41):
        watch = Watch(steady=False, presses=presses, rest_s=10.0, interval_s=1.5)
        times = press_times(watch)
        gaps = np.diff(times)
        late = np.flatnonzero(gaps > 5) + 1
        assert times[0] == MARK_S + SETTLE_S + 10.0
        assert len(late) == 1 or presses < 4
        assert all(number % 2 == 1 for number in late)
        assert np.allclose(gaps[gaps < 5], 1.5)


def test_what_is_played() -> None:
    """Two marks at the stated level with silence between them, or the tone all the time."""
    silent, steady = SHORT, msgspec.structs.replace(SHORT, steady=True)
    for watch, middle in ((silent, 0.0), (steady, 0.1)):
        envelope = envelope_of(watch, 48_000)
        assert len(envelope) == round(watch.seconds * 48_000)
        assert envelope[12_000] == envelope[-12_000] == pytest.approx(0.1)
        assert envelope[len(envelope) // 2] == pytest.approx(middle)
        played = render_watch(watch, 48_000)
        assert np.max(np.abs(played)) <= 0.1
        spectrum = np.abs(np.fft.rfft(played[4800:19_200]))
        assert int(np.argmax(spectrum)) * 48_000 / 14_400 == pytest.approx(5000, abs=4)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("tone_hz", 50.0),
        ("level_dbfs", 3.0),
        ("presses", -1),
        ("interval_s", 0.1),
        ("rest_s", -1.0),
        ("corner_hz", 0.0),
    ],
)
def test_what_cannot_be_is_refused_everywhere(field: str, value: float, tmp_path: Path) -> None:
    """By name: when it is played, and when it is read from a document, with the path in it."""
    watch = msgspec.structs.replace(SHORT, **{field: value})
    problem = watch_problem(watch)
    assert problem is not None
    assert problem[0] == field
    with pytest.raises(ArgumentError, match="cannot be played"):
        envelope_of(watch, 48_000)
    document = recorded(tmp_path).document
    run = document.runs[0]
    spoilt = msgspec.structs.replace(run.recordings[0], watch=watch)
    changed = msgspec.structs.replace(
        document, runs=(msgspec.structs.replace(run, recordings=(spoilt,)),)
    )
    with pytest.raises(DocumentError, match=r"\$\.runs\[0\]\.recordings\[0\]\.watch"):
        decode_examination(msgspec.json.encode(changed), "examination.json")


def recorded(tmp_path: Path) -> ExaminationFolder:
    """A folder with one run of presses."""
    folder = ExaminationFolder.create(
        tmp_path / "pedal", Pedal("Quarry Lamp"), Setup("simulator"), SIGNAL
    )
    rig = simulated_rig("quarry-lamp")
    for one in rig.play(RunRequest(LABEL, SIGNAL, takes=0, watch=SHORT)):
        folder.append_run_with(LABEL, one, "", 0, None)
    return folder


def test_presses_are_kept_with_what_was_played(tmp_path: Path) -> None:
    """The document comes back equal; the run is none of those that the response is made of."""
    folder = recorded(tmp_path)
    document = folder.document
    kept = document.runs[0].recordings[0]
    assert (kept.kind, kept.watch) == ("presses", SHORT)
    assert kept.frames >= SHORT.seconds * 48_000
    assert decode_examination(encode_examination(document), "x") == document
    assert document.counting_runs() == ()
    assert document.watched_runs() == document.runs


def test_kind_and_watch_belong_together(tmp_path: Path) -> None:
    """Presses without it, and a sweep with it, are refused."""
    document = recorded(tmp_path).document
    run = document.runs[0]
    for change in ({"kind": "tap"}, {"kind": "sweep"}, {"watch": msgspec.UNSET}):
        odd = msgspec.structs.replace(run.recordings[0], **change)
        changed = msgspec.structs.replace(
            document, runs=(msgspec.structs.replace(run, recordings=(odd,)),)
        )
        with pytest.raises(ArgumentError, match=r"recordings\[0\]\.watch"):
            encode_examination(changed)


def test_a_stream_carries_it_whole() -> None:
    """On the tape of a device: one window, what is played in it, and a gap for what comes late."""
    tape = Tape(RunRequest(LABEL, SIGNAL, takes=0, watch=SHORT))
    (window,) = tape.windows
    played = render_watch(SHORT, 48_000)
    assert (window.kind, window.watch) == ("presses", SHORT)
    assert window.stop - window.start > len(played)
    out = np.zeros((tape.length, 1), dtype=np.float32)
    tape.pass_block(np.zeros_like(out), out)
    assert np.allclose(out[window.start : window.start + len(played), 0], played, atol=1e-7)
    assert tape.recorded(window).watch == SHORT


def test_files_cannot_be_pressed() -> None:
    """A rig of recorded files says so, and what to do."""
    with pytest.raises(RigError, match="need an interface"):
        list(FileRig([], SIGNAL).play(RunRequest(LABEL, SIGNAL, watch=SHORT)))


def test_lines_of_a_pedal_file() -> None:
    """Words and values in turn; what is not named has its default."""
    assert read_press("lit click 3m decay 2m leak -10m") == (
        "lit",
        PressModel(click=3e-3, decay=2e-3, leak=-10e-3),
    )
    assert read_joint("at 2.5 ohm 20k lasts 30m") == Joint(2.5, 20e3, 30e-3)
    pedal = load_pedal("harbour-bell")
    assert set(pedal.presses) == {"lit", "dark"}
    assert len(load_pedal("kit-cold-joint").joints) == 3


@pytest.mark.parametrize(
    ("line", "complaint"),
    [
        (".press up click 1m", "needs a direction"),
        (".press", "needs a direction"),
        (".press lit click", '"click" has no value'),
        (".press lit clack 1m", '"clack" is not known'),
        (".press lit gap 1m gap 2m", "stands twice"),
        (".press lit gap -1m", "gap is -0.001"),
        (".press lit decay 0", "decay is 0"),
        (".press lit click 1,5m", "has a comma"),
        (".tap at 1 ohm 20k", "needs lasts"),
        (".tap at 0 ohm 20k lasts 1m", "needs at"),
        (".press lit click 1m\n.press lit click 2m", "stands twice"),
    ],
)
def test_mistakes_in_a_pedal_file_name_their_line(line: str, complaint: str) -> None:
    """Each complaint names file and line."""
    text = f".title A\n.about A\n.family a\n.footswitch none\n.bypass on\n{line}\n"
    number = 6 + line.count("\n")
    with pytest.raises(NetlistError, match=f"a.cir, line {number}: .*{complaint}"):
        parse_pedal(text, "a.cir")
