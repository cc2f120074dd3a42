"""The drawing of the equivalent circuit: which parts, with which values, for every kind of path."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args
from xml.etree import ElementTree

import pytest

from loopback.identify.found import BufferInput, Network, PartInLine
from loopback.quantity import Estimate
from loopback.report.circuit_parts import Across, Circuit, InLine
from loopback.report.circuit_svg import circuit_svg
from loopback.report.page_circuit import circuit_of
from loopback.verdict.codes import ReasonCode
from loopback.verdict.result import PathClass, Reason, Result
from tests.reference.invented_analysis import pulldown_result

PULLDOWN = pulldown_result()
OHM_1M, PF_19 = ("resistor", "1.00 MΩ ± 0.01"), ("capacitor", "19.2 pF ± 0.7")
assert PULLDOWN.shunt is not None
NO_LOAD = replace(PULLDOWN.shunt, g_siemens=Estimate(1e-9, 3e-9, "siemens"))
NETWORK = Network(
    Estimate(100.8e3, 600, "ohm"),
    Estimate(10.2e-9, 1e-10, "farad"),
    Estimate(13.4e-12, 0.8e-12, "farad"),
    0.01,
    Estimate(4e-7, 1e-8, "siemens"),
)
STAGE = BufferInput(
    Estimate(1 / 686e3, 9e-9, "siemens"),
    Estimate(14.1e-12, 0.2e-12, "farad"),
    Estimate(-0.007, 0.003, "dB"),
    False,
    Estimate(640.0, 12.0, "ohm"),
)


def _because(path: PathClass, code: ReasonCode, **numbers: float | str) -> Result:
    return replace(PULLDOWN, path=path, reasons=(Reason(code, numbers),))


CASES: dict[str, tuple[Result, list[tuple[str, str]], list[tuple[str, str]]]] = {
    "wired": (
        replace(PULLDOWN, path="wired", shunt=NO_LOAD),
        [("wire", "wire, under 4.7 Ω")],
        [PF_19],
    ),
    "shunt": (PULLDOWN, [("wire", "wire, under 4.7 Ω")], [OHM_1M, PF_19]),
    "coupled": (
        replace(PULLDOWN, network=NETWORK),
        [("wire", "wire, under 4.7 Ω")],
        [
            ("capacitor", "10.20 nF ± 0.20"),
            ("resistor", "100.8 kΩ ± 1.2"),
            ("resistor", "2.50 MΩ ± 0.12"),
            ("capacitor", "13.4 pF ± 1.6"),
        ],
    ),
    "in line": (
        replace(_because("loaded", "series_element"), series_ohm=Estimate(4700, 20, "ohm")),
        [("resistor", "4.70 kΩ ± 0.04")],
        [OHM_1M, PF_19],
    ),
    "in line, not resolved": (
        replace(_because("loaded", "part_in_line"), shunt=None, series_ohm=None),
        [("resistor", "a part in line")],
        [],
    ),
    "capacitor in line": (
        _because("loaded", "series_capacitor", ohm=1e6),
        [("capacitor", "a capacitor in line")],
        [OHM_1M, PF_19],
    ),
    "capacitor in line, with its value": (
        replace(
            _because("loaded", "series_capacitor", ohm=1e6),
            in_line=PartInLine(c_farad=Estimate(563e-9, 14e-9, "farad")),
        ),
        [("capacitor", "563 nF ± 27")],
        [OHM_1M, PF_19],
    ),
    "capacitor in line, hardly known": (
        replace(
            _because("loaded", "series_capacitor", ohm=1e6),
            in_line=PartInLine(c_farad=Estimate(5e-6, 3e-6, "farad")),
        ),
        [("capacitor", "a capacitor in line")],
        [OHM_1M, PF_19],
    ),
    "transformer, with its values": (
        replace(
            _because("loaded", "transformer"),
            consistent=("transformer",),
            in_line=PartInLine(
                main_henry=Estimate(59.9, 0.35, "henry"),
                leak_henry=Estimate(14.6e-3, 1e-4, "henry"),
                ratio=Estimate(1.0003, 0.0002, ""),
            ),
        ),
        [("winding", "1.0003 ± 0.0004 : 1")],
        [],
    ),
    "a part in line beyond the limit of a wire": (
        replace(PULLDOWN, series_ohm=Estimate(123.0, 7.0, "ohm")),
        [("resistor", "123 Ω ± 14")],
        [OHM_1M, PF_19],
    ),
    "coupled, its plain capacitance only bounded": (
        replace(
            PULLDOWN,
            network=replace(
                NETWORK, c_farad=Estimate(-3e-11, 3e-11, "farad"), direct_g_siemens=None
            ),
        ),
        [("wire", "wire, under 4.7 Ω")],
        [("capacitor", "10.20 nF ± 0.20"), ("resistor", "100.8 kΩ ± 1.2")],
    ),
    "transformer": (
        replace(_because("loaded", "transformer"), consistent=("transformer",)),
        [("winding", "a winding")],
        [],
    ),
    "plain lead alone": (
        replace(_because("loaded", "plain_loss", ohm=5e3), shunt=None),
        [("wire", "")],
        [("resistor", "some 5 kΩ")],
    ),
    "buffered": (
        replace(PULLDOWN, path="buffered", buffer=STAGE),
        [("stage", "powered stage"), ("resistor", "640 Ω ± 24")],
        [("resistor", "686 kΩ ± 8"), ("capacitor", "14.1 pF ± 0.4")],
    ),
    "buffered, nothing resolved": (
        replace(PULLDOWN, path="buffered", buffer=None),
        [("stage", "powered stage")],
        [],
    ),
    "converted": (_because("converted", "delay", ms=1.234), [("converter", "")], []),
    "silent": (_because("silent", "dead_open", db_1k=-90.0), [("open", "nothing passes")], []),
    "held to ground": (
        _because("silent", "dead_short", db_1k=-90.0),
        [("wire", ""), ("wire", "")],
        [("wire", "held to ground")],
    ),
    "joint": (_because("faulty", "not_steady", db=3.1), [("joint", "comes and goes, 3.1 dB")], []),
    "weak joint": (
        _because("faulty", "series_resistance", ohm=120.0),
        [("resistor", "120 Ω")],
        [OHM_1M, PF_19],
    ),
    "dead": (_because("faulty", "dead_open", db_1k=-80.0), [("open", "nothing passes")], []),
}


@pytest.mark.parametrize("name", CASES)
def test_parts_and_values_are_those_identified(name: str) -> None:
    """In line and across, from left to right, each with the value that the result holds."""
    result, in_line, across = CASES[name]
    circuit = circuit_of(result)
    assert isinstance(circuit, Circuit)
    lines = [item for item in circuit.items if isinstance(item, InLine)]
    assert [(item.kind, item.text) for item in lines] == in_line
    branches = [item for item in circuit.items if isinstance(item, Across)]
    assert [part for branch in branches for part in branch.parts] == across


@pytest.mark.parametrize("name", CASES)
def test_drawing_is_whole_and_names_every_value(name: str) -> None:
    """Well-formed, in no colour of its own, without identifiers, no word outside its box."""
    circuit = circuit_of(CASES[name][0])
    assert isinstance(circuit, Circuit)
    text = circuit_svg(circuit, 'said "so" & <thus>')
    root = ElementTree.fromstring(text)
    assert root.attrib["aria-label"] == 'said "so" & <thus>'
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    words = root.findall("{http://www.w3.org/2000/svg}text")
    shown = {word.text for word in words}
    wanted = {text for _, text in (*CASES[name][1], *CASES[name][2]) if text}
    assert wanted | {"in", "out"} <= shown
    for word in words:
        assert word.text is not None
        x, y = float(word.attrib["x"]), float(word.attrib["y"])
        long = 0.6 * 13 * len(word.text)
        left = {"start": x, "middle": x - long / 2, "end": x - long}[word.attrib["text-anchor"]]
        assert left >= 0
        assert left + long <= width
        assert 10 <= y <= height - 3
    assert "#" not in text
    assert " id=" not in text


@pytest.mark.parametrize("name", CASES)
def test_words_of_a_drawing_never_meet(name: str) -> None:
    """No two words overlap, and none lies on the line or on another branch's symbol."""
    circuit = circuit_of(CASES[name][0])
    assert isinstance(circuit, Circuit)
    root = ElementTree.fromstring(circuit_svg(circuit, "it"))
    boxes = []
    for word in root.findall("{http://www.w3.org/2000/svg}text"):
        x, y = float(word.attrib["x"]), float(word.attrib["y"])
        long = 0.6 * 13 * len(word.text or "")
        left = {"start": x, "middle": x - long / 2, "end": x - long}[word.attrib["text-anchor"]]
        boxes.append((left, y - 10, left + long, y + 3))
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            apart = (
                one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
            )
            assert apart


def test_every_path_is_drawn_or_says_why_not() -> None:
    """No class of path is forgotten; where nothing is known nothing is drawn."""
    for path in get_args(PathClass):
        drawn = circuit_of(replace(PULLDOWN, path=path, reasons=()))
        if path in ("undecided", "none"):
            assert isinstance(drawn, str)
            assert drawn.startswith("No circuit is drawn")
        else:
            assert isinstance(drawn, Circuit)
    unlisted = replace(PULLDOWN, shunt=None, reasons=())
    assert "not in the list" in str(circuit_of(unlisted))


def test_no_circuit_says_which_are_open_and_what_would_tell() -> None:
    """Where two paths fit, both are named, and the run that parts them; else the reason itself."""
    between = replace(
        PULLDOWN, path="undecided", alternatives=("wired", "buffered"), would_tell=("reversed",)
    )
    assert circuit_of(between) == (
        "No circuit is drawn. These runs leave open true bypass and a buffered path. It would take "
        "one run through the resistor with in and out of the pedal exchanged."
    )
    outside = replace(
        _because("undecided", "outside_list", db=0.31), consistent=(), would_tell=("repeat",)
    )
    assert "the nearest misses them by 0.31 dB" in str(circuit_of(outside))
    assert "the same runs again" in str(circuit_of(outside))
    nothing = replace(_because("undecided", "no_reference"), alternatives=(), would_tell=())
    assert "no reference run" in str(circuit_of(nothing))


def test_bounds_are_said_not_drawn() -> None:
    """A resistance that is only known to be above something is no resistor."""
    circuit = circuit_of(CASES["wired"][0])
    assert isinstance(circuit, Circuit)
    assert circuit.note == "Not drawn, since only a bound is known: over 160 MΩ."
