"""Whole examinations of known circuits: path, without power and size, for every plan."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest

from loopback.circuit.netlist import parse_elements
from loopback.plan.runs import RunLabel
from loopback.simulate.pedal import PedalFile, PedalState, load_pedal
from loopback.verdict.evidence import Evidence
from loopback.verdict.judge import judge
from loopback.verdict.result import GradeName, PathClass, PowerClass, Result
from loopback.verdict.sentences import evidence_lines, result_sentences, short_form
from tests.reference.bench_runs import STANDARD, Bench, Step, examine

Expected = tuple[PathClass, tuple[PathClass, ...], PowerClass, tuple[GradeName, ...]]

STANDARD_PLAN: dict[str, Expected] = {
    "harbour-bell": ("wired", (), "bypass_position", ("wire-like",)),
    "drift-bottle": ("wired", (), "bypass_position", ("light",)),
    "field-gate": ("wired", (), "always", ("wire-like",)),
    "quarry-lamp": ("loaded", (), "bypass_position", ("light",)),
    "twin-anchor": ("loaded", (), "bypass_position", ("loading",)),
    "night-heron": ("loaded", (), "bypass_position", ("light",)),
    "tidal-clock": ("loaded", (), "bypass_position", ("heavy",)),
    "mill-pond": ("loaded", (), "bypass_position", ("loading",)),
    "gravel-road": ("loaded", (), "bypass_position", ("heavy",)),
    "wool-blanket": ("loaded", (), "always", ("heavy",)),
    "amber-dial": ("loaded", (), "bypass_position", ("heavy",)),
    "quiet-valley": ("loaded", (), "always", ("loading",)),
    "copper-vane": ("loaded", (), "always", ("loading",)),
    "iron-bridge": ("loaded", (), "always", ("heavy",)),
    "garden-tap": ("loaded", (), "always", ("heavy",)),
    "garden-tap-low": ("loaded", (), "always", ("heavy",)),
    "paper-kite": ("buffered", (), "never", ()),
    "salt-lantern": ("buffered", (), "never", ()),
    "chalk-path": ("buffered", (), "never", ()),
    "long-meadow": ("buffered", (), "never", ()),
    "river-lock": ("buffered", (), "never", ()),
    "slow-canal": ("converted", (), "never", ()),
    "ferry-landing": ("converted", (), "always", ()),
    "cold-hearth": ("silent", ("faulty",), "never", ()),
    # A latching relay that was last in the other position needs another run.
    "barn-door": ("undecided", ("wired", "buffered"), "never", ("wire-like",)),
    # One position is silent: which of the two is bypass cannot be seen.
    "still-pond": ("buffered", ("silent",), "never", ()),
    "far-shore": ("converted", ("silent",), "never", ()),
    "kit-columns-swapped": ("faulty", ("silent",), "never", ()),
    "kit-jack-shorting": ("faulty", ("silent",), "never", ()),
    "kit-ground-tab": ("silent", ("faulty",), "never", ()),
    "kit-missing-jumper": ("silent", ("faulty",), "never", ()),
    "kit-cold-joint": ("faulty", ("loaded",), "bypass_position", ()),
    "kit-input-left": ("loaded", (), "bypass_position", ("loading",)),
    "kit-output-left": ("loaded", (), "bypass_position", ("heavy",)),
    "kit-pulldown-10k": ("loaded", (), "bypass_position", ("heavy",)),
    "kit-pulldown-100k": ("loaded", (), "bypass_position", ("heavy",)),
    "kit-whisker": ("loaded", (), "bypass_position", ("light",)),
    "kit-screened-lead": ("loaded", (), "bypass_position", ("loading",)),
    "kit-jacks-swapped": ("wired", (), "bypass_position", ("wire-like",)),
}
"""By the circuits' own description; pins nothing that a circuit does not say."""


def _judge(name: str, **how: Any) -> Result:
    evidence, setup = examine(load_pedal(name), **how)
    return judge(evidence, setup)


def _codes(result: Result) -> set[str]:
    return {r.code for r in result.reasons}


@pytest.mark.parametrize("name", STANDARD_PLAN)
def test_standard_plan(name: str) -> None:
    """Every family of bypass and wiring fault is told on the standard plan with a check cable."""
    evidence, setup = examine(load_pedal(name), Bench(seed=1))
    result = judge(evidence, setup)
    path, alternatives, power, grades = STANDARD_PLAN[name]
    assert (result.path, result.alternatives) == (path, alternatives)
    assert result.power == power
    assert result.grades == grades
    prose = " ".join([*result_sentences(result), *evidence_lines(result), short_form(result, "X")])
    assert not re.search(r"\b(nan|inf)\b", prose)


@pytest.mark.parametrize(
    "name",
    [n for n, e in STANDARD_PLAN.items() if e[0] in ("wired", "loaded", "buffered") and not e[1]],
)
def test_a_free_delay_changes_no_path(name: str) -> None:
    """Without a check cable the same paths come out."""
    evidence, setup = examine(load_pedal(name), Bench(seed=3, delay_held=False))
    assert judge(evidence, setup).path == STANDARD_PLAN[name][0]


@pytest.mark.parametrize("name", ["harbour-bell", "quarry-lamp", "salt-lantern", "tidal-clock"])
def test_the_resistor_may_sit_at_the_interface_end(name: str) -> None:
    """A larger node changes no path; a buffer's input is then known no better than the lead is."""
    evidence, setup = examine(load_pedal(name), Bench(seed=3, resistor_end="interface"))
    result = judge(evidence, setup)
    assert result.path == STANDARD_PLAN[name][0]
    if result.buffer is not None:
        assert result.buffer.with_lead
        c = result.buffer.c_farad
        assert abs(c.value - 14e-12) < c.half_width()
        assert c.half_width() > 100e-12


@pytest.mark.parametrize(
    ("name", "r_ohm", "c_pf", "gain_db"),
    [
        # From the netlists: resistors in parallel, capacitances at the input.
        ("salt-lantern", 687.5e3, 14, 0.0),
        ("chalk-path", 430e3, 18, -0.175),
        ("long-meadow", 1e6, 14, -0.724),
    ],
)
def test_input_of_a_buffer(name: str, r_ohm: float, c_pf: float, gain_db: float) -> None:
    """Input resistance and capacitance of a buffer lie inside their intervals."""
    evidence, setup = examine(load_pedal(name), Bench(seed=2))
    found = judge(evidence, setup).buffer
    assert found is not None
    assert found.gain_db is not None
    assert abs(found.g_siemens.value - 1 / r_ohm) < found.g_siemens.half_width()
    assert abs(found.c_farad.value * 1e12 - c_pf) < 1e12 * found.c_farad.half_width()
    assert abs(found.gain_db.value - gain_db) < 0.1


def test_half_switched_numbers() -> None:
    """The coupling capacitor and the resistance behind it are told (101 kΩ, 10 nF)."""
    network = _judge("tidal-clock").network
    assert network is not None
    assert abs(network.r_ohm.value - 101e3) < network.r_ohm.half_width()
    assert abs(network.coupling_farad.value - 10e-9) < 2 * network.coupling_farad.half_width()


QUICK = (*STANDARD[:2], Step("resistor", "off", "a"))
"""Power taken away in the bypass position."""


@pytest.mark.parametrize(
    ("name", "path"),
    [
        ("harbour-bell", "undecided"),
        ("quarry-lamp", "loaded"),
        ("tidal-clock", "loaded"),
        ("salt-lantern", "buffered"),
        ("slow-canal", "converted"),
    ],
)
def test_quick_plan(name: str, path: PathClass) -> None:
    """Three pedal runs through the resistor tell what is left on the line, not the contact.

    A weak joint of some kilohms looks like a few picofarads there, so that "wired" is not said.
    """
    result = _judge(name, steps=QUICK, plain=False, plain_references=False)
    assert result.path == path
    assert result.shunt is None or result.shunt.c_farad.u > 0
    if path == "undecided":
        assert result.alternatives == ("wired", "faulty")
        assert result.grades == ("wire-like",)
        assert result.would_tell[0] == "plain_runs"
    if path in ("undecided", "loaded"):
        assert "series_resistance" in result.not_tested
        assert "plain_runs" in result.would_tell


@pytest.mark.parametrize(
    ("name", "path", "alternatives"),
    [
        ("harbour-bell", "undecided", ("wired", "loaded")),
        ("quarry-lamp", "undecided", ("wired", "loaded")),
        ("tidal-clock", "undecided", ("wired", "loaded")),
        ("kit-pulldown-10k", "loaded", ()),
        ("wool-blanket", "loaded", ()),
        ("iron-bridge", "loaded", ()),
        ("chalk-path", "buffered", ()),
        ("slow-canal", "converted", ()),
    ],
)
def test_without_a_resistor(
    name: str, path: PathClass, alternatives: tuple[PathClass, ...]
) -> None:
    """Plain runs alone cannot tell wire from a load, and say so; what they can tell they do."""
    result = _judge(name, resistor=False)
    assert (result.path, result.alternatives) == (path, alternatives)
    if path == "undecided":
        assert result.would_tell[0] == "resistor_runs"
        assert set(result.excluded) == {"buffered", "converted"}
        assert result.plain is not None
        assert result.plain.shunt_under_ohm > 0


@pytest.mark.parametrize(
    ("keep", "would_tell"),
    [
        ((0, 1), "unpowered_bypass"),
        ((2, 3), "powered_bypass"),
        ((0,), "unpowered_bypass"),
    ],
)
def test_a_subset_of_runs_says_what_would_tell(keep: tuple[int, ...], would_tell: str) -> None:
    """Without power, or with power only, "wired" is not said, and the missing run is named."""
    evidence, setup = examine(load_pedal("harbour-bell"))
    result = judge([evidence[i] for i in keep], setup)
    assert result.path == "undecided"
    assert result.alternatives == ("wired", "faulty", "buffered")
    assert would_tell in result.would_tell


def test_a_reversed_run_tells_wire_from_a_buffer() -> None:
    """A passive path does not care which way round it lies; a buffer does."""
    steps = (
        Step("resistor", "on", "a"),
        Step("resistor", "on", "a", reverse=True),
        Step("plain", "on", "a"),
    )
    wire = _judge("harbour-bell", steps=steps)
    assert (wire.path, "same_reversed" in _codes(wire)) == ("wired", True)
    buffer = _judge("salt-lantern", steps=steps)
    assert (buffer.path, "dead_reversed" in _codes(buffer)) == ("buffered", True)


def test_no_runs_no_statement() -> None:
    """Nothing, refused runs only, or no reference: undecided with its reason."""
    evidence, setup = examine(load_pedal("harbour-bell"))
    refused = [replace(e, refused=True) for e in evidence]
    bare = [replace(e, ratio=None) for e in evidence]
    for runs, code, tell in (
        ([], "no_pedal_runs", "pedal_runs"),
        (refused, "no_usable_runs", "repeat"),
        (bare, "no_reference", "reference"),
    ):
        result = judge(runs, setup)
        assert result.path == "undecided"
        assert _codes(result) == {code}
        assert result.would_tell == (tell,)


def test_an_unsteady_path_is_faulty() -> None:
    """A bypass that changes between two takes has a weak joint."""
    evidence, setup = examine(load_pedal("harbour-bell"))
    result = judge([replace(e, repeat_db=0.8) for e in evidence], setup)
    assert (result.path, result.reasons[0].code) == ("faulty", "not_steady")


def test_other_positions_and_loads_do_not_disturb() -> None:
    """Runs of the unplugged leads, of the coupler and with other loads are passed over."""
    evidence, setup = examine(load_pedal("harbour-bell"))
    others = [
        replace(evidence[0], label=RunLabel("unplugged", "plain")),
        replace(evidence[1], label=RunLabel("coupler", "resistor")),
    ]
    assert judge([*others, *evidence], setup) == judge(evidence, setup)


def _pedal(bypass: str, dead: str, off_bypass: str = "") -> PedalFile:
    def state(name: str, text: str, clip: float | None = None) -> PedalState:
        return PedalState(name, parse_elements(enumerate(text.split("; "), 1), "test"), clip)

    engaged = "Ci IN 0 8p; C1 IN a 22n; Ra a 0 470k; E1 e 0 a 0 8; Ro e OUT 1k; Rp OUT 0 100k"
    states = {
        "bypass": state("bypass", bypass),
        "engaged": state("engaged", engaged, 0.5),
        "dead": state("dead", dead),
        "rest": state("rest", off_bypass or dead),
    }
    table = {
        ("on", "a"): "bypass", ("on", "b"): "engaged",
        ("off", "a"): "rest", ("off", "b"): "rest" if off_bypass else "dead",
    }  # fmt: skip
    return PedalFile("Test", "", "", "mechanical-latching", "bypass", states, table)


DEAD = "Ci IN 0 10p; Co OUT 0 10p; Cx IN OUT 3p; Ro OUT 0 100k; Ri IN 0 1M"


@pytest.mark.parametrize("off_pf", range(-20, 61, 10))
def test_an_ideal_buffer_whose_input_looks_like_the_lead_is_never_wired(off_pf: int) -> None:
    """1 MΩ and the capacitance of the lead at its input: a shunt of a few pF, dead unpowered."""
    c_in = 398 + off_pf
    twin = f"Ci IN 0 {c_in}p; Ri IN 0 1M; E1 e 0 IN 0 1; Ro e OUT 1; Rp OUT 0 10M"
    for seed in range(3):
        evidence, setup = examine(_pedal(twin, DEAD), Bench(seed=seed))
        result = judge(evidence, setup)
        assert result.path != "wired"
        assert result.path == "buffered" or "buffered" in result.alternatives


@pytest.mark.parametrize("off_pf", [-10, 3, 8, 20])
def test_a_twin_of_the_lead_that_falls_back_to_wire_is_not_wired(off_pf: int) -> None:
    """The same buffer with a relay that falls back: the load without power is another one."""
    twin = f"Ci IN 0 {398 + off_pf}p; Ri IN 0 1M; E1 e 0 IN 0 1; Ro e OUT 1; Rp OUT 0 10M"
    wire = "Rs IN OUT 0.05; Ci IN 0 6p; Co OUT 0 7p"
    for seed in range(3):
        evidence, setup = examine(_pedal(twin, DEAD, wire), Bench(seed=seed))
        result = judge(evidence, setup)
        assert result.path in ("undecided", "buffered")
        assert result.path == "buffered" or "buffered" in result.alternatives


@pytest.mark.parametrize("seed", range(4))
def test_the_coupler_left_in_is_no_pedal(seed: int) -> None:
    """Every run equals the reference: nothing is said about a pedal."""
    coupler = "Rs IN OUT 0.001; Cc IN 0 2p"
    file = _pedal(coupler, coupler, coupler)
    state = file.states["bypass"]
    same = replace(file, states=dict.fromkeys(file.states, state))
    evidence, setup = examine(same, Bench(seed=seed))
    result = judge(evidence, setup)
    assert result.path == "none"
    assert result.reasons[0].code == "same_as_reference"
    assert result.grades == ()


def test_a_digital_return_is_no_pedal() -> None:
    """Recordings without an analogue floor prove nothing, whatever they show."""
    evidence, setup = examine(load_pedal("harbour-bell"))
    result = judge(evidence, setup, analogue_floor=False)
    assert (result.path, result.reasons[0].code) == ("none", "digital_return")


def _exchanged(evidence: list[Evidence]) -> list[Evidence]:
    return [
        replace(e, ratio=replace(e.ratio, t=1 / e.ratio.t)) if e.ratio is not None else e
        for e in evidence
        if e.label.position == "a"
    ]


@pytest.mark.parametrize("name", ["harbour-bell", "drift-bottle", "quarry-lamp"])
def test_reference_and_pedal_exchanged(name: str) -> None:
    """A passive pedal that leaves less than the coupler is two runs exchanged, not a buffer."""
    evidence, setup = examine(load_pedal(name))
    result = judge(_exchanged(evidence), setup)
    assert result.path == "undecided"
    assert "exchanged" in _codes(result)


def test_a_buffer_behind_long_leads_is_no_effect() -> None:
    """With 1 nF at the node a buffer lifts the level from 1 kHz on; it is still a bypass."""
    bench = Bench(resistor_end="interface", load_f=700e-12, delay_held=False)
    evidence, setup = examine(load_pedal("salt-lantern"), bench, plain=False)
    assert judge(evidence, setup).path == "buffered"


def test_gain_moved_between_runs_does_not_make_a_buffer_of_wire() -> None:
    """A level that differs with power and without alike is no sign of a stage."""
    evidence, setup = examine(load_pedal("harbour-bell"), Bench(pedal_gain_db=-0.2))
    result = judge(evidence, setup)
    assert result.path not in ("buffered", "wired")


@pytest.mark.parametrize("delay_held", [True, False])
@pytest.mark.parametrize("ohm", [700.0, 1e3, 2e3, 5e3])
def test_a_weak_joint_is_never_wired(ohm: float, delay_held: bool) -> None:
    """Kilohms in line are told with and without a check cable, by treble level where by nothing."""
    bypass = f"Ci IN 0 6p; Rj IN OUT {ohm}; Co OUT 0 6p"
    for seed in range(3):
        evidence, setup = examine(
            _pedal(bypass, DEAD, bypass), Bench(seed=seed, delay_held=delay_held)
        )
        result = judge(evidence, setup)
        assert result.path in ("faulty", "loaded", "undecided")
        assert result.path != "undecided" or "faulty" in result.alternatives
        assert result.series_ohm is not None
        assert abs(result.series_ohm.value - ohm) < 1.3 * result.series_ohm.half_width()


@pytest.mark.parametrize("ohm", [500.0, 1e3, 2e3, 5e3])
def test_a_weak_joint_without_a_plain_run_is_never_wired(ohm: float) -> None:
    """Through the resistor alone nothing tells a joint from wiring, and "wired" is not said."""
    bypass = f"Ci IN 0 6p; Rj IN OUT {ohm}; Co OUT 0 6p"
    evidence, setup = examine(_pedal(bypass, DEAD, bypass), plain=False)
    result = judge(evidence, setup)
    assert result.path != "wired"
    assert result.would_tell[0] == "plain_runs"


def test_what_falls_back_without_power_is_said_to() -> None:
    """Where both positions pass unpowered, a matched buffer with a relay is named, 99 % sure."""
    relay = _judge("field-gate")
    assert "may_fall_back" in _codes(relay)
    assert relay.certainty is not None
    assert relay.certainty < 0.999
    assert "may_fall_back" not in _codes(_judge("harbour-bell"))


def test_a_latching_relay_left_in_the_effect() -> None:
    """Power pulled with the effect on tells nothing about bypass, and the telling run is named."""
    result = _judge("barn-door")
    assert result.would_tell[0] == "power_cycle"
    assert "pulling the power while it is in bypass tells" in result_sentences(result)[1]


def test_a_passive_box_without_a_resistor_is_not_called_absent() -> None:
    """A pot of 250 kΩ and no footswitch: the plain lead cannot show it, and nothing is claimed."""
    result = _judge("garden-tap", resistor=False)
    assert (result.path, result.would_tell) == ("undecided", ("resistor_runs",))
    assert "a passive pedal may" in result_sentences(result)[0]


def test_a_small_loss_of_plain_runs_is_no_proof_of_a_stage() -> None:
    """A switch of analogue gates loads the line, needs power, and has no stage."""
    file = load_pedal("copper-vane")
    dead = PedalState("dead", parse_elements(enumerate(DEAD.split("; "), 1), "test"))
    states = {**file.states, "dead": dead}
    table = {k: (v if k[0] == "on" else "dead") for k, v in file.table.items()}
    evidence, setup = examine(replace(file, states=states, table=table), resistor=False)
    result = judge(evidence, setup)
    assert result.path == "undecided"
    assert "loaded" in result.alternatives


EDGE_HZ = (19e3, 21e3, 23.5e3)


@pytest.mark.parametrize("edge_hz", EDGE_HZ)
@pytest.mark.parametrize("plain", [True, False])
def test_a_converter_is_told_by_its_band_where_no_cable_times_it(
    edge_hz: float, plain: bool
) -> None:
    """Without a check cable the end of its band tells, with either lead; else it stays possible."""
    file = load_pedal("slow-canal")
    states = {
        name: replace(s, band_edge_hz=edge_hz if s.band_edge_hz is not None else None)
        for name, s in file.states.items()
    }
    bench = Bench(seed=5, delay_held=False)
    evidence, setup = examine(replace(file, states=states), bench, plain=plain)
    result = judge(evidence, setup)
    assert result.path == "converted"
    assert "band_edge" in _codes(result)


def test_a_digital_path_without_a_band_edge_stays_possible() -> None:
    """A converter that is flat to the end of the sweep hides behind its buffer, and is named."""
    file = load_pedal("slow-canal")
    states = {name: replace(s, band_edge_hz=None) for name, s in file.states.items()}
    evidence, setup = examine(
        replace(file, states=states), Bench(seed=5, delay_held=False), plain=False
    )
    result = judge(evidence, setup)
    assert (result.path, result.alternatives) == ("buffered", ("converted",))
    assert result.would_tell[0] == "check_cable"
