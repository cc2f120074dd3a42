"""Any text at all is either a pedal or an error that names file and line; never anything else."""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopback.circuit.netlist import Element, parse_elements
from loopback.circuit.nodal import impedance, thermal_density
from loopback.errors import NetlistError
from loopback.simulate.pedal import PedalFile, load_pedal, parse_pedal, pedal_names
from loopback.simulate.press_text import Joint, PressModel
from loopback.simulate.state_sound import Clamp, StateSound

FILES = {name: load_pedal(name) for name in pedal_names()}
PIECES = (
    "IN OUT 0 a b R1 C1 L1 E1 G1 T1 1k 1M 1p 0.05 -1 1e308 1e-308 nan inf ; * "
    ".state .common .table .title .unpowered .noise on off none last bypass "
    ".press lit dark click gap .tap at ohm lasts .tone level .hum .bend second .clamp .gate hold"
)
WORDS = st.sampled_from(PIECES.split())
LINES = st.lists(WORDS, max_size=7).map(" ".join)
TEXTS = st.lists(LINES, max_size=12).map("\n".join)


def _pairs(values: Mapping[str, float | None]) -> str:
    return " ".join(f"{name} {value!r}" for name, value in values.items() if value is not None)


def _written_sound(sound: StateSound) -> list[str]:
    lines = [f".tone {f_hz!r} level {volts!r}" for f_hz, volts in sound.tones]
    lines += [f".hum {' '.join(map(repr, sound.hum))}"] if sound.hum else []
    pairs = {
        "bend": _pairs({"second": sound.second_db, "third": sound.third_db}),
        "clamp": _pairs(asdict(sound.clamp)) if sound.clamp else "",
        "tremolo": _pairs(dict(zip(("rate", "depth"), sound.tremolo or (), strict=False))),
        "gate": _pairs(dict(zip(("at", "hold"), sound.gate or (), strict=False))),
    }
    return lines + [f".{kind} {text}" for kind, text in pairs.items() if text]


def _written(pedal: PedalFile) -> str:
    """Write a pedal as a file, without what the states share and in plain numbers."""
    lines = [f".title {pedal.title}", f".about {pedal.about}", f".family {pedal.family}"]
    lines += [f".footswitch {pedal.footswitch}", f".bypass {pedal.bypass}"]
    lines += [f".press {way} {_pairs(asdict(press))}" for way, press in pedal.presses.items()]
    lines += [f".tap {_pairs(asdict(joint))}" for joint in pedal.joints]
    for state in pedal.states.values():
        lines.append(f".state {state.name}")
        lines += [f"{e.name} {' '.join(e.nodes)} {e.value!r}" for e in state.elements]
        numbers = {
            "softclip": state.softclip_v,
            "delay": state.delay_s,
            "band": state.band_edge_hz,
            "noise": state.noise_v_rthz,
        }
        lines += [f".{name} {value!r}" for name, value in numbers.items() if value]
        lines += _written_sound(state.sound)
        lines += [f".unpowered {state.unpowered}"] if state.unpowered else []
    lines.append(".table")
    lines += [f"{power} {position} {name}" for (power, position), name in pedal.table.items()]
    return "\n".join(lines)


def _place_of_error(text: str) -> int | None:
    """Line number of the error that reading ends in; None when a pedal was read."""
    try:
        pedal = parse_pedal(text, "fuzz.cir")
    except NetlistError as error:
        found = re.match(r"fuzz\.cir, line (\d+): ", str(error))
        return int(found[1]) if found else 0
    return None if pedal.state("on", "a").name in pedal.states else 0


def _is_pedal_or_error(text: str) -> bool:
    place = _place_of_error(text)
    return place is None or 1 <= place <= len(re.split("\r\n|\r|\n", text))


@given(st.text() | TEXTS)
def test_any_text_is_a_pedal_or_an_error(text: str) -> None:
    """Reading never ends in anything but a pedal or an error with its place."""
    assert _is_pedal_or_error(text)


@given(st.sampled_from(sorted(FILES)), st.data())
def test_damaged_pedal_is_a_pedal_or_an_error(name: str, data: st.DataObject) -> None:
    """A good file with one line lost, doubled, or replaced, is still one or the other."""
    lines = _written(FILES[name]).splitlines()
    at = data.draw(st.integers(0, len(lines) - 1))
    other = data.draw(st.lists(LINES | st.text(max_size=30), max_size=2))
    rest = lines[at + data.draw(st.integers(0, 1)) :]
    assert _is_pedal_or_error("\n".join([*lines[:at], *other, *rest]))


@given(st.text() | TEXTS)
def test_any_lines_are_elements_or_an_error(text: str) -> None:
    """Element lines give elements or an error; what is read can be solved or is refused."""
    elements: tuple[Element, ...] = ()
    with suppress(NetlistError):
        elements = parse_elements(enumerate(text.splitlines(), start=1), "fuzz.cir")
    f_hz = np.array([0.0, 1.0, 1e5])
    with suppress(NetlistError):
        assert np.isfinite(impedance(elements, f_hz, "IN")).all()
    with suppress(NetlistError):
        assert np.all(thermal_density(elements, f_hz, "IN") >= 0)


@pytest.mark.parametrize("name", sorted(FILES))
def test_written_pedal_reads_the_same(name: str) -> None:
    """A pedal written out in plain numbers and read again is the same pedal."""
    again = parse_pedal(_written(FILES[name]), "again.cir")
    assert again == FILES[name]


def test_every_line_that_a_pedal_may_have_reads_the_same() -> None:
    """A pedal with all sounds, presses and joints, no two numbers equal, is read the same."""
    clamp = Clamp(0.35, 1e3, 1e-4, 1e5)
    tones, hum = ((9.6e3, 3e-5), (1.2e4, 2e-6)), (1e-4, 2e-5, 5e-5)
    sound = StateSound(tones, hum, 80.0, 70.0, clamp, (5.0, 6.0), (5e-3, 0.03))
    press = PressModel(-1e-3, 2e-3, -3e-3, 4e-3, -5e-3, 6.0, 0.07, 8e-3, 9.0, 1.1e-3, 0.012, 0.013)
    plain = FILES["harbour-bell"]
    full = replace(
        plain,
        states={name: replace(state, sound=sound) for name, state in plain.states.items()},
        presses={"lit": press, "dark": PressModel(click=0.5)},
        joints=(Joint(2.5, 2e4, 0.03), Joint(3.5, 1e9, 0.04)),
    )
    assert parse_pedal(_written(full), "again.cir") == full
