"""Lines of a pedal file for tones, hum, bending and movement: read, refused, and in full scale."""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import pytest

from loopback.errors import NetlistError
from loopback.simulate.imperfections_shape import bent
from loopback.simulate.moving import gate_gain, tremolo_gain
from loopback.simulate.sounding import NOTHING, sounding_of
from loopback.simulate.state_sound import SILENT, Clamp
from tests.reference.sounding_pedals import wire_with


def test_every_line_is_read() -> None:
    """Numbers as people write them, in the units of the docstring."""
    lines = [
        ".tone 9.6k level 30u",
        ".tone 19.2k level 5u",
        ".hum 100u 20u",
        ".bend second 80",
        ".clamp at 0.35 ohm 1k farad 100u leak 100k",
        ".tremolo rate 5 depth 6",
        ".gate at 5m hold 30m",
    ]
    state = wire_with("\n".join(lines)).state("on", "none")
    sound = state.sound
    assert sound.tones == (pytest.approx((9600.0, 30e-6)), pytest.approx((19_200.0, 5e-6)))
    assert sound.hum == pytest.approx((100e-6, 20e-6))
    assert (sound.second_db, sound.third_db) == (80.0, None)
    assert sound.clamp is not None
    assert astuple(sound.clamp) == pytest.approx(astuple(Clamp(0.35, 1e3, 100e-6, 100e3)))
    assert sound.tremolo == pytest.approx((5.0, 6.0))
    assert sound.gate == pytest.approx((5e-3, 30e-3))
    assert sound.moves
    assert wire_with("").state("on", "none").sound == SILENT


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (".tone 9.6k", "incomplete"),
        (".tone 9.6k loud 3u", 'does not take "loud"'),
        (".tone 0 level 3u", "above zero"),
        (".hum", "empty"),
        (".hum 1u\n.hum 2u", "stands twice"),
        (".bend", "incomplete"),
        (".bend fourth 80", 'does not take "fourth"'),
        (".clamp at 0.3 ohm 1k", "incomplete"),
        (".clamp at 0.3 at 0.4 ohm 1k farad 1u leak 1k", 'does not take "at"'),
        (".tremolo rate 5 depth", "incomplete"),
        (".gate at -5m hold 30m", "above zero"),
    ],
)
def test_what_cannot_be_read_is_named(line: str, said: str) -> None:
    """With file and line, in the manner of all pedal files."""
    with pytest.raises(NetlistError, match=rf"wire, line \d+: .*{said}"):
        wire_with(line)


def test_outside_a_state_is_refused() -> None:
    """Such a line belongs to a state."""
    with pytest.raises(NetlistError, match="outside a state"):
        wire_with(".table\n.tone 9.6k level 3u")


def test_levels_in_full_scale() -> None:
    """Volts rms become peaks; harmonics are those stated for 1 V peak, by the identities."""
    sound = wire_with(".tone 1k level 1m\n.hum 2m\n.bend second 40 third 60").state("on", "none")
    sounding = sounding_of(sound.sound, 0.25, 0.0)
    assert sounding.tones == ((1000.0, pytest.approx(1e-3 * 0.25 * 2**0.5)),)
    assert sounding.hum == (pytest.approx(2e-3 * 0.25 * 2**0.5),)
    n = 4096
    x = 0.25 * np.sin(2 * np.pi * 8 * np.arange(n) / n)  # 1 V peak
    found = np.abs(bent(np.fft.rfft(x), n, sounding.square, sounding.cube)) * 2 / n / 0.25
    # sin² = ½ − ½ cos 2θ and sin³ = ¾ sin θ − ¼ sin 3θ.
    assert found[16] == pytest.approx(0.01, rel=1e-6)
    assert found[24] == pytest.approx(0.001, rel=1e-6)
    assert found[8] == pytest.approx(1 + 3 * 0.001, rel=1e-6)
    assert sounding_of(SILENT, 0.25, 0.0) is NOTHING


def test_tremolo_and_gate() -> None:
    """0 dB at its loudest and the stated depth below at its softest; shut after the hold."""
    gain = tremolo_gain(48_000, 48_000, 2.0, 6.0, 0.0)
    assert 20 * np.log10(gain.max()) == pytest.approx(0.0, abs=1e-9)
    assert 20 * np.log10(gain.min()) == pytest.approx(-6.0, abs=1e-4)
    x = np.zeros(48_000)
    x[4_800:9_600] = 0.1
    opened = gate_gain(x, 48_000, 0.05, 0.05)
    assert opened[7_000] == 1.0
    assert opened[9_600 + 2_000] == 1.0
    assert opened[9_600 + 3_000] == 0.0
    assert opened[0] == 0.0
