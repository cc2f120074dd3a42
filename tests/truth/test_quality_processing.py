"""Gain control, filters, monitoring and gates, on readings made by hand."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.quality.band_edge import band_edge_hz, top_bend_db
from loopback.quality.processing import (
    heard,
    judge_tones,
    tone_drift_db,
    tone_pair_error_db,
)
from loopback.quality.ripple import ripple_db
from loopback.quality.zeros import judge_zeros
from loopback.response.reading import ToneReading
from loopback.signal.take import layout_of, plan_signal

SIGNAL = plan_signal(48_000, 1.0)
LAYOUT = layout_of(SIGNAL)
F_HZ = np.geomspace(20.0, SIGNAL.f2_hz, 480)


def tones(
    soft_db: float = 0.0, drift_db: float = 0.0, u_db: float = 1e-4, loss_db: float = 1.0
) -> list[ToneReading]:
    """Check tones with an error of the soft one, and a drift per block."""
    blocks = ("tones_before", "tones_between", "tones_after")
    return [
        ToneReading(
            t.block,
            t.f_hz,
            t.level_dbfs,
            t.level_dbfs
            - loss_db
            + (soft_db if t.level_dbfs < SIGNAL.level_dbfs else 0.0)
            + drift_db * blocks.index(t.block),
            0.0,
            u_db,
        )
        for t in LAYOUT.tones
    ]


@pytest.mark.parametrize(
    ("error_db", "grade"),
    [(0.0, None), (0.009, None), (-0.02, "look"), (0.049, "look"), (0.06, "refuse")],
)
def test_tone_pair_limits(error_db: float, grade: str | None) -> None:
    """20.000 dB apart within 0.01 is good, within 0.05 looked at, beyond refused."""
    found = judge_tones(tones(soft_db=error_db), "01/1", is_reference=True)
    assert [f.grade for f in found if f.code == "gain_control"] == ([grade] if grade else [])
    assert tone_pair_error_db(tones(soft_db=error_db))[0] == pytest.approx(-error_db, abs=1e-9)


def test_level_dependence_of_a_pedal_is_no_fault() -> None:
    """With a pedal the same deviation is a property, told with the grade good."""
    (finding,) = judge_tones(tones(soft_db=3.0), "02/1", is_reference=False)
    assert (finding.code, finding.grade) == ("level_dependent", "good")
    assert finding.number == "check tones 17.000 dB apart instead of 20.000"


@pytest.mark.parametrize(
    ("drift_db", "grade"), [(0.002, None), (0.01, "look"), (-0.01, "look"), (0.03, "refuse")]
)
def test_tone_drift_limits(drift_db: float, grade: str | None) -> None:
    """Between blocks 0.003 dB is good, 0.02 looked at, more refused."""
    found = judge_tones(tones(drift_db=drift_db), "01/1", is_reference=True)
    assert [f.grade for f in found] == ([grade] if grade else [])
    assert tone_drift_db(tones(drift_db=drift_db))[0] == pytest.approx(drift_db, abs=1e-9)


def test_noise_on_the_tones_is_no_processing() -> None:
    """Deviations below three of their own uncertainties, and tones 40 dB down, are passed over."""
    noisy = tones(soft_db=0.05, drift_db=0.05, u_db=0.1)
    assert judge_tones(noisy, "", is_reference=True) == ()
    dead = tones(soft_db=5.0, drift_db=5.0, loss_db=60.0)
    assert not heard(dead)
    assert judge_tones(dead, "", is_reference=True) == ()
    assert tone_pair_error_db([])[1] == np.inf
    assert not heard([])


def test_cliff_of_a_digital_filter_and_slopes_of_circuits() -> None:
    """A brick wall is found where it is; a first-order and a fourth-order low-pass are none."""
    for edge in (11_000.0, 16_000.0, 20_000.0):
        wall = np.where(edge > F_HZ, 1.0, 1e-5).astype(complex)
        found = band_edge_hz(F_HZ, wall)
        assert found == pytest.approx(edge, rel=0.02)
    for order in (1, 4):
        slope = 1 / (1 + 1j * F_HZ / 5000.0) ** order
        assert band_edge_hz(F_HZ, slope) is None
    assert band_edge_hz(F_HZ, np.ones(len(F_HZ), dtype=complex)) is None


def test_bend_at_the_top() -> None:
    """A resistor and a lead bend by under 0.3 dB, a converter in between by several."""
    assert abs(top_bend_db(F_HZ, 1 / (1 + 1j * F_HZ / 4400.0))) < 0.3
    steep = np.where(F_HZ > 20_500.0, (20_500.0 / F_HZ) ** 40, 1.0).astype(complex)
    assert top_bend_db(F_HZ, steep) > 5.0


@pytest.mark.parametrize("delay_s", [1.2e-3, 5e-3, 12e-3])
@pytest.mark.parametrize("feed", ["plain", "resistor"])
def test_round_trip_ripple_is_measured(delay_s: float, feed: str) -> None:
    """Height and period of a comb, on a flat response and behind a resistor."""
    base = np.ones(len(F_HZ)) if feed == "plain" else 1 / (1 + 1j * F_HZ / 4400.0)
    size = 0.02
    amplitude, found = ripple_db(F_HZ, base / (1 - size * np.exp(-2j * np.pi * F_HZ * delay_s)))
    assert found == pytest.approx(delay_s, rel=0.05)
    assert amplitude == pytest.approx(20 * np.log10(1 + size), rel=0.2)


def test_smooth_references_have_no_ripple() -> None:
    """Coupling capacitors and leads of any size leave less than half of what is looked at."""
    for corner in (1000.0, 4400.0, 20_000.0):
        for low in (1.0, 20.0):
            h = 1j * F_HZ / low / (1 + 1j * F_HZ / low) / (1 + 1j * F_HZ / corner)
            assert ripple_db(F_HZ, h)[0] < 0.015


def test_zeros_in_silence_and_in_the_sweep() -> None:
    """10 ms of exact zeros in a silence, 12 samples in a sweep; not in 16 bits, not at its foot."""
    rng = np.random.default_rng(1)
    clean = 0.1 * np.sin(np.arange(LAYOUT.length)) + 1e-5 * rng.standard_normal(LAYOUT.length)
    assert judge_zeros(clean, 0, SIGNAL, 24, "") == ()
    gated = clean.copy()
    gated[1000:1480] = 0.0
    assert [f.code for f in judge_zeros(gated, 0, SIGNAL, 24, "")] == ["gated"]
    assert judge_zeros(gated, 0, SIGNAL, 16, "") == ()
    at = LAYOUT.segment("up").start + 20_000
    block = clean.copy()
    block[at : at + 12] = 0.0
    (finding,) = judge_zeros(block, 0, SIGNAL, 16, "02/1")
    assert finding.code == "zero_block"
    assert finding.number == f"12 samples of exact zero at {at / 48_000:.2f} s, in mid sweep"
    block[at : at + 12] = clean[at : at + 12]
    block[at : at + 11] = 0.0
    assert judge_zeros(block, 0, SIGNAL, 24, "") == ()
    (shifted,) = judge_zeros(np.concatenate([np.ones(777), gated]), 777, SIGNAL, 24, "")
    assert shifted.code == "gated"
