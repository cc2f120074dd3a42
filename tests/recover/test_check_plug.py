"""A known part across the line tells the resistor, or tells that something typed is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from loopback.errors import ArgumentError, StoppedError
from loopback.examination.setup_record import SetupRecord, decode_setup, encode_setup
from loopback.guided.setting_up import carry_out
from loopback.guided.setup_asked import SetupOutcome, Wishes
from loopback.guided.setup_steps import set_up
from loopback.meter.check_lines import agreed_line, judge_check_plug, remark
from loopback.meter.check_plug import Checked, KnownPart, check_part, read_known_part
from loopback.meter.listen import Heard, hear, joined
from loopback.meter.reading import find_zero
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import Recorded, Rig, RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import short_signal
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.parts import loose_part
from loopback.simulate.scenario import Scenario
from tests.reference.scripted_hands import ScriptedHands

SIGNAL = short_signal(48_000)
TYPED = 100e3
COUPLER = RunLabel("coupler", "resistor", resistor_ohm=TYPED)
PLUGGED = RunLabel("pedal", "resistor", "on", "a", resistor_ohm=TYPED)


def bench(
    value: float, error: float = 0.0, seed: int = 1, source_ohm: float = 150.0
) -> SimulatedRig:
    """Make a bench with a part of that value and a resistor that is off by a share."""
    leads = Leads(resistor_error=error)
    interface = replace(InterfaceModel(), output_ohm=source_ohm)
    return SimulatedRig(Scenario(loose_part(f"{value:.9g}"), interface, leads, seed))


def compared(rig: SimulatedRig, part: KnownPart, tolerance: float = 0.01) -> Checked:
    """Take zero and compare, with a resistor typed as 100 kΩ."""

    def heard(label: RunLabel, takes: int) -> list[Heard]:
        played = rig.play(RunRequest(label, SIGNAL, takes))
        return [hear(one.samples[:, 0], SIGNAL) for one in played if one.samples is not None]

    plain = joined(heard(RunLabel("coupler", "plain"), 4), SIGNAL, "plain")
    zero = find_zero(joined(heard(COUPLER, 8), SIGNAL, "zero"), plain, TYPED, 0.0)
    assert zero is not None
    return check_part(part, heard(PLUGGED, 8), SIGNAL, zero, TYPED, tolerance)


@pytest.mark.parametrize("text", ["1n:0.1%", "100k:0.1%"])
def test_the_resistor_is_found_within_what_is_stated(text: str) -> None:
    """On 30 benches 95 % intervals cover the resistor in 26 at least, and are not wide for it.

    Part within its tolerance, bare plug, resistor and output impedance are drawn anew each time.
    """
    part, rng = read_known_part(text), np.random.default_rng(20)
    off = []
    for seed in range(30):
        error = rng.uniform(-0.01, 0.01)
        value = part.value * (1 + rng.uniform(-1, 1) * part.tolerance)
        if part.unit == "farad":
            value += rng.normal(0.0, 1e-12)
        found = compared(bench(value, error, seed, 150 * np.exp(rng.normal(0, 0.4))), part).resistor
        assert found.u < 0.0025 * TYPED
        off.append((found.value - TYPED * (1 + error)) / found.u)
    assert np.count_nonzero(np.abs(off) < 1.96) >= 26
    assert np.sqrt(np.mean(np.square(off))) > 0.4


@pytest.mark.parametrize("text", ["1n:0.1%", "100k:0.1%", "10k:0.1%", "10n:0.1%"])
def test_ideal_bench_gives_the_resistor_back(text: str) -> None:
    """Without noise and drift a resistor that is 0.8 % off is found to 0.05 %."""
    part = read_known_part(text)
    leads = Leads.ideal(coupler_f=2e-12, resistor_error=0.008)
    interface = InterfaceModel.ideal(output_ohm=150.0)
    rig = SimulatedRig(Scenario(loose_part(f"{part.value:.9g}"), interface, leads))
    assert compared(rig, part).resistor.value == pytest.approx(100_800, rel=5e-4)


def set_up_with(
    text: str,
    error: float,
    hands: ScriptedHands,
    *,
    typed_ohm: float = TYPED,
    plugged: Callable[[], Rig] | None = None,
) -> SetupOutcome:
    """Set up with a check plug, a typed resistor of 1 %, and a true one off by a share."""
    part = read_known_part(text)
    wishes = Wishes(
        "Kestrel Two", (48_000,), resistor_ohm=typed_ohm, resistor_tolerance=0.01, check_plug=part
    )
    scenario = Scenario("harbour-bell", leads=Leads(resistor_error=error))
    plug = plugged or (lambda: bench(part.value, error))
    return carry_out(set_up(wishes), lambda _check: SimulatedRig(scenario), hands, 1.0, plug)


class Forgotten(SimulatedRig):
    """The plug is left out at first, and put in when that is told."""

    def __init__(self) -> None:
        super().__init__(Scenario(loose_part("1n")))
        self.asked = 0

    def play(self, request: RunRequest) -> Iterator[Recorded]:
        """Play; the first time on the empty adapter."""
        if request.label.path == "pedal":
            self.asked += 1
            if self.asked == 1:
                request = replace(request, label=COUPLER)
        return super().play(request)


def test_a_better_part_takes_the_place_of_what_was_typed() -> None:
    """Typed 0.8 % wrong: found within its interval, used for the setup, and said."""
    hands = ScriptedHands()
    outcome = set_up_with("1n:0.1%", 0.008, hands)
    checked = outcome.checked
    assert checked is not None
    assert checked.better
    assert outcome.resistor_ohm is not None
    assert outcome.resistor_tolerance is not None
    assert outcome.resistor_ohm == pytest.approx(100_800, abs=checked.resistor.half_width())
    # The rectangular distribution that a tolerance stands for has the standard uncertainty found.
    u = outcome.resistor_tolerance / np.sqrt(3) * outcome.resistor_ohm
    assert u == pytest.approx(checked.resistor.u, rel=0.01)
    assert u < 0.002 * TYPED
    assert outcome.node_farad == pytest.approx(402e-12, rel=0.008)
    assert "they agree, E_n 0." in agreed_line(checked)
    assert "used from here on; typed 100.0 kΩ ± 1 %" in hands.all_text()
    assert hands.looks() == []


def test_a_coarser_part_verifies_and_changes_nothing() -> None:
    """A plug of 2 % agrees; the resistor stays as typed."""
    hands = ScriptedHands()
    outcome = set_up_with("1n:2%", 0.002, hands)
    assert (outcome.resistor_ohm, outcome.resistor_tolerance) == (TYPED, 0.01)
    assert outcome.checked is not None
    assert outcome.checked.word == "agree"
    assert "stays as typed" in hands.all_text()


@pytest.mark.parametrize("text", ["1n:1%", "100k:0.1%"])
def test_a_resistor_typed_wrong_is_told(text: str) -> None:
    """47 kΩ typed for 100 kΩ: it differs, the true value is named, and what was typed stays."""
    hands = ScriptedHands()
    outcome = set_up_with(text, 100 / 47 - 1, hands, typed_ohm=47e3)
    checked = outcome.checked
    assert checked is not None
    assert checked.word == "differ"
    assert checked.e_n > 10
    assert (outcome.resistor_ohm, outcome.resistor_tolerance) == (47e3, 0.01)
    assert checked.resistor.value == pytest.approx(100e3, rel=0.01)
    assert sum("they differ, E_n" in said for said in hands.looks()) == 1
    assert "Measure the resistor lead from tip to tip" in hands.all_text()
    assert "used from here on" not in hands.all_text()


def test_a_forgotten_plug_is_told_and_can_be_put_in() -> None:
    """Try again reads anew, from zero on; go on keeps what was typed; stop ends it."""
    hands = ScriptedHands(["repeat"])
    outcome = set_up_with("1n:0.1%", 0.002, hands, plugged=Forgotten)
    assert "Check that the plug is in" in hands.all_text()
    assert outcome.checked is not None
    assert outcome.checked.better
    kept = set_up_with("1n:0.1%", 0.002, ScriptedHands(["keep"]), plugged=Forgotten)
    assert (kept.resistor_ohm, kept.resistor_tolerance) == (TYPED, 0.01)
    with pytest.raises(StoppedError, match="Stopped"):
        set_up_with("1n:0.1%", 0.002, ScriptedHands(["quit"]), plugged=Forgotten)


CASES = {
    "10p:1%": (10e-12, "check_plug_coarse", "too small"),
    "100M:1%": (100e6, "check_plug_coarse", "too large"),
    "1n:20%": (1e-9, "check_plug_coarse", "tolerance too wide"),
    "1u:1%": (1e-6, "check_plug_silent", "nothing passes"),
    "1n:1%": (1e-14, "check_plug_missing", "they differ"),
    "100k:1%": (90e3, "check_plug_differs", "they differ"),
}


@pytest.mark.parametrize("text", CASES)
def test_what_says_nothing_says_so(text: str) -> None:
    """Each odd part has its finding with one action, and the typed resistor stays."""
    value, code, words = CASES[text]
    checked = compared(bench(value), read_known_part(text))
    found = judge_check_plug(checked)
    assert found is not None
    assert (found.code, found.grade) == (code, "look")
    assert words in found.number
    assert found.action.count(".") >= 1
    assert checked.standard == (TYPED, 0.01)
    assert not checked.better


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("1n:1%", KnownPart("farad", 1e-9, 0.01)),
        ("100 pF : 0.5 %", KnownPart("farad", 100e-12, 0.005)),
        ("1M:0.1%", KnownPart("ohm", 1e6, 0.001)),
        ("99.6kohm:0.001", KnownPart("ohm", 99.6e3, 0.001)),
        ("2.2µF:5%", KnownPart("farad", 2.2e-6, 0.05)),
        ("470R:1%", KnownPart("ohm", 470.0, 0.01)),
        ("470Ω:1%", KnownPart("ohm", 470.0, 0.01)),
    ],
)
def test_parts_are_read_as_people_write_them(text: str, part: KnownPart) -> None:
    """Prefixes, units, blanks; a tolerance in per cent or as a share."""
    found = read_known_part(text)
    assert found.unit == part.unit
    assert found.value == pytest.approx(part.value, rel=1e-12)
    assert found.tolerance == pytest.approx(part.tolerance, rel=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "1n", ":", "1n:", ":1%", "0:1%", "0F:1%", "-1n:1%", "1n:0%", "1n:-1%", "1n:50%", "1n:1",
     "1n:0.5p", "5%:1%", "1x:1%", "1H:1%", "nan:1%", "inf:1%", "1e400:1%", "1G:1%", "1F:1%",
     "1mF:1%", "0.5:1%", "1,5n:1%", "1n:1,5%", "1n:1%:2%"],
)  # fmt: skip
def test_what_cannot_be_a_part_is_refused_in_words(text: str) -> None:
    """Zero, negative, no tolerance, no unit known, too large: refused with what to write."""
    with pytest.raises(ArgumentError) as caught:
        read_known_part(text)
    assert caught.value.action


def test_the_setup_file_says_where_the_resistor_is_from() -> None:
    """The typed value stays readable in a comment; the file reads back as any other."""
    checked = compared(bench(1e-9, 0.004), read_known_part("1n:0.1%"))
    ohm, tolerance = checked.standard
    record = SetupRecord(
        device="x",
        rate_hz=48_000,
        level_dbfs=-20.0,
        ceiling_dbfs=-12.0,
        resistor_ohm=ohm,
        resistor_tolerance=tolerance,
    )
    text = encode_setup(record, {"resistor_ohm": remark(checked)})
    assert "# by check plug 1 nF ± 0.1 %; typed: 100.0 kΩ ± 1 %" in text
    assert all(len(line) <= 100 for line in text.splitlines())
    assert decode_setup(text) == record
