"""How far a harmonic stands above the reference's own: intervals, and bounds where that hides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.quantity import Estimate
from loopback.response.distortion import (
    Harmonic,
    OverReference,
    distortion_of,
    fieller,
    middle_harmonics,
    over_reference,
)
from loopback.response.linearity import find_linearity, raised
from loopback.response.reading import TakeReading
from loopback.rig.protocol import RunRequest
from loopback.rig.simulated import SimulatedRig
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.scenario import Scenario
from tests.recover.test_behaviour_coverage import read_with_noise
from tests.reference.recovery_table import recovered
from tests.reference.sounding_pedals import COUPLER, PLAIN, SIGNAL, wire_with

DRAWS = 4000


def harmonic(order: int, power: float, u: float) -> Harmonic:
    """As `middle_harmonics` makes it."""
    level = Estimate(10 * math.log10(power), 4.343 * u / power, "dB") if power > 3 * u else None
    return Harmonic(order, level, 10 * math.log10(max(power, 0) + 1.96 * u), power, u)


@pytest.mark.parametrize("setup_in_u", [0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 10.0, 50.0])
@pytest.mark.parametrize("own_in_u", [6.0, 30.0])
def test_lower_end_holds_wherever_the_reference_lies(own_in_u: float, setup_in_u: float) -> None:
    """At least 95 % of the lower ends are below the truth, with a reference in the noise or not."""
    rng = np.random.default_rng(round(10 * own_in_u + setup_in_u))
    holds, told = 0, 0
    for _ in range(DRAWS):
        p, q = own_in_u + rng.standard_normal(), setup_in_u + rng.standard_normal()
        found = over_reference((harmonic(2, p, 1.0),), (harmonic(2, q, 1.0),))
        if found is None:
            continue
        told += 1
        low = found.over_db.interval()[0]
        holds += setup_in_u == 0 or low <= 10 * math.log10(own_in_u / setup_in_u) + 1e-9
    assert told > 0.95 * DRAWS
    assert holds / told >= 0.95
    assert holds / told == pytest.approx(0.975, abs=0.01) or setup_in_u < 10


@pytest.mark.parametrize("setup_in_u", [6.0, 10.0, 50.0])
def test_both_ends_hold_where_both_show(setup_in_u: float) -> None:
    """The interval of two harmonics that show covers 95 to 99 %; it is symmetrical in decibels."""
    rng = np.random.default_rng(round(setup_in_u))
    truth = 10 * math.log10(30.0 / setup_in_u)
    rows = []
    for _ in range(DRAWS):
        p, q = 30.0 + rng.standard_normal(), setup_in_u + rng.standard_normal()
        found = over_reference((harmonic(3, p, 1.0),), (harmonic(3, q, 1.0),))
        assert found is not None
        if not found.at_least:
            rows.append(found.over_db)
    assert len(rows) > 0.95 * DRAWS
    assert 0.94 <= recovered("over", [truth] * len(rows), rows).coverage <= 0.995


def test_interval_of_a_ratio_is_that_of_the_textbook() -> None:
    """Ends solve (p - r q)² = z² (u_p² + r² u_q²), and agree with first order for small doubt."""
    p, u_p, q, u_q = 8.0, 0.7, 5.0, 0.6
    for r in fieller(p, u_p, q, u_q):
        assert (p - r * q) ** 2 == pytest.approx(1.959963984540054**2 * (u_p**2 + r**2 * u_q**2))
    low, high = fieller(1e4, 1.0, 1e4, 1.0)
    assert (low, high) == pytest.approx((1 - 1.96e-4 * 2**0.5, 1 + 1.96e-4 * 2**0.5), rel=1e-6)
    # Over nothing but noise: p is known to 1.96 u_p, q only to lie below 1.96 u_q.
    low, high = fieller(8.0, 0.7, 0.0, 0.6)
    assert low**2 * (1.959963984540054 * 0.6) ** 2 == pytest.approx(
        64 - (1.959963984540054 * 0.7) ** 2
    )
    assert math.isinf(high)
    assert fieller(0.5, 1.0, 5.0, 0.6)[0] == 0.0


def test_a_noisy_pedal_is_not_called_clean() -> None:
    """What hides below noise 20 dB above the setup's is open; below the setup's own noise, no."""
    quiet = tuple(harmonic(n, 0.1, 1.0) for n in (2, 3, 4, 5))
    loud = tuple(harmonic(n, 50.0, 100.0) for n in (2, 3, 4, 5))
    assert over_reference(loud, quiet) is None
    assert raised(None, loud, quiet) == "open"
    assert raised(None, quiet, quiet) == "no"
    far = over_reference((harmonic(2, 900.0, 1.0),), quiet)
    assert far is not None
    assert far.at_least
    assert raised(far, (harmonic(2, 900.0, 1.0),), quiet) == "yes"


def of_takes(own: TakeReading, setup: TakeReading) -> OverReference:
    """From two readings."""
    tables = [distortion_of([reading], SIGNAL) for reading in (own, setup)]
    ours, theirs = (middle_harmonics(d) for d in tables if d is not None)
    found = over_reference(ours, theirs)
    assert found is not None
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("h3_db", "hides"), [(-88.0, False), (-125.0, True)])
def test_over_reference_of_recordings(h3_db: float, hides: bool) -> None:
    """A cubic pedal on an interface whose own third harmonic shows, or lies in the noise."""
    model = InterfaceModel.ideal(h2_db=-130.0, h3_db=h3_db)
    waves = []
    for lines, label in ((".bend third 64", PLAIN), ("", COUPLER)):
        rig = SimulatedRig(Scenario(wire_with(lines), interface=model, leads=Leads.ideal()))
        samples = next(iter(rig.play(RunRequest(label, SIGNAL, 1)))).samples
        assert samples is not None
        waves.append(samples[:, 0])
    found = []
    for seed in range(200):
        rng = np.random.default_rng(seed)
        own, setup = (
            read_with_noise(wave, rng, name) for wave, name in zip(waves, ("02", "01"), strict=True)
        )
        over = of_takes(own, setup)
        assert (over.order, over.at_least) == (3, hides)
        found.append(over.over_db)
    # Ten takes with a hundredth of the noise tell what the recordings hold.
    truth = _truth(waves)
    lows = [estimate.interval()[0] for estimate in found]
    assert np.mean(np.array(lows) <= truth) >= 0.95
    if not hides:
        assert 0.90 <= recovered("over", [truth] * len(found), found).coverage <= 0.99


def _truth(waves: list[np.ndarray[tuple[int], np.dtype[np.float64]]]) -> float:
    """Power of the third harmonic, own over setup's, without any noise."""
    from loopback.response.locate import Located
    from loopback.response.take import read_take

    powers = []
    rng = np.random.default_rng(0)
    for wave in waves:
        reading = read_take(
            (wave + 1e-10 * rng.standard_normal(len(wave)))[:, None],
            SIGNAL,
            Located(480, 100.0, 0.0, 1, True),
            run_id="01",
            recording="",
            number=1,
            path_channel=0,
            check_channel=None,
        )
        distortion = distortion_of([reading], SIGNAL)
        assert distortion is not None
        powers.append(next(h.power for h in middle_harmonics(distortion) if h.order == 3))
    return 10 * math.log10(powers[0] / powers[1])


def test_linearity_says_which_end_holds() -> None:
    """Straight interface, cubic pedal: at least so far above, and told as that."""
    model = InterfaceModel.ideal(h2_db=None, h3_db=None)
    takes = []
    for lines, label in ((".bend third 60", PLAIN), ("", COUPLER)):
        rig = SimulatedRig(Scenario(wire_with(lines), interface=model, leads=Leads.ideal()))
        samples = next(iter(rig.play(RunRequest(label, SIGNAL, 1)))).samples
        assert samples is not None
        takes.append(read_with_noise(samples[:, 0], np.random.default_rng(1), label.path))
    found = find_linearity("02", takes[:1], takes[1:], SIGNAL, u_step_db=0.0)
    assert found is not None
    assert found.over_at_least
    assert found.harmonics_raised == "yes"
    assert found.over_reference_db is not None
    assert found.over_reference_db.u > 0
