"""Presses and taps on the simulator: from the pedal file to figures, directions and causes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from loopback.plan.runs import Lamp, RunLabel
from loopback.signal.watch import Watch
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.presses import Pressed
from loopback.simulate.scenario import Scenario
from loopback.simulate.session import Session
from loopback.switching.presses import Heard, read_presses
from loopback.switching.result import PressFigures
from loopback.switching.taps import read_taps

RATE = 48_000
FULL_SCALE_V = InterfaceModel().full_scale_v
PEDAL = """
.title Test Pedal
.about Overdrive whose footswitch is described above each test.
.family hard-wired
.footswitch mechanical-latching
.bypass bypass
{lines}
.common
Cci IN 0 6p
Cco OUT 0 6p
.state bypass
Rsw IN OUT 0.05
.state engaged
Cin IN a 22n
Rin a 0 510k
E1 e 0 a 0 9
Ro e f 1k
Cf f OUT 1u
Rvol OUT 0 100k
.softclip 0.6
.noise 60n
.state dead
Cx IN OUT 1.5p
.table
on  a {a}
on  b {b}
off a bypass
off b dead
"""
LABEL = RunLabel("pedal", "plain", "on", "a")


def session_of(
    tmp_path: Path, *lines: str, seed: int = 1, a: str = "bypass", b: str = "engaged"
) -> Session:
    """A session with a pedal of its own."""
    path = tmp_path / "pedal.cir"
    path.write_text(PEDAL.format(lines="\n".join(lines), a=a, b=b), encoding="utf-8")
    return Session(Scenario(path, seed=seed))


def heard(session: Session, *, steady: bool, presses: int, rest_s: float) -> Heard:
    """One recording of presses."""
    watch = Watch(steady=steady, presses=presses, rest_s=rest_s, interval_s=1.2, corner_hz=2.0)
    return Heard(session.watch(LABEL, watch, RATE).samples[:, 0], RATE, watch)


def pressed(
    session: Session, presses: int = 12, tone: int = 6, lamp: Lamp | None = None, rest_s: float = 5
) -> tuple[PressFigures, tuple[Pressed, ...]]:
    """Both recordings read, and the truth of the silent one."""
    silent = heard(session, steady=False, presses=presses, rest_s=rest_s)
    truth = session.pressed
    with_tone = heard(session, steady=True, presses=tone, rest_s=1.0) if tone else None
    return read_presses(silent, with_tone, full_scale_v=FULL_SCALE_V, lamp=lamp), truth


CLICKS = (
    ".press lit click 3m decay 1m step 4m gap 4m bounces 2 scatter 0.05",
    ".press dark click 1m decay 2m gap 2.5m scatter 0.05",
)


def test_every_press_is_found_with_its_direction_and_step(tmp_path: Path) -> None:
    """Twelve presses: moment, direction, rest and DC step of each; gap and bounces of both ways."""
    figures, truth = pressed(session_of(tmp_path, *CLICKS))
    assert figures.known_by == "distortion"
    assert [p.direction for p in figures.presses] == [t.direction for t in truth]
    latency_s = 480 / RATE
    for found, true in zip(figures.presses, truth, strict=True):
        assert found.at_s == pytest.approx(true.closed_s + latency_s, abs=0.6e-3)
        assert found.is_pop
        assert found.step is not None
        assert found.step.jump.value == pytest.approx(
            true.model.step, abs=max(4 * found.step.jump.u, 3e-5)
        )
        assert found.rested == (true.rest_s > 3.6)
    assert figures.lit.gap_s is not None
    assert figures.dark.gap_s is not None
    assert figures.lit.gap_s.median.value == pytest.approx(4e-3 + 2 * 1.2e-3, abs=1e-4)
    assert figures.dark.gap_s.median.value == pytest.approx(2.5e-3, abs=1e-4)
    assert (figures.lit.bounces, figures.dark.bounces) == (2, 0)
    assert figures.unit == "V"


def test_median_and_worst_are_those_of_the_model(tmp_path: Path) -> None:
    """The DC step's median is the model's within its interval; the worst is the largest press."""
    figures, truth = pressed(session_of(tmp_path, *CLICKS), presses=20, tone=0)
    step = figures.lit.dc_step
    assert step is not None
    low, high = step.median.interval()
    assert low <= 4e-3 <= high
    usual = [t.model.step for t in truth if t.direction == "lit" and t.rest_s < 3.6]
    assert step.worst.value == pytest.approx(max(usual), rel=0.01)
    assert figures.lit.peak is not None
    assert figures.lit.peak.worst.value > figures.lit.peak.median.value


def test_directions_by_the_lamp_and_by_the_level(tmp_path: Path) -> None:
    """Found engaged: without a tone the lamp tells; with a run in bypass its level does."""
    session = session_of(tmp_path, *CLICKS, a="engaged", b="bypass")
    silent = heard(session, steady=False, presses=8, rest_s=4)
    truth = [t.direction for t in session.pressed]
    assert truth[0] == "dark"
    by_lamp = read_presses(silent, lamp="lit")
    assert by_lamp.known_by == "lamp"
    assert [p.direction for p in by_lamp.presses] == truth
    assert by_lamp.unit == "FS"
    gain = 10 ** (InterfaceModel().loop_gain_db / 20)
    by_level = read_presses(silent, bypass_gain=gain, lamp="dark")
    assert by_level.known_by == "level", "the data beats what was said"
    assert [p.direction for p in by_level.presses] == truth
    unknown = read_presses(silent)
    assert unknown.known_by == "order"
    assert unknown.presses[0].direction == "lit"


def test_presses_that_make_no_pop_leave_the_others_their_direction(tmp_path: Path) -> None:
    """Only one way pops: what is heard is still counted by the beat, and all of it is that way."""
    session = session_of(tmp_path, ".press lit step 2m gap 3m")
    figures, truth = pressed(session, tone=6)
    wanted = [t.closed_s for t in truth if t.direction == "lit"]
    lit = [p for p in figures.presses if p.direction == "lit" and p.is_pop]
    assert [p.at_s for p in lit] == pytest.approx([t + 0.01 for t in wanted], abs=1e-3)
    assert figures.dark.pops == 0
    assert figures.dark.peak is None
    assert 1e-6 < figures.dark.silence_peak_99 < 1e-3
    assert [cause.code for cause in figures.causes] == ["lamp", "effect_gain"]


def test_a_leaking_capacitor_is_named(tmp_path: Path) -> None:
    """A step that grows with the rest before the press; the lamp is not blamed for it."""
    line = ".press lit step 1m leak 20m charge 8 gap 3m"
    figures, truth = pressed(
        session_of(tmp_path, line, ".press dark step 1m gap 3m"), tone=0, rest_s=8
    )
    assert figures.causes[0].code == "leakage"
    rested = figures.lit.rested
    assert rested is not None
    assert rested.step is not None
    true = next(t for t in truth if t.direction == "lit" and t.rest_s > 5)
    assert rested.step.jump.value == pytest.approx(true.model.step, rel=0.02)
    assert "lit" in figures.causes[0].numbers
    assert "dark" not in figures.causes[0].numbers


def test_the_same_pop_both_ways_names_nothing(tmp_path: Path) -> None:
    """A plain click in both directions is consistent with nothing in particular."""
    both = [f".press {way} click 2m decay 1m gap 3m scatter 0.05" for way in ("lit", "dark")]
    figures, _ = pressed(session_of(tmp_path, *both))
    assert figures.causes == ()


def test_a_muted_relay_is_named(tmp_path: Path) -> None:
    """A window of 40 ms in which nothing passes."""
    both = [f".press {way} gap 2m mute 40m step 1m" for way in ("lit", "dark")]
    figures, _ = pressed(session_of(tmp_path, *both))
    assert [cause.code for cause in figures.causes] == ["relay_mute"]
    assert figures.causes[0].numbers["gap_s"] == pytest.approx(0.04, abs=2e-4)


def test_an_electrolytic_is_named(tmp_path: Path) -> None:
    """A step that takes a sixth of a second to go by itself."""
    both = [f".press {way} step 5m tail 0.2 gap 3m" for way in ("lit", "dark")]
    figures, _ = pressed(session_of(tmp_path, *both), tone=0)
    assert [cause.code for cause in figures.causes] == ["electrolytic"]
    assert figures.lit.tail_s == pytest.approx(0.2, rel=0.25)


def test_silence_gives_no_alarm(tmp_path: Path) -> None:
    """A silent switch, 240 presses on three setups: at most 1 % are called a pop."""
    alarms = made = 0
    watch = Watch(steady=False, presses=80, rest_s=1.0, interval_s=0.8, corner_hz=2.0)
    for seed in range(3):
        session = session_of(tmp_path, seed=seed)
        silent = Heard(session.watch(LABEL, watch, RATE).samples[:, 0], RATE, watch)
        figures = read_presses(silent, full_scale_v=FULL_SCALE_V)
        alarms += figures.lit.pops + figures.dark.pops
        made += len(session.pressed)
    print(f"\nfalse alarms: {alarms} of {made}")
    assert made == 240
    assert alarms <= 0.01 * made


def test_windows_of_silence_exceed_their_limit_once_in_a_hundred() -> None:
    """Of 4000 fresh windows about 1 % exceed the peak limit of 100 others, at most 2 % of them."""
    from loopback.switching.filters import true_peak
    from loopback.switching.silence import percentile_99

    rng = np.random.default_rng(5)
    exceeded = []
    for _ in range(40):
        peaks = true_peak(rng.standard_normal((200, 2000)))
        exceeded.append(float(np.mean(peaks[100:] > percentile_99(peaks[:100]))))
    share = float(np.mean(exceeded))
    print(f"\nexceeded by silence: {share:.2%}")
    assert share <= 0.0175  # 1/101 expected; four standard deviations of such a mean are 0.6 %


def test_joints_that_let_go_are_found_with_their_size(tmp_path: Path) -> None:
    """20 kΩ for 30 ms is a change, a broken contact a drop-out; its size is that of a divider."""
    session = session_of(tmp_path, ".tap at 1.5 ohm 20k lasts 30m", ".tap at 3 ohm 1G lasts 60m")
    watch = Watch(steady=True, presses=0, rest_s=4.0)
    figures = read_taps(session.watch(LABEL, watch, RATE).samples[:, 0], RATE, watch)
    change, drop = figures.events
    assert change.at_s == pytest.approx(1.5 + 0.01, abs=2e-3)
    assert change.lasts_s == pytest.approx(0.03, abs=2.1e-3)
    assert (change.drops_out, drop.drops_out) == (False, True)
    assert drop.at_s == pytest.approx(3 + 0.01, abs=2e-3)
    assert drop.lasts_s == pytest.approx(0.06, abs=2.1e-3)
    # 20 kohm into the return lead and input, from memory of their defaults: 1 Mohm and some 400 pF.
    omega, c = 2 * math.pi * 5000, 400e-12
    ratio = 1 / (1 + 20e3 * (1e-6 + 1j * omega * c))
    assert change.level_db.value == pytest.approx(20 * math.log10(abs(ratio)), abs=0.15)
    assert change.phase_deg.value == pytest.approx(math.degrees(np.angle(ratio)), abs=2)


def test_a_sound_pedal_is_steady(tmp_path: Path) -> None:
    """No event in the default setup, over ten seeds."""
    watch = Watch(steady=True, presses=0, rest_s=3.0)
    for seed in range(10):
        session = session_of(tmp_path, seed=seed)
        figures = read_taps(session.watch(LABEL, watch, RATE).samples[:, 0], RATE, watch)
        assert figures.events == ()
        assert figures.crackles == 0
        assert figures.level_99_db < 0.01
