"""Hypotheses held to the nodal solver, to each other, and to what a determinant must be."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.circuit.chain import Chain
from loopback.circuit.hypotheses import HYPOTHESES, HypothesisName
from loopback.circuit.netlist import parse_elements
from loopback.circuit.nodal import chain_matrix

F_HZ = np.geomspace(10.0, 40e3, 40)

NETLISTS: dict[HypothesisName, tuple[dict[str, float], str]] = {
    "wire": (
        {"r_series_ohm": 3.0, "c_farad": 20e-12},
        "R1 IN OUT 3; C1 IN 0 10p; C2 OUT 0 10p",
    ),
    "shunt": (
        {"r_series_ohm": 3.0, "c_farad": 20e-12, "g_siemens": 1e-6},
        "R1 IN OUT 3; C1 IN 0 10p; C2 OUT 0 10p; R2 IN 0 2M; R3 OUT 0 2M",
    ),
    "coupled": (
        {"r_series_ohm": 3.0, "c_farad": 20e-12, "r_branch_ohm": 1e5, "c_branch_farad": 1e-8},
        "R1 IN OUT 3; C1 IN 0 10p; C2 OUT 0 10p; C3 IN a 10n; R2 a 0 100k",
    ),
    "shelf": (
        {
            "r_series_ohm": 3.0, "c_farad": 20e-12, "g_siemens": 1e-6, "r_branch_ohm": 1e5,
            "c_branch_farad": 1e-8,
        },
        "R1 IN OUT 3; C1 IN 0 10p; C2 OUT 0 10p; C3 IN a 10n; R2 a 0 100k; R4 IN 0 1M",
    ),
    "bias": (
        {
            "r_series_ohm": 3.0, "c_farad": 20e-12, "c_branch_farad": 1e-8,
            "r_stopper_ohm": 68e3, "r_bias_ohm": 33e3, "c_bias_farad": 150e-12,
        },
        "R1 IN OUT 3; C1 IN 0 10p; C2 OUT 0 10p; C3 IN a 10n; R2 a b 68k; R3 b 0 33k; C4 b 0 150p",
    ),
    "inline": (
        {
            "c_farad": 6e-12, "r_series_ohm": 1e4, "c_output_farad": 1e-9,
            "g_output_siemens": 1e-6,
        },
        "C1 IN 0 6p; R1 IN OUT 10k; C2 OUT 0 1n; R2 OUT 0 1M",
    ),
    "blocked": (
        {
            "c_farad": 15e-12, "g_siemens": 1e-6, "r_series_ohm": 100.0, "c_series_farad": 1e-6,
            "c_output_farad": 15e-12, "g_output_siemens": 2e-6,
        },
        "C1 IN 0 15p; R1 IN 0 1M; C2 IN a 1u; R2 a OUT 100; C3 OUT 0 15p; R3 OUT 0 500k",
    ),
    "switched": (
        {
            "c_farad": 15e-12, "g_siemens": 1e-7, "c_first_farad": 3e-7, "g_bias_siemens": 2e-6,
            "r_series_ohm": 120.0, "c_series_farad": 1e-7, "c_output_farad": 15e-12,
            "g_output_siemens": 1e-6,
        },
        "C1 IN 0 15p; R1 IN 0 10M; C2 IN a 0.3u; R2 a 0 500k; R3 a b 120; C3 b OUT 0.1u;"
        " C4 OUT 0 15p; R4 OUT 0 1M",
    ),
    "transformer": (
        {
            "c_farad": 250e-12, "r_primary_ohm": 500.0, "l_main_henry": 60.0,
            "l_leak_henry": 15e-3, "ratio": 1.1, "r_secondary_ohm": 500.0,
            "c_output_farad": 250e-12, "c_across_farad": 100e-12,
        },
        "C1 IN 0 250p; R1 IN a 500; L1 a 0 60; L2 a b 15m; T1 b 0 s 0 1.1; R2 s OUT 500;"
        " C2 OUT 0 250p; C3 IN OUT 100p",
    ),
    "buffer": (
        {
            "c_input_farad": 14e-12, "g_pulldown_siemens": 1e-6, "r_input_ohm": 1e6,
            "corner_input_hz": 1 / (2 * np.pi * 1e6 * 1e-8), "gain_neper": float(np.log(0.95)),
            "r_output_ohm": 100.0, "c_coupling_farad": 1e-6, "r_bleed_ohm": 1e5,
            "corner_inner_hz": 1 / (2 * np.pi * 4.7e5 * 1e-6), "delay_s": 0.0,
        },
        "C1 IN 0 14p; R1 IN 0 1M; C2 IN a 10n; R2 a 0 1M; E1 h 0 a 0 0.95;"
        " C5 h i 1u; R6 i 0 470k; E2 e 0 i 0 1; R3 e f 100;"
        " C3 f OUT 1u; R4 OUT 0 100k",
    ),
    "loaded_buffer": (
        {
            "c_input_farad": 14e-12, "g_pulldown_siemens": 1e-6, "r_input_ohm": 1e6,
            "corner_input_hz": 1 / (2 * np.pi * 1e6 * 1e-8), "gain_neper": float(np.log(0.95)),
            "r_output_ohm": 100.0, "c_coupling_farad": 1e-6, "r_bleed_ohm": 1e5,
            "corner_inner_hz": 1 / (2 * np.pi * 4.7e5 * 1e-6), "delay_s": 0.0,
            "r_branch_ohm": 5e5, "corner_branch_hz": 1 / (2 * np.pi * 5e5 * 2e-8),
        },
        "C1 IN 0 14p; R1 IN 0 1M; C2 IN a 10n; R2 a 0 1M; E1 h 0 a 0 0.95;"
        " C5 h i 1u; R6 i 0 470k; E2 e 0 i 0 1; R3 e f 100;"
        " C3 f OUT 1u; R4 OUT 0 100k; C4 IN g 20n; R5 g 0 500k",
    ),
    "open": (
        {"c_farad": 10e-12, "c_stray_farad": 3e-12, "g_output_siemens": 1e-5},
        "C1 IN 0 10p; C2 IN OUT 3p; R1 OUT 0 100k",
    ),
    "short": ({"r_short_ohm": 2.0}, "R1 IN 0 2; R2 IN OUT 1n"),
}  # fmt: skip


def as_array(chain: Chain) -> np.ndarray:
    """Four arrays as one of shape (k, 2, 2)."""
    a, b, c, d = (np.broadcast_to(x, F_HZ.shape) for x in chain)
    return np.stack([np.stack([a, b], -1), np.stack([c, d], -1)], -2)


def test_every_hypothesis_is_tested() -> None:
    """The list of circuits below is that of the registry."""
    assert set(NETLISTS) == set(HYPOTHESES)


@pytest.mark.parametrize("name", list(HYPOTHESES))
def test_chain_matrix_is_that_of_the_nodal_solver(name: HypothesisName) -> None:
    """A, B, C and D agree with the modified nodal analysis of the same circuit."""
    values, text = NETLISTS[name]
    ours = as_array(HYPOTHESES[name].chain(F_HZ, **values))
    lines = [line.strip() for line in text.split(";")]
    theirs = chain_matrix(parse_elements(enumerate(lines, 1), name), F_HZ)
    # Each entry is compared on the scale that it acts on: 100 kΩ.
    scale = np.array([[1.0, 1e5], [1e-5, 1.0]])
    assert np.max(np.abs(ours - theirs) / scale) < 1e-6 * max(1.0, np.max(np.abs(theirs) / scale))


@pytest.mark.parametrize("name", list(HYPOTHESES))
def test_determinant_tells_passive_from_active(name: HypothesisName) -> None:
    """AD - BC is 1 for everything passive and reciprocal and 0 behind a stage."""
    values, _ = NETLISTS[name]
    m = HYPOTHESES[name].chain(F_HZ, **values)
    size = np.abs(m.a * m.d) + np.abs(m.b * m.c)
    expected = 0.0 if HYPOTHESES[name].active else 1.0
    assert np.max(np.abs(m.a * m.d - m.b * m.c - expected) / size) < 1e-9


def test_special_cases_are_special_cases() -> None:
    """A richer circuit with the extra part taken away is the simpler one."""
    wire = as_array(HYPOTHESES["wire"].chain(F_HZ, r_series_ohm=3.0, c_farad=2e-11))
    for name, without in (
        ("shunt", {"g_siemens": 0.0}),
        ("coupled", {"r_branch_ohm": 1e15}),
        ("shelf", {"g_siemens": 0.0, "r_branch_ohm": 1e15}),
        ("bias", {"r_stopper_ohm": 1e15}),
    ):
        same = HYPOTHESES[name].chain(F_HZ, r_series_ohm=3.0, c_farad=2e-11, **without)
        assert np.max(np.abs(as_array(same) - wire)) < 1e-9, name
        assert name in ("shelf", "bias") or name in HYPOTHESES["wire"].within


def test_turned_round_is_turned_round() -> None:
    """A reversed circuit is that of the nodal solver with in and out exchanged."""
    values, text = NETLISTS["inline"]
    ours = as_array(HYPOTHESES["inline"].chain(F_HZ, **values).turned())
    elements = parse_elements(enumerate((x.strip() for x in text.split(";")), 1), "inline")
    theirs = chain_matrix(elements, F_HZ, "OUT", "IN")
    assert ours == pytest.approx(theirs, rel=1e-9)


def test_one_call_gives_many() -> None:
    """Values with an axis of their own give a chain matrix for each."""
    shunt = HYPOTHESES["shunt"]
    s = np.asarray(2j * np.pi * F_HZ)
    r, c, g = np.array([1.0, 2.0]), np.array([1e-11, 3e-11]), np.array([0.0, 1e-6])
    many = shunt.matrix(s, (r[:, None], c[:, None], g[:, None]))
    for i in range(2):
        one = shunt.chain(F_HZ, r_series_ohm=r[i], c_farad=c[i], g_siemens=g[i])
        assert many.c[i] == pytest.approx(one.c, rel=1e-12)


def test_priors_are_proper_and_starts_are_inside() -> None:
    """Every prior has a finite width, and every start lies within three of them."""
    for hypothesis in HYPOTHESES.values():
        assert len(set(hypothesis.names)) == len(hypothesis.names)
        for u in hypothesis.unknowns:
            assert 0 < u.prior_u < float("inf")
            assert u.step > 0
            off = np.log(u.start / u.prior) if u.log else u.start - u.prior
            assert abs(off) <= 3 * u.prior_u, (hypothesis.name, u.name)
