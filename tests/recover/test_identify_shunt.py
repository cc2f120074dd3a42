"""What lies across the line, recovered from runs with drift, scatter and noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loopback.circuit.netlist import parse_elements
from loopback.identify.found import Shunt
from loopback.identify.plain import plain_bounds
from loopback.identify.priors import DEFAULT_PRIORS
from loopback.identify.setup import SetupFound
from loopback.identify.shunt import closed_form_shunt
from loopback.simulate.pedal import PedalState
from loopback.verdict.evidence import Evidence
from tests.reference.bench_runs import Bench, Step, Table

QUIET = Bench(gain_u_db=0.0, shape_u_db=0.0, mating_f=0.0, noise=1e-9)
RESISTOR = Step("resistor", "on", "a")
PLAIN = Step("plain", "on", "a")


def _state(netlist: str) -> PedalState:
    return PedalState("it", parse_elements(enumerate(netlist.split("; "), 1), "test"))


def _shunt_net(c_farad: float, r_ohm: float | None, series: float = 0.05) -> str:
    lines = [f"Rs IN OUT {series}", f"C1 IN 0 {c_farad / 2}", f"C2 OUT 0 {c_farad / 2}"]
    return "; ".join([*lines, f"R1 IN 0 {r_ohm}"] if r_ohm else lines)


def _run(netlist: str, bench: Bench, step: Step = RESISTOR) -> tuple[Evidence, SetupFound]:
    table = Table(bench)
    for feed in ("plain", "resistor"):
        table.reference(feed)
        table.reference(feed)
    evidence = table.pedal(_state(netlist), step, table.scatter())
    found = table.setup()
    assert found is not None
    assert evidence.ratio is not None
    return evidence, found


def _shunt(netlist: str, bench: Bench) -> Shunt:
    evidence, found = _run(netlist, bench)
    assert evidence.ratio is not None
    return closed_form_shunt(evidence.ratio, found)


@pytest.mark.parametrize("held", [True, False])
@pytest.mark.parametrize("end", ["pedal", "interface"])
@pytest.mark.parametrize(
    ("c_pf", "r_ohm"),
    [(0.1, None), (10, None), (10, 1e6), (33, 1e7), (60, 5.1e5), (146, None), (20, 1e4)],
)
def test_a_quiet_bench_gives_the_circuit_back(
    c_pf: float, r_ohm: float | None, end: str, held: bool
) -> None:
    """Without drift and scatter C comes back to 0.1 pF and G to 0.1 %, whichever the end."""
    bench = replace(QUIET, delay_held=held, resistor_end=end)
    found = _shunt(_shunt_net(c_pf * 1e-12, r_ohm), bench)
    g = 1 / r_ohm if r_ohm else 0.0
    assert found.c_farad.value * 1e12 == pytest.approx(c_pf, abs=0.1)
    assert found.g_siemens.value == pytest.approx(g, rel=1e-3, abs=0.2e-9)
    assert found.residual_db < 1e-3


def test_gain_and_shunt_are_the_same_thing() -> None:
    """A drift of -0.01 dB reads as +0.46 pF and 12.7 nS on 400 pF (computed independently)."""

    clean, found = _run(_shunt_net(10e-12, None), QUIET)
    drifted, _ = _run(_shunt_net(10e-12, None), replace(QUIET, pedal_gain_db=-0.01))
    assert clean.ratio is not None
    assert drifted.ratio is not None
    tight = replace(clean.ratio, u_gain_db=1e-6), replace(drifted.ratio, u_gain_db=1e-6)
    one, two = (closed_form_shunt(r, found) for r in tight)
    assert (two.c_farad.value - one.c_farad.value) * 1e12 == pytest.approx(0.46, abs=0.02)
    assert (two.g_siemens.value - one.g_siemens.value) * 1e9 == pytest.approx(12.7, abs=0.3)


@pytest.mark.parametrize(("u_gain_db", "c_pf", "g_ns"), [(0.01, 0.46, 12.7), (0.002, 0.09, 2.5)])
def test_gain_doubt_becomes_doubt_of_c_and_g(u_gain_db: float, c_pf: float, g_ns: float) -> None:
    """The same relation in the stated uncertainty (0.09 pF and 2.5 nS: computed independently)."""
    evidence, found = _run(_shunt_net(1e-12, None), QUIET)
    assert evidence.ratio is not None
    plugged_once = replace(DEFAULT_PRIORS, mating_u_farad=0.0)
    ratio = replace(evidence.ratio, u_gain_db=u_gain_db)
    shunt = closed_form_shunt(ratio, found, priors=plugged_once)
    assert shunt.g_siemens.u * 1e9 == pytest.approx(g_ns, rel=0.05)
    assert shunt.difference is not None
    assert shunt.difference.u * 1e12 == pytest.approx(c_pf, rel=0.15)


def test_resistor_tolerance_scales_c_and_g() -> None:
    """A resistor 1 % above its stated value makes C and G read 1 % high, which the doubt holds."""
    true = replace(QUIET, resistor_true_ohm=101e3, resistor_ohm=100e3)
    found = _shunt(_shunt_net(100e-12, 1e6), true)
    assert found.c_farad.value * 1e12 == pytest.approx(101.0, abs=0.3)
    assert found.g_siemens.value * 1e6 == pytest.approx(1.01, abs=0.003)
    assert found.g_siemens.u > 0.005e-6


def test_a_series_part_passes_for_a_shunt() -> None:
    """10 kΩ in line reads as about +40 pF and 100 nS: why the plain run is needed (computed)."""
    with_part = _shunt(_shunt_net(10e-12, None, series=1e4), QUIET)
    assert (with_part.c_farad.value - 10e-12) * 1e12 == pytest.approx(40, abs=3)
    assert with_part.g_siemens.value * 1e9 == pytest.approx(100, abs=8)


def test_a_coupling_capacitor_leaves_a_residual() -> None:
    """10 nF and 101 kΩ cannot be a plain R and C: 1.5 dB are left (computed independently)."""
    evidence, found = _run("Rs IN OUT 0.05; C1 IN 0 14p; C2 IN a 10n; R1 a 0 101k", QUIET)
    assert evidence.ratio is not None
    shunt = closed_form_shunt(evidence.ratio, found)
    assert 1.0 < shunt.residual_db < 2.5


@pytest.mark.parametrize("c_pf", [10.0, 100.0])
def test_a_lossy_return_lead_biases_c_by_less_than_two_per_cent(c_pf: float) -> None:
    """The load is a measured curve, so its loss of 0.03 costs at most 2 % of C (computed)."""
    found = _shunt(_shunt_net(c_pf * 1e-12, None), replace(QUIET, loss_tangent=0.03))
    assert found.c_farad.value * 1e12 == pytest.approx(c_pf, rel=0.02)


@pytest.mark.parametrize(
    ("netlist", "which"),
    [
        (_shunt_net(10e-12, None, 2e3), "series"),
        (_shunt_net(10e-12, 20e3), "shunt"),
        (_shunt_net(5e-9, None), "c"),
    ],
)
def test_bounds_of_a_plain_run_never_exclude_the_truth(netlist: str, which: str) -> None:
    """What is there is not excluded; what a clean run excludes is finite and sensible."""
    evidence, found = _run(netlist, Bench(seed=4), PLAIN)
    clean, _ = _run(_shunt_net(10e-12, None), Bench(seed=4), PLAIN)
    assert evidence.ratio is not None
    assert clean.ratio is not None
    bounds = plain_bounds(evidence.ratio, found)
    best = plain_bounds(clean.ratio, found)
    assert 100 < best.series_over_ohm < 1500
    assert 20e3 < best.shunt_under_ohm < 300e3
    assert 0.3e-9 < best.c_over_farad < 3e-9
    truth = {
        "series": bounds.series_over_ohm > 2e3,
        "shunt": bounds.shunt_under_ohm < 20e3,
        "c": bounds.c_over_farad > 5e-9,
    }
    assert truth[which]


COVERED = {
    "wiring": (10e-12, None),
    "pulldown": (20e-12, 1e6),
    "screened lead": (130e-12, 1e7),
    "wrong pulldown": (20e-12, 1e4),
}


@pytest.mark.slow
@pytest.mark.parametrize("held", [True, False])
@pytest.mark.parametrize("name", COVERED)
def test_intervals_cover_the_truth_and_u_is_the_scatter(name: str, held: bool) -> None:
    """Drift, scatter, tolerance and coupler drawn from the priors: 95 % means 90 to 99 %."""
    c, r = COVERED[name]
    g = 1 / r if r else 0.0
    off_c, off_g, u_c, u_g, inside_c, inside_g = [], [], [], [], 0, 0
    count = 200
    state = _state(_shunt_net(c, r))
    for seed in range(count):
        rng = np.random.default_rng(seed + 1000)
        bench = Bench(
            seed=seed,
            source_ohm=150 * float(np.exp(rng.normal(0, 0.45))),
            resistor_true_ohm=100e3 * (1 + rng.uniform(-0.01, 0.01)),
            coupler_f=rng.normal(2e-12, 0.3e-12),
            mating_f=0.3e-12,
            shape_u_db=0.001,
            load_g=rng.uniform(0.3e-6, 2e-6),
            load_f=rng.uniform(150e-12, 700e-12),
            delay_held=held,
        )
        table = Table(bench)
        for feed in ("plain", "resistor"):
            table.reference(feed)
            table.reference(feed)
        evidence = table.pedal(state, RESISTOR, table.scatter())
        found = table.setup()
        assert found is not None
        assert evidence.ratio is not None
        shunt = closed_form_shunt(evidence.ratio, found)
        low, high = shunt.c_farad.interval()
        inside_c += low <= c <= high
        low, high = shunt.g_siemens.interval()
        inside_g += low <= g <= high
        off_c.append(shunt.c_farad.value - c)
        off_g.append(shunt.g_siemens.value - g)
        u_c.append(shunt.c_farad.u)
        u_g.append(shunt.g_siemens.u)
    assert 0.90 <= inside_c / count <= 0.99
    assert 0.90 <= inside_g / count <= 0.995
    assert np.std(off_c) / np.mean(u_c) == pytest.approx(1.0, abs=0.2)
    assert np.std(off_g) / np.mean(u_g) == pytest.approx(1.0, abs=0.2)
