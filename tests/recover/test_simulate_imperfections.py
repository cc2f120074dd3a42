"""Each imperfection of the simulated interface is found again in its recordings.

All others are switched off meanwhile; the readings share no code with the package.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from loopback.errors import ArgumentError
from loopback.plan.runs import RunLabel
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.signal.take import layout_of, plan_signal, render_take
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from tests.reference.simple_readings import (
    a_weighted_dbfs,
    at,
    band_rms,
    lock_in,
    middle_of,
    power_density,
    tone_of,
    transfer_of,
)

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

RATE = 48_000
SIGNAL = plan_signal(RATE, 1.0)
TAKE = render_take(SIGNAL)
PLAIN = RunLabel("coupler", "plain")
RESISTOR = RunLabel("coupler", "resistor", resistor_ohm=100e3)
UNPLUGGED = RunLabel("unplugged", "plain")
NO_CAPACITANCE = Leads.ideal(lead_a_f=0.0, return_f=0.0)


def _rig(
    leads: Leads | None = None, *, seed: int = 3, check_cable: bool = False, **changes: Any
) -> SimulatedRig:
    interface = InterfaceModel.ideal(**changes)
    leads = Leads.ideal() if leads is None else leads
    return SimulatedRig(Scenario("harbour-bell", interface, leads, seed, check_cable))


def _take(rig: SimulatedRig, label: RunLabel = PLAIN) -> Real:
    samples = next(rig.play(RunRequest(label, SIGNAL, takes=1))).samples
    assert samples is not None
    return samples


def _silence(rig: SimulatedRig, seconds: float, label: RunLabel = PLAIN) -> Real:
    recorded = next(rig.play(RunRequest(label, SIGNAL, takes=0, silence_s=seconds)))
    assert recorded.samples is not None
    return recorded.samples


def _response(label: RunLabel = PLAIN, **changes: Any) -> tuple[Real, Complex]:
    """Response of one imperfection alone, with the whole latency taken off."""
    f_hz, h = transfer_of(TAKE, _take(_rig(**changes), label)[:, 0], RATE)
    return f_hz, h * np.exp(2j * np.pi * f_hz * 480 / RATE)


def _db(ratio: complex) -> float:
    return 20 * math.log10(abs(ratio))


def test_ideal_interface_is_the_closed_form() -> None:
    """With everything off the recording is what the two-port gives, to 1e-6, at every bin."""
    f_hz, h = _response(RESISTOR)
    s = 2j * np.pi * f_hz
    series = 1 / (1 / 150 + s * 300e-12)
    closed = series / 150 / (1 + (series + 100e3) * (1e-6 + s * 400e-12))
    assert np.max(np.abs(h / closed - 1)) < 1e-6


@pytest.mark.parametrize("level", [-100.0, -115.0])
def test_noise_has_the_stated_weighted_level(level: float) -> None:
    """Ten seconds of silence read the A-weighted level to 0.05 dB."""
    found = a_weighted_dbfs(
        _silence(_rig(noise_dbfs_a=level, flicker_corner_hz=0.0), 10.0)[:, 0], RATE
    )
    assert found == pytest.approx(level, abs=0.05)


def test_noise_rises_below_the_corner() -> None:
    """With the corner at 200 Hz the density is ten times the white one at 22 Hz, twice at 200."""
    x = _silence(_rig(noise_dbfs_a=-80.0, flicker_corner_hz=200.0), 30.0)[:, 0]
    f_hz, density = power_density(x, RATE)
    white = np.mean(density[(f_hz > 10_000) & (f_hz < 20_000)]) / (1 + 200 / 15_000)
    for low, high, factor in ((20, 25, 1 + 200 / 22.4), (190, 210, 2.0)):
        inside = (f_hz > low) & (f_hz < high)
        assert np.mean(density[inside]) / white == pytest.approx(factor, rel=0.15)


def test_noise_is_gaussian_and_new_each_time() -> None:
    """No two recordings share noise, and its kurtosis is 3."""
    rig = _rig(noise_dbfs_a=-60.0, check_cable=True)
    one, two = _silence(rig, 4.0), _silence(rig, 4.0)
    z = one[:, 0] / np.std(one[:, 0])
    assert np.mean(z**4) == pytest.approx(3.0, abs=0.1)
    for other in (two[:, 0], one[:, 1]):
        assert abs(np.corrcoef(one[:, 0], other)[0, 1]) < 0.01


def test_hum_has_its_lines() -> None:
    """Mains at 49.98 Hz: each order has its level, and nothing lies between."""
    levels = (-60.0, -70.0, -66.0)
    rig = _rig(mains_hz=49.98, hum_dbfs=levels)
    x, later = _silence(rig, 10.0)[:, 0], _silence(rig, 10.0)[:, 0]
    for order, level in enumerate(levels, start=1):
        assert _db(lock_in(x, 49.98 * order, RATE)) == pytest.approx(level, abs=0.01)
    assert _db(lock_in(x, 75.0, RATE)) < -120
    turned = np.angle(lock_in(x, 49.98, RATE) / lock_in(later, 49.98, RATE))
    assert abs(turned) > 0.01  # no recording starts at a fixed moment of the mains
    assert np.std(x) == pytest.approx(math.sqrt(sum(10 ** (v / 10) for v in levels) / 2), rel=1e-3)


def test_latency_by_phase() -> None:
    """The phase over frequency gives whole latency and fraction to a thousandth of a sample."""
    rig = _rig(NO_CAPACITANCE, input_f=0.0, latency_samples=700, latency_fraction=0.31)
    f_hz, h = transfer_of(TAKE, _take(rig)[:, 0], RATE)
    turns = np.angle(h * np.exp(2j * np.pi * f_hz * 700 / RATE)) / (2 * np.pi)
    slope = np.sum(f_hz * turns) / np.sum(f_hz**2)
    assert -slope * RATE == pytest.approx(0.31, abs=1e-3)


def test_latency_jumps_by_whole_samples_between_openings_only() -> None:
    """Each run has its own whole latency, within the stated range; its takes share it."""
    rig = _rig(latency_jump_samples=5)
    found = []
    for _ in range(12):
        takes = [r.samples for r in rig.play(RunRequest(PLAIN, SIGNAL, takes=2))]
        places = [int(np.argmax(np.abs(t[:, 0]) > 1e-4)) for t in takes if t is not None]
        assert places[0] == places[1]
        found.append(places[0])
    first = int(np.argmax(np.abs(TAKE) > 1e-4)) + 480
    assert {abs(place - first) <= 5 for place in found} == {True}
    assert len(set(found)) > 3


def test_gain_error_and_full_scale() -> None:
    """An output of +14 dBu full scale into an input of +10 dBu reads 4 dB high, and the error
    comes on top."""
    _, h = _response(output_full_scale_dbu=14.0, full_scale_dbu=10.0, gain_error_db=-0.4)
    assert _db(h[0]) == pytest.approx(3.6 - 20 * math.log10(1 + 150 / 1e6), abs=1e-6)
    assert InterfaceModel.ideal(full_scale_dbu=10.0).full_scale_v == pytest.approx(3.4641, rel=1e-4)


def test_couplings() -> None:
    """Two corners at 30 and 50 Hz: the product of two first-order high-passes."""
    f_hz, h = _response(output_corner_hz=30.0, input_corner_hz=50.0)
    g_hz, h0 = _response()
    assert np.array_equal(f_hz, g_hz)
    closed = (1j * f_hz / (1j * f_hz + 30)) * (1j * f_hz / (1j * f_hz + 50))
    assert np.max(np.abs(h / h0 - closed)) < 1e-4
    assert _db(at(f_hz, h / h0, 50.0)) == pytest.approx(-3.01 - 1.335, abs=0.02)


def test_band_edges() -> None:
    """Both converters are 3 dB down at their edge, and flat to 0.001 dB at 0.8 of it."""
    f_hz, h = _response(band_edge_fraction=0.4)
    _, h0 = _response()
    assert _db(at(f_hz, h / h0, 0.4 * RATE)) == pytest.approx(-6.02, abs=0.05)
    assert abs(_db(at(f_hz, h / h0, 0.32 * RATE))) < 0.001
    # The filter rings across the end of the recording, so its phase is good to 1e-4 only.
    assert abs(np.angle(at(f_hz, h / h0, 0.38 * RATE))) < 1e-4


def test_ripple() -> None:
    """The level goes up and down by the stated amount with the stated period."""
    f_hz, h = _response(ripple_db=0.02, ripple_period_hz=2000.0)
    _, h0 = _response()
    for wanted, expected in ((2000, 0.02), (3000, -0.02), (4500, 0.0), (10_000, 0.02)):
        assert _db(at(f_hz, h / h0, wanted)) == pytest.approx(expected, abs=3e-4)


def test_crosstalk_rises_with_frequency() -> None:
    """Unplugged: −95 dB at 1 kHz, 20 dB more at 10 kHz, in quadrature; without it nothing."""
    f_hz, h = _response(UNPLUGGED, crosstalk_db=-95.0)
    assert _db(at(f_hz, h, 1000)) == pytest.approx(-95.0, abs=0.05)
    assert _db(at(f_hz, h, 10_000)) == pytest.approx(-75.0, abs=0.05)
    assert np.angle(at(f_hz, h, 10_000)) == pytest.approx(math.pi / 2, abs=0.01)
    assert not np.any(_take(_rig(), UNPLUGGED))


def test_harmonics_have_the_stated_level() -> None:
    """H2 and H3 of a 1 kHz tone at −12 dBFS; H2 falls with the level, H3 with its square."""
    layout = layout_of(SIGNAL)
    x = _take(_rig(h2_db=-60.0, h3_db=-70.0))[:, 0]
    for level, h2, h3 in ((-12.0, -60.0, -70.0), (-32.0, -80.0, -110.0)):
        tone = middle_of(x, tone_of(layout, 1000.0, level), 480)
        base = _db(lock_in(tone, 1000, RATE))
        assert _db(lock_in(tone, 2000, RATE)) - base == pytest.approx(h2, abs=0.1)
        assert _db(lock_in(tone, 3000, RATE)) - base == pytest.approx(h3, abs=0.3)


def test_harmonics_do_not_fold_back() -> None:
    """The third harmonic of 10 kHz, above half the sample rate, leaves nothing at 18 kHz."""
    tone = middle_of(_take(_rig(h3_db=-40.0))[:, 0], tone_of(layout_of(SIGNAL), 10_000, -12), 480)
    assert _db(lock_in(tone, 18_000, RATE)) < -110


def test_thermal_noise_of_a_resistor() -> None:
    """100 kΩ at 290 K, 20 kHz wide: 5.6596 µV, √(4kTRB) with the exact k (Nyquist 1928; the same
    figure from an independent circuit simulator's noise analysis, 5.6568 µV from 20 Hz up)."""
    rig = _rig(NO_CAPACITANCE, kelvin=290.0, input_ohm=1e12, input_f=0.0, output_ohm=1e-3)
    x = _silence(rig, 20.0, RESISTOR)[:, 0] * math.sqrt(2) * 10 ** (10 / 20) * math.sqrt(0.6)
    assert band_rms(x, RATE, 20, 20_000) == pytest.approx(5.6568e-6, rel=0.004)


def test_thermal_noise_of_the_node() -> None:
    """With 400 pF the density follows 4kT Re Z: at 4.4 kHz about half of that at 200 Hz."""
    x = _silence(_rig(kelvin=293.15), 30.0, RESISTOR)[:, 0] * InterfaceModel.ideal().full_scale_v
    f_hz, density = power_density(x, RATE)
    for low, high in ((150, 250), (4000, 4800), (15_000, 16_000)):
        inside = (f_hz > low) & (f_hz < high)
        s = 2j * np.pi * f_hz[inside]
        z = 1 / (1 / (100e3 + 1 / (1 / 150 + s * 300e-12)) + 1e-6 + s * 400e-12)
        expected = np.mean(4 * 1.380649e-23 * 293.15 * z.real)
        assert np.mean(density[inside]) == pytest.approx(expected, rel=0.04)


def test_thermal_noise_of_the_open_input() -> None:
    """Unplugged, 1 MΩ with 100 pF: √(kT/C) in all, of which (2/π) arctan(2π f RC) below 20 kHz."""
    x = _silence(_rig(kelvin=293.15), 20.0, UNPLUGGED)[:, 0] * InterfaceModel.ideal().full_scale_v
    below = 2 / math.pi * math.atan(2 * math.pi * 20_000 * 1e6 * 100e-12)
    expected = math.sqrt(1.380649e-23 * 293.15 / 100e-12 * below)
    assert band_rms(x, RATE, 1, 20_000) == pytest.approx(expected, rel=0.02)


def test_rounding_and_full_scale() -> None:
    """24-bit: whole multiples of 2^-23, rounded to the nearest, and stopped at full scale."""
    exact, rounded = _take(_rig())[:, 0], _take(_rig(bits=24))[:, 0]
    assert np.all(rounded * 2**23 == np.round(rounded * 2**23))
    assert np.max(np.abs(rounded - exact)) <= 2.0**-24
    loud = _take(_rig(bits=24, gain_error_db=20.0))[:, 0]
    assert loud.max() == 1 - 2.0**-23
    assert loud.min() == -1.0


def test_check_cable() -> None:
    """Channel 1 hears what is played at its own level, with the delay of the path channel."""
    x = _take(_rig(check_cable=True, check_gain_db=-0.3, latency_fraction=0.4))
    f_hz, h = transfer_of(TAKE, x[:, 1], RATE)
    expected = 10 ** (-0.3 / 20) * np.exp(-2j * np.pi * f_hz * 480.4 / RATE)
    assert np.max(np.abs(h - expected)) < 1e-6


def test_line_input_has_its_own_gain() -> None:
    """The same reference on the line input: 9.6 dB lower, and 10 kΩ instead of 1 MΩ."""
    line = RunLabel("coupler", "plain", load="line")
    _, h = _response(line, line_gain_db=-9.6)
    assert _db(h[0]) == pytest.approx(-9.6 - 20 * math.log10(1 + 150 / 1e4), abs=1e-4)


def test_impossible_interfaces_are_refused() -> None:
    """A share outside 0 to 1, and an impedance of nothing."""
    with pytest.raises(ArgumentError, match=r"shared part of 1\.2"):
        InterfaceModel(gain_shared=1.2)
    with pytest.raises(ArgumentError, match="above zero"):
        InterfaceModel(output_ohm=0.0)
