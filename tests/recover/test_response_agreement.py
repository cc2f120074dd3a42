"""Damage that only one of the two sweeps has seen is told from the pedal, and placed in time."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.response.agreement import Agreement, up_down_difference
from loopback.response.locate import Located
from loopback.response.reading import TakeReading
from loopback.response.residual import BlockResidual, block_residual
from loopback.response.take import read_take
from loopback.signal.take import layout_of, plan_signal
from tests.reference.recorded_takes import low_pass, recorded

SIGNAL = plan_signal(48_000, 2.0)
NOISE = 1e-5
HEAD = 500


@pytest.fixture(scope="module")
def clean() -> F64:
    """A take through a pole with harmonics at −105 dB."""
    x = recorded(low_pass(8000.0), signal=SIGNAL, head=HEAD, noise=NOISE)
    samples: F64 = x + 2 * 10 ** (-105 / 20) / SIGNAL.amplitude * x**2
    return samples


def _judge(samples: F64) -> tuple[Agreement, BlockResidual]:
    reading = _reading(samples)
    return up_down_difference(reading), block_residual(samples, SIGNAL, reading)


def _reading(samples: F64) -> TakeReading:
    return read_take(
        samples[:, None],
        SIGNAL,
        Located(HEAD, 100.0, 0.0, 1, True),
        run_id="01",
        recording="",
        number=1,
        path_channel=0,
        check_channel=None,
    )


def _inside(share: float) -> int:
    """Sample at a share of the upward sweep."""
    up = layout_of(SIGNAL).segment("up")
    return HEAD + up.start + round(share * up.length)


def test_clean_sweeps_agree(clean: F64) -> None:
    """Noise and slight harmonics leave no stretch beyond 0.001 dB and no block that stands out."""
    agreement, residual = _judge(clean)
    assert agreement.worst_score < 9
    assert abs(agreement.worst_db) < 1e-3
    assert abs(agreement.gain_db) < 1e-4
    assert abs(agreement.slip_s) < 2e-9
    assert residual.worst_score < 3


@pytest.mark.parametrize("share", [0.15, 0.3, 0.5, 0.7, 0.9])
@pytest.mark.parametrize("kind", ["zeroed", "repeated"])
def test_sixty_four_samples(clean: F64, share: float, kind: str) -> None:
    """64 samples zeroed or repeated in place stand out in both ways, at the right time."""
    samples, at = clean.copy(), _inside(share)
    samples[at : at + 64] = 0.0 if kind == "zeroed" else samples[at - 64 : at]
    agreement, residual = _judge(samples)
    assert agreement.worst_score > 100
    assert abs(agreement.worst_db) > 5e-3
    assert residual.worst_score > 15
    assert residual.worst_t_s == pytest.approx((at - HEAD) / SIGNAL.rate_hz, abs=2e-3)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.5])
@pytest.mark.parametrize("change_db", [0.01, -0.003])
def test_gain_change_for_one_second(clean: F64, share: float, change_db: float) -> None:
    """A hundredth of a decibel for a second is found with its size, to a tenth of it."""
    samples, at = clean.copy(), _inside(share)
    samples[at : at + SIGNAL.rate_hz] *= 10 ** (change_db / 20)
    agreement, _ = _judge(samples)
    assert agreement.worst_score > 50
    assert agreement.worst_db == pytest.approx(change_db, rel=0.1)


def test_lasting_gain_change_between_the_sweeps(clean: F64) -> None:
    """Drift from one sweep to the next is common gain, not a damaged stretch."""
    samples = clean.copy()
    samples[HEAD + layout_of(SIGNAL).segment("rest").start :] *= 10 ** (-0.005 / 20)
    agreement, _ = _judge(samples)
    assert agreement.gain_db == pytest.approx(0.005, rel=0.02)
    assert agreement.worst_score < 9


def test_one_lost_sample_is_a_slip(clean: F64) -> None:
    """A sample lost between the sweeps is one sample of delay between them."""
    samples = np.delete(clean, HEAD + layout_of(SIGNAL).segment("rest").start + 5000)
    agreement, _ = _judge(np.append(samples, 0.0))
    assert agreement.slip_s * SIGNAL.rate_hz == pytest.approx(1.0, abs=0.01)


def test_stated_deviation_is_the_scatter_of_the_difference() -> None:
    """Over 40 seeds the difference of the sweeps scatters as its stated deviation says."""
    found = [
        up_down_difference(_reading(recorded(signal=SIGNAL, noise=1e-4, seed=s))) for s in range(40)
    ]
    scatter = np.std([a.difference.real for a in found], axis=0, ddof=1)
    ratio = scatter / np.mean([a.sd for a in found], axis=0)
    assert float(np.mean(ratio)) == pytest.approx(1.0, abs=0.05)
