"""Random pedals of every family, as element lists with the truth about them.

Ranges are those of common practice: hand-wired to shielded wiring, pulldowns of the usual values,
inputs from fuzz to follower, buffers with gain and output resistance of their kind. Two families
are there to be hard: stages of 1 MΩ whose input capacitance is within 20 pF of the return lead's,
and networks that no hypothesis contains.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from loopback.circuit.netlist import Element, parse_elements

Rng = np.random.Generator


@dataclass(frozen=True)
class Truth:
    """What is known of an invented pedal; None where the figure has no meaning for its kind."""

    family: str
    path: str
    c_farad: float | None = None
    g_siemens: float | None = None
    series_ohm: float | None = None
    outside: bool = False


@dataclass(frozen=True)
class Pedal:
    """Bypass with and without power, and what the other position does."""

    truth: Truth
    bypass: tuple[Element, ...]
    unpowered: tuple[Element, ...]
    engaged: tuple[Element, ...]
    dead: tuple[Element, ...]
    position: str
    delay_s: float = 0.0
    edge_hz: float | None = None
    parts: dict[str, float] = field(default_factory=dict)


def _log(rng: Rng, low: float, high: float) -> float:
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _one(rng: Rng, *values: float) -> float:
    return float(rng.choice(np.array(values))) * float(rng.uniform(0.95, 1.05))


def _net(*lines: str) -> tuple[Element, ...]:
    return parse_elements(enumerate(lines, 1), "population")


def _ends(rng: Rng, low: float = 3e-12, high: float = 20e-12) -> tuple[list[str], float]:
    a, b = _log(rng, low, high), _log(rng, low, high)
    return [f"Cci IN 0 {a:.6e}", f"Cco OUT 0 {b:.6e}"], a + b


def _switch(rng: Rng) -> tuple[list[str], float]:
    r = _log(rng, 0.02, 0.3)
    return [f"Rsw IN OUT {r:.6e}"], r


def _stray(rng: Rng) -> tuple[Element, ...]:
    return _net(
        f"Cx IN OUT {_log(rng, 0.5e-12, 4e-12):.6e}", "Cci IN 0 8p", "Cco OUT 0 8p",
        f"Ro OUT 0 {_log(rng, 2e4, 2e5):.6e}", "Ri IN 0 1M",
    )  # fmt: skip


def _effect(rng: Rng) -> tuple[Element, ...]:
    return _net(
        "Cci IN 0 9p", "C1 IN a 22n", "Ra a 0 510k", f"E1 e 0 a 0 {rng.uniform(2, 20):.4f}",
        "Rt e t 10k", f"Ct t 0 {_log(rng, 1e-9, 2e-8):.6e}", "E2 u 0 t 0 1", "Ro u f 1k",
        "C2 f OUT 1u", "Rv OUT 0 100k",
    )  # fmt: skip


def _passive(rng: Rng, truth: Truth, lines: list[str], off: list[str] | None = None) -> Pedal:
    bypass = _net(*lines)
    return Pedal(
        truth, bypass, bypass if off is None else _net(*off), _effect(rng), _stray(rng),
        str(rng.choice(["a", "b"])),
    )  # fmt: skip


def made_of(truth: Truth, lines: list[str], rng: Rng) -> Pedal:
    """Make a passive pedal of given parts, the same with and without power."""
    return _passive(rng, truth, lines)


def _wired(rng: Rng) -> Pedal:
    ends, c = _ends(rng)
    switch, r = _switch(rng)
    path = "wired" if c <= 60e-12 else "loaded"
    return _passive(rng, Truth("wired", path, c, 0.0, r), [*ends, *switch])


def _screened(rng: Rng) -> Pedal:
    ends, c = _ends(rng, 25e-12, 75e-12)
    switch, r = _switch(rng)
    path = "wired" if c <= 60e-12 else "loaded"
    return _passive(rng, Truth("screened", path, c, 0.0, r), [*ends, *switch])


def _mute(rng: Rng) -> Pedal:
    ends, c = _ends(rng)
    switch, r = _switch(rng)
    mute = _log(rng, 60e-12, 150e-12)
    lines = [*ends, *switch, f"Cmt OUT 0 {mute:.6e}"]
    path = "wired" if c + mute <= 60e-12 else "loaded"
    return _passive(rng, Truth("relay_mute", path, c + mute, 0.0, r), lines)


def _pulldown(rng: Rng) -> Pedal:
    ends, c = _ends(rng)
    switch, r = _switch(rng)
    ohm = _one(rng, 1e4, 1e5, 4.7e5, 1e6, 1e6, 1e6, 2.2e6, 4.7e6, 1e7)
    lines, g = [*ends, *switch, f"Rpd IN 0 {ohm:.6e}"], 1 / ohm
    if rng.random() < 0.4:
        lines.append(f"Rpo OUT 0 {ohm:.6e}")
        g *= 2
    return _passive(rng, Truth("pulldown", "loaded", c, g, r), lines)


def _sense(rng: Rng) -> Pedal:
    ends, c = _ends(rng)
    switch, r = _switch(rng)
    ohm, gate = _log(rng, 2e6, 15e6), _log(rng, 5e-12, 30e-12)
    lines = [*ends, *switch, f"Csn IN 0 {gate:.6e}"]
    off = ohm * (1.0 if rng.random() < 0.5 else rng.uniform(0.7, 1.4))
    truth = Truth("sense", "loaded", c + gate, 1 / ohm, r)
    return _passive(rng, truth, [*lines, f"Rsn IN 0 {ohm:.6e}"], [*lines, f"Rsn IN 0 {off:.6e}"])


def _half(rng: Rng) -> Pedal:
    ends, _ = _ends(rng)  # what acts beside it depends on the stopper: C has no single truth
    switch, r = _switch(rng)
    coupling, stopper = _log(rng, 2e-9, 1e-6), _log(rng, 200, 1e5)
    bias, miller = _log(rng, 3e4, 1e6), _log(rng, 10e-12, 470e-12)
    lines = [
        *ends, *switch, f"Ccc IN a {coupling:.6e}", f"Rs a b {stopper:.6e}",
        f"Cbb b 0 {miller:.6e}",
    ]  # fmt: skip
    off = bias * (1.0 if rng.random() < 0.3 else rng.uniform(0.7, 1.5))
    truth = Truth("half", "loaded", None, 1 / (stopper + bias), r)
    return _passive(rng, truth, [*lines, f"Rbb b 0 {bias:.6e}"], [*lines, f"Rbb b 0 {off:.6e}"])


def _fuzz(rng: Rng) -> Pedal:
    ends, c = _ends(rng)
    switch, r = _switch(rng)
    ohm, coupling = _log(rng, 5e3, 2e4), _log(rng, 1e-7, 2.2e-6)
    lines = [*ends, *switch, f"Ccc IN a {coupling:.6e}"]
    off = ohm * (1.0 if rng.random() < 0.3 else rng.uniform(0.8, 1.6))
    truth = Truth("fuzz", "loaded", c, 1 / ohm, r)
    return _passive(rng, truth, [*lines, f"Rb a 0 {ohm:.6e}"], [*lines, f"Rb a 0 {off:.6e}"])


def _tone(rng: Rng) -> Pedal:
    ends, c = _ends(rng)
    switch, r = _switch(rng)
    ohm, cap = _log(rng, 2e4, 3e5), _log(rng, 2e-9, 5e-8)
    lines = [*ends, *switch, f"Rt IN x {ohm:.6e}", f"Ct x 0 {cap:.6e}"]
    return _passive(rng, Truth("tone", "loaded", c, 1 / ohm, r), lines)


def _inline(rng: Rng) -> Pedal:
    a, cap, ohm = _log(rng, 3e-12, 15e-12), _log(rng, 1e-10, 3e-9), _log(rng, 1e3, 2e4)
    lines = [f"Cci IN 0 {a:.6e}", f"Rf IN OUT {ohm:.6e}", f"Cf OUT 0 {cap:.6e}"]
    return _passive(rng, Truth("inline", "loaded", a + cap, 0.0, ohm), lines)


def _volume(rng: Rng) -> Pedal:
    ends, c = _ends(rng, 8e-12, 20e-12)
    pot = _one(rng, 1e5, 2.5e5, 2.5e5, 5e5)
    if rng.random() < 0.5:
        switch, r = _switch(rng)
        lines, g = [*ends, *switch, f"Rv IN 0 {pot:.6e}"], 1 / pot
    else:
        down = pot * _log(rng, 0.2, 0.9)
        r, g = pot - down, 1 / down
        lines = [*ends, f"Ra IN OUT {r:.6e}", f"Rb OUT 0 {down:.6e}"]
    one = _passive(rng, Truth("volume", "loaded", c, g, r), lines)
    return replace(one, engaged=one.bypass, dead=one.bypass, position="none")


def _transformer(rng: Rng) -> Pedal:
    c1, c2 = _log(rng, 1e-10, 4e-10), _log(rng, 1e-10, 4e-10)
    lines = [
        f"Cci IN 0 {c1:.6e}", f"Rp IN a {_log(rng, 200, 900):.6e}",
        f"Lm a 0 {_log(rng, 20, 100):.6e}", f"Llk a b {_log(rng, 6e-3, 3e-2):.6e}",
        f"Tt b 0 s 0 {rng.uniform(0.9, 1.1):.5f}", f"Rs s OUT {_log(rng, 200, 900):.6e}",
        f"Cco OUT 0 {c2:.6e}", f"Ciw IN OUT {_log(rng, 3e-11, 2e-10):.6e}",
    ]  # fmt: skip
    one = _passive(rng, Truth("transformer", "loaded"), lines)
    return replace(one, engaged=one.bypass, dead=one.bypass, position="none")


def _cmos(rng: Rng) -> Pedal:
    ends, c = _ends(rng)
    bias, on = _one(rng, 4.7e5, 1e6, 2.2e6), _log(rng, 60, 280)
    c1, c2 = _log(rng, 1e-7, 4.7e-6), _log(rng, 1e-7, 4.7e-6)
    lines = [
        *ends, f"C1 IN a {c1:.6e}", f"Ra a 0 {bias:.6e}", "Ca a 0 9p", f"Ron a b {on:.6e}",
        "Cb b 0 9p", f"Rb b 0 {bias:.6e}", f"C2 b OUT {c2:.6e}", "Ro OUT 0 1M",
    ]  # fmt: skip
    one = _passive(rng, Truth("cmos", "loaded", c + 18e-12), lines)
    return replace(one, unpowered=_stray(rng) if rng.random() < 0.6 else one.bypass)


def _stage(rng: Rng, family: str, lines: list[str], c_in: float, g_in: float) -> Pedal:
    dead = _stray(rng)
    return Pedal(
        Truth(family, "buffered", c_in, g_in), _net(*lines), dead, _effect(rng), dead,
        str(rng.choice(["a", "b"])),
    )  # fmt: skip


def _op_amp(rng: Rng) -> Pedal:
    jack, own = _log(rng, 4e-12, 12e-12), _log(rng, 3e-12, 150e-12)
    bias, pull = _one(rng, 4.7e5, 1e6, 2.2e6), _one(rng, 1e6, 2.2e6, 1e7)
    lines = [
        f"Cci IN 0 {jack:.6e}", f"Rpd IN 0 {pull:.6e}", f"C1 IN a {_log(rng, 1e-8, 1e-6):.6e}",
        f"Ra a 0 {bias:.6e}", f"Ca a 0 {own:.6e}", "E1 e 0 a 0 1.0",
        f"Ro e f {_log(rng, 50, 1000):.6e}", f"C2 f OUT {_log(rng, 1e-6, 2.2e-5):.6e}",
        "Rp OUT 0 100k", "Cco OUT 0 8p",
    ]  # fmt: skip
    return _stage(rng, "op_amp", lines, jack + own, 1 / bias + 1 / pull)


def _follower(rng: Rng) -> Pedal:
    jfet = rng.random() < 0.5
    jack, own = _log(rng, 4e-12, 12e-12), _log(rng, 4e-12, 15e-12)
    gain = rng.uniform(0.85, 0.97) if jfet else rng.uniform(0.97, 0.99)
    out = _log(rng, 300, 1500) if jfet else _log(rng, 20, 300)
    bias = _one(rng, 1e6, 2.2e6, 4.7e6) if jfet else _one(rng, 2.2e5, 4.3e5, 5.1e5)
    lines = [
        f"Cci IN 0 {jack:.6e}", f"C1 IN a {_log(rng, 1e-8, 1e-7):.6e}", f"Ra a 0 {bias:.6e}",
        f"Ca a 0 {own:.6e}", f"E1 e 0 a 0 {gain:.6f}", f"Ro e f {out:.6e}",
        f"C2 f OUT {_log(rng, 1e-6, 1e-5):.6e}", "Rp OUT 0 100k", "Cco OUT 0 8p",
    ]  # fmt: skip
    return _stage(rng, "jfet" if jfet else "emitter", lines, jack + own, 1 / bias)


def _switching(rng: Rng) -> Pedal:
    own = _log(rng, 6e-12, 20e-12)
    bias = _one(rng, 4.7e5, 4.7e5, 1e6)
    lines = [
        "Cci IN 0 8p", f"C1 IN a {_log(rng, 2e-8, 1e-7):.6e}",
        f"R1 a b {_log(rng, 1e3, 1.5e4):.6e}",
        f"Rb b 0 {bias:.6e}", f"Cb b 0 {own:.6e}", f"E1 e 0 b 0 {rng.uniform(0.97, 0.99):.6f}",
        "Re e c 30", "C2 c d 1u", f"Rj d g {_log(rng, 30, 100):.6e}", "Rg g 0 470k",
        f"E2 h 0 g 0 {rng.uniform(0.97, 0.99):.6f}", "Ro h o 30", "C3 o p 1u",
        f"Rs p OUT {_log(rng, 100, 1000):.6e}", "Rp OUT 0 100k", "Cco OUT 0 8p",
    ]  # fmt: skip
    return replace(
        _stage(rng, "switching", lines, 8e-12 + own, 1 / bias),
        truth=Truth("switching", "buffered"),
    )


def _output_only(rng: Rng) -> Pedal:
    jack = _log(rng, 6e-12, 20e-12)
    lines = [
        "Rsw IN a 0.05", f"Cci IN 0 {jack:.6e}", f"Cfx IN k {_log(rng, 1e-8, 1e-7):.6e}",
        f"Rfx k 0 {_log(rng, 2e5, 1e6):.6e}", f"C1 a b {_log(rng, 2e-8, 1e-6):.6e}", "Rb b 0 1M",
        "Cb b 0 10p", f"E1 e 0 b 0 {rng.uniform(0.98, 1.0):.6f}",
        f"Ro e f {_log(rng, 100, 1000):.6e}", "C2 f OUT 1u", "Rp OUT 0 100k", "Cco OUT 0 8p",
    ]  # fmt: skip
    return replace(
        _stage(rng, "output_only", lines, jack + 10e-12, 0.0),
        truth=Truth("output_only", "buffered"),
    )


def _lookalike(rng: Rng, return_f: float) -> Pedal:
    own = max(return_f + rng.uniform(-20e-12, 20e-12), 5e-12)
    bias = _one(rng, 1e6)
    corner = f"C1 IN a {_log(rng, 2.2e-8, 1e-5):.6e}"
    lines = [
        f"Cci IN 0 {own:.6e}", corner, f"Ra a 0 {bias:.6e}", "E1 e 0 a 0 1.0",
        f"Ro e f {_log(rng, 1, 100):.6e}", f"C2 f OUT {_log(rng, 1e-5, 1e-4):.6e}",
        "Rp OUT 0 1M",
    ]  # fmt: skip
    return _stage(rng, "lookalike", lines, own, 1 / bias)


def _digital(rng: Rng) -> Pedal:
    one = _op_amp(rng)
    fallback = rng.random() < 0.3
    return replace(
        one,
        truth=Truth("digital", "converted"),
        unpowered=_net("Rsw IN OUT 0.1", "Cci IN 0 9p", "Cco OUT 0 8p")
        if fallback
        else one.unpowered,
        delay_s=_log(rng, 0.5e-3, 3e-3),
        edge_hz=float(rng.uniform(19e3, 24e3)),
    )


def _dead(rng: Rng) -> Pedal:
    stray = _stray(rng)
    return Pedal(
        Truth("dead", "silent"), stray, stray, _effect(rng), stray, str(rng.choice(["a", "b"]))
    )


def _outsider(rng: Rng) -> Pedal:
    """Networks that no hypothesis contains."""
    ends, _ = _ends(rng)
    switch, _ = _switch(rng)
    kind = int(rng.integers(3))
    if kind == 0:  # two effects' inputs left on the line
        lines = [
            f"C1 IN a {_log(rng, 3e-9, 3e-8):.6e}", f"R1 a 0 {_log(rng, 3e4, 3e5):.6e}",
            f"C2 IN b {_log(rng, 3e-10, 3e-9):.6e}", f"R2 b 0 {_log(rng, 1e4, 1e5):.6e}",
            f"C3 IN d {_log(rng, 3e-8, 3e-7):.6e}", f"R3 d 0 {_log(rng, 2e5, 1e6):.6e}",
        ]  # fmt: skip
    elif kind == 1:  # a coil across the line, as of an inductor wah
        lines = [
            f"C1 IN a {_log(rng, 5e-9, 5e-8):.6e}", f"R1 a b {_log(rng, 2e4, 1e5):.6e}",
            f"L1 b 0 {_log(rng, 0.2, 1.0):.6e}", f"R2 b 0 {_log(rng, 2e4, 1e5):.6e}",
        ]  # fmt: skip
    else:  # a three-section tone network across the line
        lines = [
            f"R1 IN a {_log(rng, 2e4, 1e5):.6e}", f"C1 a 0 {_log(rng, 1e-9, 1e-8):.6e}",
            f"R2 a b {_log(rng, 2e4, 1e5):.6e}", f"C2 b 0 {_log(rng, 3e-9, 3e-8):.6e}",
            f"C3 IN d {_log(rng, 2e-10, 2e-9):.6e}", f"R3 d b {_log(rng, 2e4, 2e5):.6e}",
        ]  # fmt: skip
    return _passive(rng, Truth("outsider", "loaded", outside=True), [*ends, *switch, *lines])


_FAMILIES: tuple[tuple[int, Callable[[Rng], Pedal]], ...] = (
    (20, _wired), (4, _screened), (4, _mute), (14, _pulldown), (5, _sense), (9, _half), (4, _fuzz),
    (4, _tone), (4, _inline), (4, _volume), (1, _transformer), (3, _cmos), (6, _op_amp),
    (6, _follower), (3, _switching), (3, _output_only), (3, _digital), (2, _dead), (3, _outsider),
)  # fmt: skip
_LOOKALIKES = 4


def invent_pedal(rng: Rng, return_f: float) -> Pedal:
    """Invent one pedal; `return_f` is the capacitance that a lookalike imitates."""
    weights = np.array([w for w, _ in _FAMILIES] + [_LOOKALIKES], dtype=float)
    chosen = int(rng.choice(len(weights), p=weights / weights.sum()))
    return _lookalike(rng, return_f) if chosen == len(_FAMILIES) else _FAMILIES[chosen][1](rng)
