"""What a player hears: closed form of the resonance, nodal solutions, computed figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.circuit.netlist import parse_elements
from loopback.circuit.nodal import chain_matrix, transfer
from loopback.identify.chain_found import ChainMatrix, Witness
from loopback.identify.found import BufferInput, Network
from loopback.player.chain import Leads, find_chain
from loopback.player.change import Change, change_of
from loopback.player.device import (
    GRID,
    Device,
    buffer_device,
    device_of,
    matrix_device,
    network_device,
    series_device,
    shunt_device,
)
from loopback.player.pickup import (
    SINGLE_COIL,
    TWIN_COIL,
    Amplifier,
    Pickup,
    lead_chain,
    level_db,
    source_chain,
)
from loopback.player.sentences import buffer_sentence, change_sentence, player_line
from loopback.quantity import Estimate


def _sure(value: float, unit: str = "") -> Estimate:
    return Estimate(value, 0.0, unit)


def _shunt(c_farad: float, g_siemens: float) -> Device:
    return shunt_device(_sure(c_farad, "farad"), _sure(g_siemens, "siemens"))


def _changes(device: Device) -> tuple[Change, ...]:
    return find_chain([device]).changes


BARE = {"single coil": (3977.0, 3.2), "twin coil": (3073.0, 5.4)}
TABLE = (
    # C, G, then for each pickup: shift of the peak in Hz, largest change in dB, where
    (10e-12, 0.0, (-29, -0.2, 7800), (-26, -0.2, 4700)),
    (35e-12, 0.0, (-100, -0.7, None), (-86, -0.7, None)),
    (130e-12, 0.0, (-340, -2.3, None), (-289, -2.6, None)),
    (300e-12, 0.0, (-683, -4.7, None), (-568, -5.4, None)),
)
PULLDOWNS = (
    # G, then for each pickup: height of the peak or largest change, dB
    (1e-6, -0.7, -1.3, "peak"),
    (2e-6, -1.3, -2.3, "peak"),
    (1e-5, -5.9, -8.6, "most"),
    (1e-4, -21.0, -25.0, "most"),
)


@pytest.mark.parametrize("pickup", [SINGLE_COIL, TWIN_COIL], ids=lambda p: p.name)
def test_resonance_without_a_pedal(pickup: Pickup) -> None:
    """Into 3 m of lead and 1 MΩ with 100 pF the peak has the computed frequency and height.

    Computed independently on a coarser grid, so to 0.2 %.
    """
    f_hz, height_db = BARE[pickup.name]
    change = next(c for c in _changes(_shunt(1e-18, 0.0)) if c.pickup is pickup)
    assert change.before is not None
    assert change.before.f_hz.value == pytest.approx(f_hz, rel=2e-3)
    assert change.before.height_db.value == pytest.approx(height_db, abs=0.06)


@pytest.mark.parametrize(("c_farad", "g_siemens", "single", "twin"), TABLE)
def test_capacitance_moves_the_peak(
    c_farad: float,
    g_siemens: float,
    single: tuple[float, float, float | None],
    twin: tuple[float, float, float | None],
) -> None:
    """Shift of the peak and largest change agree with figures computed independently."""
    for change, (shift, most_db, most_hz) in zip(
        _changes(_shunt(c_farad, g_siemens)), (single, twin), strict=True
    ):
        assert change.before is not None
        assert change.after is not None
        moved = change.after.f_hz.value - change.before.f_hz.value
        assert moved == pytest.approx(shift, abs=1.0)
        assert change.most_db.value == pytest.approx(most_db, abs=0.06)
        if most_hz is not None:
            assert change.most_hz is not None
            assert change.most_hz.value == pytest.approx(most_hz, abs=60)


@pytest.mark.parametrize(("g_siemens", "single", "twin", "of"), PULLDOWNS)
def test_resistance_lowers_the_peak(g_siemens: float, single: float, twin: float, of: str) -> None:
    """A pulldown of 1 MΩ costs 0.7 dB and 1.3 dB at the peak; 10 kΩ over 20 dB (as above)."""
    for change, expected in zip(_changes(_shunt(1e-18, g_siemens)), (single, twin), strict=True):
        if of == "peak":
            assert change.before is not None
            assert change.after is not None
            found = change.after.height_db.value - change.before.height_db.value
        else:
            assert change.after is None
            found = change.most_db.value
        assert found == pytest.approx(expected, abs=0.06 if expected > -10 else 0.4)


def test_hundred_kilohm_at_200_hz() -> None:
    """100 kΩ takes 0.5 dB and 0.7 dB from the bass as well (as above)."""
    low = [change.low_db.value for change in _changes(_shunt(1e-18, 1e-5))]
    assert low == pytest.approx([-0.5, -0.7], abs=0.04)


def test_ten_pedals_in_a_row() -> None:
    """Ten times 10 pF and 1 MΩ without leads between them cost 6.1 dB and 8.7 dB (as above)."""
    row = find_chain([_shunt(10e-12, 1e-6)] * 10, Leads(3.0, 0.0, 0.0))
    assert [c.most_db.value for c in row.changes] == pytest.approx([-6.1, -8.7], abs=0.06)
    assert row.first_buffer is None


@pytest.mark.parametrize("pickup", [SINGLE_COIL, TWIN_COIL], ids=lambda p: p.name)
@pytest.mark.parametrize(("c_farad", "g_siemens"), [(0.0, 0.0), (100e-12, 1e-6), (0.0, 1e-5)])
def test_closed_form_at_resonance(pickup: Pickup, c_farad: float, g_siemens: float) -> None:
    """At f0 = 1/(2π√(LC)) the level is 1/√((R G)² + (R/Z0 + Z0 G)²), exactly.

    R and L of the coil in series, C and G across, Z0 = √(L/C): by hand.
    """
    amplifier = Amplifier()
    c = pickup.c_farad + 300e-12 + amplifier.c_farad + c_farad
    g = pickup.pots_siemens + 1 / amplifier.r_ohm + g_siemens
    z0 = math.sqrt(pickup.l_henry / c)
    f0 = np.array([1 / (2 * math.pi * math.sqrt(pickup.l_henry * c))])
    exact = -10 * math.log10((pickup.r_ohm * g) ** 2 + (pickup.r_ohm / z0 + z0 * g) ** 2)
    parts = parse_elements(enumerate([f"C1 IN 0 {c_farad or 1e-20}", "R1 IN OUT 1u"], 1), "test")
    pedal = chain_matrix(parts, f0)
    pedal[:, 1, 0] += g_siemens
    chain = source_chain(pickup, f0) @ pedal @ lead_chain(3.0, f0)
    assert float(level_db(chain, amplifier, f0)[0]) == pytest.approx(exact, abs=1e-6)


def test_whole_line_against_the_nodal_solver() -> None:
    """Pickup, leads, loaded pedal, buffer and amplifier as one netlist give the same curve."""
    network = Network(_sure(115e3, "ohm"), _sure(22e-9, "farad"), _sure(16e-12, "farad"), 0.0)
    stage = BufferInput(_sure(2e-6), _sure(9e-12), _sure(-0.5, "dB"), False)
    row = [network_device(network), buffer_device(stage, _sure(150.0)), series_device(_sure(470.0))]
    found = find_chain(row, Leads(6.0, 0.5, 4.0), Amplifier(470e3, 220e-12), [TWIN_COIL])
    k = 10 ** (-0.5 / 20)
    lines = [
        "L1 E 1 4.5", "R1 1 2 8k", "C1 2 0 130p", "R2 2 0 250k",
        "C2 2 0 600p", "R3 2 3 115k", "C3 3 0 22n", "C4 2 0 16p", "C5 2 0 50p",
        "R4 2 0 500k", "C6 2 0 9p", f"E1 4 0 2 0 {k!r}", "R5 4 5 150", "C7 5 0 50p",
        "R6 5 6 470", "C8 6 0 400p", "R7 6 0 470k", "C9 6 0 220p",
    ]  # fmt: skip
    h = transfer(parse_elements(enumerate(lines, 1), "test"), GRID, ("E", "0"), "6")
    np.testing.assert_allclose(found.changes[0].after_db, 20 * np.log10(np.abs(h)), atol=1e-6)
    assert found.first_buffer == 2
    assert found.lead_before_m == pytest.approx(6.5)
    assert found.lead_all_m == pytest.approx(11.0)


def test_what_follows_a_buffer_does_not_matter() -> None:
    """Behind a buffer of 100 Ω ten metres more change the level by less than 0.05 dB."""
    stage = buffer_device(BufferInput(_sure(1e-6), _sure(10e-12), _sure(0.0, "dB"), False))
    near, far = (find_chain([stage], Leads(3.0, 0.3, m)).changes[0] for m in (0.0, 10.0))
    heard = GRID < 10e3
    assert np.max(np.abs(near.after_db - far.after_db)[heard]) < 0.05
    assert far.most_db.value > 5.0


def test_doubt_is_that_of_many_trials() -> None:
    """First-order doubt of level, peak and height agrees with the scatter of 400 drawn shunts."""
    c, g = Estimate(60e-12, 3e-12, "farad"), Estimate(1e-6, 0.05e-6, "siemens")
    stated = find_chain([shunt_device(c, g)]).changes[0]
    rng = np.random.default_rng(11)
    drawn = [
        find_chain([_shunt(*pair)], pickups=[SINGLE_COIL]).changes[0]
        for pair in zip(rng.normal(c.value, c.u, 400), rng.normal(g.value, g.u, 400), strict=True)
    ]
    peaks = [(d.after.f_hz.value, d.after.height_db.value) for d in drawn if d.after is not None]
    assert stated.after is not None
    assert stated.after.f_hz.u == pytest.approx(np.std([f for f, _ in peaks]), rel=0.12)
    assert stated.after.height_db.u == pytest.approx(np.std([h for _, h in peaks]), rel=0.12)
    assert stated.most_hz is not None
    places = [d.most_hz.value for d in drawn if d.most_hz is not None]
    assert stated.most_hz.u == pytest.approx(np.std(places), rel=0.12)
    assert stated.rise_db is not None
    assert stated.rise_db.u == stated.after.height_db.u
    at = int(np.argmin(np.abs(GRID - stated.most_hz.value)))
    levels = [d.after_db[at] - d.before_db[at] for d in drawn]
    assert stated.most_db.u == pytest.approx(np.std(levels), rel=0.12)


def test_intervals_of_a_change_cover_the_truth() -> None:
    """Of sixty shunts read with their stated doubt, about 95 % of the intervals hold the truth.

    With a coverage of 0.95, 50 or fewer of 60 happen once in 1400 times (binomial distribution).
    """
    c, g = 60e-12, 1e-6
    true = find_chain([_shunt(c, g)], pickups=[TWIN_COIL]).changes[0]
    assert true.after is not None
    assert true.most_hz is not None
    assert true.rise_db is not None
    rng = np.random.default_rng(3)
    hits = np.zeros(4, dtype=int)
    for _ in range(60):
        read = shunt_device(
            Estimate(float(rng.normal(c, 3e-12)), 3e-12, "farad"),
            Estimate(float(rng.normal(g, 5e-8)), 5e-8, "siemens"),
        )
        found = find_chain([read], pickups=[TWIN_COIL]).changes[0]
        assert found.after is not None
        assert found.most_hz is not None
        assert found.rise_db is not None
        pairs = (
            (found.most_hz, true.most_hz), (found.rise_db, true.rise_db),
            (found.after.f_hz, true.after.f_hz), (found.low_db, true.low_db),
        )  # fmt: skip
        hits += [abs(one.value - other.value) <= one.half_width() for one, other in pairs]
    assert (hits >= 51).all(), hits


def test_a_measured_matrix_counts_before_all_else() -> None:
    """A matrix is taken as it is, between its frequencies too; its witness makes it a buffer."""
    f_hz = np.geomspace(15.0, 22_000.0, 400)
    stage = ["Ri IN 0 1M", "Ci IN 0 10p", "E1 x 0 IN 0 0.99", "Ro x OUT 100", "Co OUT 0 3p"]
    elements = parse_elements(enumerate(stage, 1), "test")
    witness = Witness(Estimate(0.0, 1e-4, ""), "second_load", ())
    matrix = ChainMatrix(
        f_hz, chain_matrix(elements, f_hz), np.zeros((1, 400, 2, 2), complex),
        np.zeros((400, 4, 4), complex), "plug", _sure(1e3, "ohm"), "on", "a", (), witness,
    )  # fmt: skip
    device = device_of(matrix=matrix, buffer=None, network=None, shunt=None, series_ohm=None)
    assert device is not None
    assert device.is_buffer
    exact = Device(chain_matrix(elements, GRID), np.zeros((0, len(GRID), 2, 2), complex))
    without = lead_chain(3.0, GRID)
    one, two = (
        change_of(SINGLE_COIL, Amplifier(), without, d) for d in (matrix_device(matrix), exact)
    )
    np.testing.assert_allclose(one.after_db, two.after_db, atol=1e-3)
    nothing = device_of(matrix=None, buffer=None, network=None, shunt=None, series_ohm=None)
    assert nothing is None


def test_sentences() -> None:
    """Sizes, signs and the fate of the peak are said; a change below its doubt is a bound."""
    small = shunt_device(Estimate(0.0, 1e-12, "farad"), Estimate(0.0, 1e-9, "siemens"))
    assert player_line(find_chain([small])).startswith("no change over 0.04 dB; ")
    assert "pickup peak stays at 3.98 kHz within 0.01" in player_line(find_chain([small]))
    light = change_sentence(_changes(_shunt(19.2e-12, 1e-6))[0])
    assert light == (
        "at most -0.90 dB ± 0.01, at 5.00 kHz ± 0.01; pickup peak 3.98 → 3.81 kHz ± 0.01, "
        "0.61 dB ± 0.01 lower"
    )
    heavy = change_sentence(_changes(_shunt(1e-18, 1e-5))[0])
    assert "the pickup's peak is gone" in heavy
    assert "-0.49 dB ± 0.01 at 200 Hz" in heavy
    stage = buffer_device(BufferInput(_sure(2e-6), _sure(9e-12), _sure(0.0, "dB"), False))
    wire = _shunt(12e-12, 0.0)
    row = find_chain([wire, stage, wire])
    said = buffer_sentence(row, ["One", "Two", "Three"])
    assert said.startswith("The first buffer is Two, number 2: 3.3 m of lead")
    assert "(One)" in said
    assert "None of them buffers" in buffer_sentence(find_chain([wire, wire]), ["One", "Three"])
