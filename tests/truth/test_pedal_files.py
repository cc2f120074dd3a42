"""Pedal files: the format, the table of power and position, and the pedals of the package."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from loopback.circuit.netlist import Element
from loopback.circuit.nodal import chain_matrix, transfer
from loopback.circuit.twoport import determinant
from loopback.errors import ArgumentError, NetlistError
from loopback.simulate.pedal import PedalState, load_pedal, parse_pedal, pedal_names

MINE = """\
.title Mine
.about A boost.
.family hard-wired
.footswitch mechanical-latching
.bypass bypass

.common
Cci IN 0 6p
Cco OUT 0 6p

.state bypass
Rsw IN OUT 0.05          ; a comment

.state engaged
E1 OUT 0 IN 0 4
.softclip 1.2
.delay 1.5m
.band 20k
.noise 40n

.state dead
Cx IN OUT 1p

.table
on  a bypass
on  b engaged
off a bypass
off b dead
"""
CONTACT = Element("R", "Rsw", ("IN", "OUT"), 0.05)
INPUT, OUTPUT = Element("C", "Cci", ("IN", "0"), 6e-12), Element("C", "Cco", ("OUT", "0"), 6e-12)


def _plain_db(state: PedalState) -> float:
    """Level at 1 kHz from 150 Ω into 1 MΩ and 400 pF, in dB over the EMF."""
    around = (
        Element("R", "RFEED", ("SRC", "IN"), 150.0),
        Element("R", "RLOAD", ("OUT", "0"), 1e6),
        Element("C", "CLOAD", ("OUT", "0"), 400e-12),
    )
    ratio = transfer((*state.elements, *around), np.array([1e3]), ("SRC", "0"), "OUT")
    return float(20 * np.log10(np.abs(ratio[0])))


def test_format() -> None:
    """Title, words, common elements before those of the state, directives in base units."""
    pedal = parse_pedal(MINE, "mine.cir")
    assert (pedal.title, pedal.about, pedal.family) == ("Mine", "A boost.", "hard-wired")
    assert (pedal.footswitch, pedal.bypass) == ("mechanical-latching", "bypass")
    assert pedal.states["bypass"] == PedalState("bypass", (INPUT, OUTPUT, CONTACT))
    engaged = pedal.states["engaged"]
    assert engaged.elements[-1] == Element("E", "E1", ("OUT", "0", "IN", "0"), 4.0)
    assert (engaged.softclip_v, engaged.delay_s) == (1.2, 1.5e-3)
    assert (engaged.band_edge_hz, engaged.noise_v_rthz) == (20e3, pytest.approx(40e-9))


def test_semicolons_in_prose_and_elsewhere() -> None:
    """A semicolon belongs to title, about and family; elsewhere it begins a comment."""
    text = MINE.replace("A boost.", "A boost; clean.").replace("20k", "20k ; converter")
    pedal = parse_pedal(text, "mine.cir")
    assert pedal.about == "A boost; clean."
    assert pedal.states["engaged"].band_edge_hz == 20e3


def test_table() -> None:
    """Each power and position gives its state; 'none' is as found."""
    pedal = parse_pedal(MINE, "mine.cir")
    rows = [("on", "a"), ("on", "b"), ("off", "a"), ("off", "b"), ("on", "none")]
    names = [pedal.state(*row).name for row in rows]
    assert names == ["bypass", "engaged", "bypass", "dead", "bypass"]


def test_last_state() -> None:
    """'last' stays where it was with power on, or in what that state becomes without power."""
    text = MINE.replace("off a bypass", "off a last").replace("off b dead", "off b last")
    pedal = parse_pedal(text.replace(".softclip", ".unpowered dead\n.softclip"), "mine.cir")
    assert pedal.state("off", "a").name == "bypass"
    assert pedal.state("off", "b", last="bypass").name == "bypass"
    assert pedal.state("off", "a", last="engaged").name == "dead"
    assert pedal.state("off", "a", last="dead").name == "dead"
    with pytest.raises(ArgumentError, match=r'no state "melted".*bypass, engaged, dead'):
        pedal.state("off", "a", last="melted")


def test_pedal_without_footswitch_takes_any_position() -> None:
    """A volume box is the same whatever position is asked for."""
    pedal = load_pedal("garden-tap")
    for power in ("on", "off"):
        for position in ("a", "b", "none"):
            assert pedal.state(power, position).name == "through"


@pytest.mark.parametrize(("power", "position"), [("dim", "a"), ("on", "c"), ("", "a")])
def test_unknown_power_or_position(power: str, position: str) -> None:
    """Anything but on, off and a, b, none is refused."""
    with pytest.raises(ArgumentError, match="Power is on or off, position a, b or none"):
        parse_pedal(MINE, "mine.cir").state(power, position)


def test_own_file_by_path(tmp_path: Path) -> None:
    """A user's own file is read by its path, as text or Path, with or without a byte order mark."""
    path = tmp_path / "mine.cir"
    path.write_text("\ufeff" + MINE, encoding="utf-8")
    assert load_pedal(path) == load_pedal(str(path)) == parse_pedal(MINE, "mine.cir")


def test_file_that_cannot_be_read(tmp_path: Path) -> None:
    """A missing file, a folder and a file of other bytes say what is wrong with which file."""
    with pytest.raises(ArgumentError, match=r"gone\.cir cannot be read: No such file"):
        load_pedal(tmp_path / "gone.cir")
    with pytest.raises(ArgumentError, match="cannot be read"):
        load_pedal(tmp_path)
    with pytest.raises(ArgumentError, match="cannot be read: embedded null"):
        load_pedal("a\0b.cir")
    path = tmp_path / "latin.cir"
    path.write_bytes(b".title Mine\n.about 1 M\xd9\n")
    with pytest.raises(NetlistError, match=r"^latin\.cir, line 2: byte 22 is not UTF-8"):
        load_pedal(path)


def test_unknown_name_shows_near_ones() -> None:
    """A misspelt pedal is answered with those that come near, and how to give a file."""
    with pytest.raises(ArgumentError, match=r"Near to it: harbour-bell.*by its path"):
        load_pedal("harbor-bell")


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        (".title Mine\n", "", r"line 27: The file has no \.title"),
        (".title Mine", ".title", r"line 1: \.title is empty"),
        (".about A boost.", ".about A boost.\n.about Two.", r"line 3: \.about stands twice"),
        (".family", ".kind", r'line 3: "\.kind" is no directive.*\.softclip'),
        ("mechanical-latching", "sliding", 'line 4: "sliding" is no kind of footswitch'),
        (".bypass bypass", ".bypass off", r"There is no state off for \.bypass to name"),
        (".common", "Rx IN 0 1M\n.common", r'line 7: "Rx IN 0 1M" stands before any section'),
        (".common", ".common elements", r'line 7: "\.common" takes no word'),
        (".state dead", ".state bypass", "line 21: State bypass stands twice"),
        (".state dead", ".state last", 'line 21: "last" cannot name a state'),
        (".state dead", ".state Dead", 'line 21: "Dead" cannot name a state'),
        ("Rsw IN OUT 0.05", "Rsw IN OUT", "line 12: Rsw is followed by 2 words"),
        ("Rsw IN", "Cci IN", "line 12: Cci stands already on line 8"),
        (".softclip 1.2", ".softclip none", 'line 16: "none" is not a number'),
        (".softclip 1.2", ".softclip 0", r"line 16: \.softclip is 0"),
        (".softclip 1.2", ".softclip 1e999", r"line 16: \.softclip is inf"),
        (".softclip 1.2", ".noise 1n", r"line 19: \.noise stands twice"),
        (".softclip 1.2", ".unpowered melted", "line 14: There is no state melted"),
        (".softclip 1.2", ".unpowered", r"line 16: \.unpowered names exactly one state"),
        (".common", ".delay 1m\n.common", r"line 7: \.delay stands outside a state"),
        (".common", ".unpowered dead\n.common", r"line 7: \.unpowered stands outside a state"),
        (".table", ".table on", r'line 24: "\.table" takes no word'),
        ("off b dead", "off c dead", 'line 28: "off c dead" is no row of the table'),
        ("off b dead", "off b", 'line 28: "off b" is no row'),
        ("off b dead", "off a dead", "line 28: off a stands twice"),
        ("off b dead", "", "line 28: The table has no row for off b"),
        ("off b dead", "off b dead\noff none dead", "line 29: off none does not fit"),
        ("off b dead", "off b melted", "line 28: There is no state melted"),
        ("off b dead", "off b bypass", "line 21: The table never uses state dead"),
        ("on  b engaged", "on b last", 'line 26: With power on a state is needed; found "last"'),
    ],
)
def test_wrong_file_is_named_with_its_line(old: str, new: str, message: str) -> None:
    """Every mistake in a file is an error with file, line and what was found."""
    text = MINE.replace(old, new, 1)
    assert text != MINE
    with pytest.raises(NetlistError, match=message) as caught:
        parse_pedal(text, "mine.cir")
    assert str(caught.value).startswith("mine.cir, line ")


def test_unconnected_jack_is_named() -> None:
    """A state in which nothing touches a jack cannot be solved, and says so with its line."""
    text = MINE.replace("Cco OUT 0 6p\n", "").replace("Cx IN OUT 1p", "Cx IN 0 1p")
    with pytest.raises(NetlistError, match="line 20: nothing is connected to OUT in state dead"):
        parse_pedal(text, "mine.cir")


@pytest.mark.parametrize("name", pedal_names())
def test_pedals_of_the_package(name: str) -> None:
    """Each is described in one line of plain text and solvable in every state, at 0 Hz too."""
    pedal = load_pedal(name)
    assert len(pedal.about) <= 100
    assert pedal.about.endswith(".")
    for state in pedal.states.values():
        assert np.isfinite(chain_matrix(state.elements, np.array([5.0, 1e3, 80e3]))).all()
        driven = (*state.elements, Element("R", "RLOAD", ("OUT", "0"), 1e6))
        assert np.isfinite(transfer(driven, np.array([0.0]), ("IN", "0"), "OUT")).all()


# What passes within 3 dB at 1 kHz from the plain feed: powered in bypass, then without power after
# bypass (a) and after the effect (b). Families as common practice knows them.
PASSES = {
    "hard-wired": (True, True, False),
    "hard-wired with pulldown": (True, True, False),
    "hard-wired with lamp sensing": (True, True, False),
    "half-switched": (True, True, False),
    "tone network loading": (True, True, False),
    "electronic switching": (True, False, False),
    "op-amp buffer": (True, False, False),
    "emitter follower": (True, False, False),
    "source follower": (True, False, False),
    "output buffer": (True, False, False),
    "digital": (True, False, False),
    "digital with relay": (True, True, True),
    "relay with mute": (True, True, True),
    "transformer": (True, True, True),
    "dead path": (False, False, False),
    "silent by design": (False, False, False),
}


@pytest.mark.parametrize("name", pedal_names())
def test_truth_table_of_the_families(name: str) -> None:
    """Power and position tell the families apart as the trade knows them."""
    pedal = load_pedal(name)
    wanted = PASSES.get(pedal.family)
    if wanted is None:
        assert pedal.family in {
            "relay", "analogue switch", "filter in line", "volume box", "wiring fault",
        }  # fmt: skip
        return
    states = (pedal.state("on", "a"), pedal.state("off", "a"), pedal.state("off", "b"))
    assert tuple(abs(_plain_db(state)) < 3 for state in states) == wanted
    assert pedal.state("on", "a").name == pedal.bypass


def test_two_kinds_of_relay() -> None:
    """Without power one relay falls back to bypass, the other stays where it was."""
    falls, stays = load_pedal("field-gate"), load_pedal("barn-door")
    assert falls.state("off", "b", last="engaged").name == "bypass"
    assert stays.state("off", "b", last="bypass").name == "bypass"
    assert _plain_db(stays.state("off", "b", last="engaged")) < -60


ACTIVE = {
    "electronic switching", "op-amp buffer", "emitter follower", "source follower",
    "output buffer", "digital", "digital with relay",
}  # fmt: skip


@pytest.mark.parametrize("name", pedal_names())
def test_buffers_only_where_a_family_has_one(name: str) -> None:
    """AD − BC in bypass is 0 behind a buffer and 1 for everything passive (reciprocity)."""
    pedal = load_pedal(name)
    state = pedal.states[pedal.bypass]
    if name == "kit-open-input":
        wanted = pytest.approx(1, abs=1e-3)  # an amplifier hangs on a picofarad beside the wire
    elif any(element.kind in "EG" for element in state.elements):
        assert pedal.family in ACTIVE
        wanted = pytest.approx(0, abs=1e-9)
    else:
        assert pedal.family not in ACTIVE
        wanted = pytest.approx(1, abs=1e-4)  # digits are lost where 163 dB down is all there is
    assert abs(determinant(chain_matrix(state.elements, np.array([1e3])))[0]) == wanted


@pytest.mark.parametrize(
    ("name", "position", "low_db", "high_db"),
    [
        ("kit-missing-jumper", "a", -56, -55),
        ("kit-missing-jumper", "b", 12, 14),
        ("kit-columns-swapped", "a", -56, -55),
        ("kit-columns-swapped", "b", -400, -80),
        ("kit-jacks-swapped", "a", -0.01, 0),
        ("kit-jacks-swapped", "b", -400, -40),
        ("kit-ground-tab", "a", -64, -63),
        ("kit-pulldown-10k", "a", -0.14, -0.12),
        ("kit-pulldown-100k", "a", -0.02, -0.01),
        ("kit-cold-joint", "a", -0.02, -0.009),
        ("kit-jack-shorting", "a", -90, -60),
        ("kit-jack-shorting", "b", -90, -50),
        ("kit-whisker", "a", -0.01, 0),
    ],
)
def test_wiring_faults_show_at_the_jacks(
    name: str, position: str, low_db: float, high_db: float
) -> None:
    """Each fault has the level at 1 kHz that its description promises, plain feed, powered."""
    level = _plain_db(load_pedal(name).state("on", position))
    assert low_db <= level <= high_db


def test_converters_delay_and_limit_the_band() -> None:
    """Only the digital pedals, and the digital echo for a mixer, have delay and a band edge."""
    late = {
        name
        for name in pedal_names()
        for state in load_pedal(name).states.values()
        if state.delay_s or state.band_edge_hz
    }
    assert late == {"slow-canal", "ferry-landing", "far-shore"}
    bypass = load_pedal("slow-canal").state("on", "a")
    assert (bypass.delay_s, bypass.band_edge_hz) == (1.5e-3, 20e3)
