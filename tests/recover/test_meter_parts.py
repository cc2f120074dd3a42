"""Loose parts and pedals, read by the live meter on the simulated bench."""

from __future__ import annotations

from dataclasses import replace
from itertools import islice

import numpy as np
import pytest

from loopback.errors import ArgumentError, RigError
from loopback.identify.learned import BELIEVED
from loopback.meter.lines import zero_line
from loopback.meter.reading import Reading, floor_farad
from loopback.meter.session import Bench
from loopback.meter.steadiness import Watch, watched
from loopback.rig.simulated import SimulatedRig, is_loose_part, simulated_part, simulated_rig
from loopback.signal.take import short_signal
from loopback.simulate.interface import InterfaceModel
from loopback.simulate.leads import Leads
from loopback.simulate.parts import loose_part
from loopback.simulate.scenario import Scenario
from tests.reference.simulated_runs import ideal_rig

SIGNAL = short_signal(48_000)
PARTS = {
    "100p": (100e-12, 0.0),
    "1M": (0.0, 1e-6),
    "lead:3m": (300e-12, 0.2e-9),
    "470p+220k": (470e-12, 1 / 220e3),
    "switch": (1.5e-12, 0.05e-9),
}


def _readings(
    rig: SimulatedRig, count: int, *, plain: bool = True, in_place: bool = False, **known: float
) -> list[Reading]:
    bench = Bench(rig, SIGNAL, 100e3, 0.01, known.get("input_ohm"), in_place)
    if plain:
        bench.take_plain()
    readings = bench.readings(bench.take_zero())
    found = list(islice(readings, count))
    readings.close()
    return found


def _exact(text: str) -> SimulatedRig:
    return SimulatedRig(
        Scenario(loose_part(text), InterfaceModel.ideal(), Leads.ideal(coupler_f=2e-12))
    )


@pytest.mark.parametrize("text", sorted(PARTS))
def test_an_ideal_bench_gives_the_part_back(text: str) -> None:
    """Without noise and drift C and G come back to 0.3 %, the believed stray included."""
    (reading,) = _readings(_exact(text), 1)
    c, g = PARTS[text]
    assert reading.c_farad is not None
    assert reading.g_siemens is not None
    assert reading.c_farad.value == pytest.approx(c, rel=3e-3, abs=0.1e-12)
    assert reading.g_siemens.value == pytest.approx(g, rel=3e-3, abs=0.3e-9)


@pytest.mark.parametrize(
    ("pedal", "c", "g"), [("harbour-bell", 12e-12, 0), ("quarry-lamp", 12e-12, 1e-6)]
)
def test_a_pedal_stands_in_the_place_of_the_coupler(pedal: str, c: float, g: float) -> None:
    """The coupler that it replaces is added: its whole capacitance is read."""
    reading = _readings(simulated_rig(pedal, 3), 1, in_place=True)[0]
    assert reading.c_farad is not None
    assert reading.g_siemens is not None
    assert reading.c_farad.value == pytest.approx(c, abs=2.5 * reading.c_farad.u)
    assert reading.g_siemens.value == pytest.approx(g, abs=2.5 * reading.g_siemens.u)


@pytest.mark.slow
@pytest.mark.parametrize("text", sorted(PARTS))
def test_intervals_cover(text: str) -> None:
    """On 60 benches 95 % intervals cover C and G in at least 54, and are no wider than they claim.

    Chance allows 54 to 60 for a true 95 %.
    """
    c_true, g_true = PARTS[text]
    inside_c, inside_g, widths = 0, 0, []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        leads = Leads(resistor_error=rng.uniform(-0.01, 0.01), coupler_f=rng.normal(2e-12, 0.3e-12))
        rig = SimulatedRig(Scenario(loose_part(text), leads=leads, seed=seed))
        reading = _readings(rig, 1)[0]
        assert reading.c_farad is not None
        assert reading.g_siemens is not None
        # the part stands beside a coupler of its own in the simulator, of 2 pF
        c_here = c_true + 2e-12 - leads.coupler_f
        inside_c += abs(reading.c_farad.value - c_here) < reading.c_farad.half_width()
        inside_g += abs(reading.g_siemens.value - g_true) < reading.g_siemens.half_width()
        widths.append(reading.c_farad.half_width())
    assert min(inside_c, inside_g) >= 54
    assert max(widths) < 1.4e-12 + 0.013 * c_true + 0.6e-12


def test_without_a_plain_lead_the_scale_is_in_doubt() -> None:
    """Then 300 pF has a doubt of 50 pF, which covers; a known input resistance brings it to 8."""
    rig = simulated_part("lead:3m", 4)
    wide = _readings(rig, 1, plain=False)[0].c_farad
    known = _readings(simulated_part("lead:3m", 4), 1, plain=False, input_ohm=1e6)[0].c_farad
    assert wide is not None
    assert known is not None
    assert 40e-12 < wide.half_width() < 70e-12
    assert known.half_width() < 8e-12
    for c in (wide, known):
        assert abs(c.value - 300e-12) < c.half_width()


def test_a_wiggled_lead_drops_out() -> None:
    """A lead with a broken core is found by its drop-outs, and a sound one has none."""
    watch, sound = Watch(), Watch()
    for broken, whole in zip(
        _readings(simulated_part("wiggle", 2), 22),
        _readings(simulated_part("lead:3m", 2), 22),
        strict=True,
    ):
        watch, sound = watched(watch, broken), watched(sound, whole)
    assert watch.word == "drops out"
    assert sound.word == "steady"
    assert watch.span_farad is not None
    high, low = watch.span_farad
    assert high == pytest.approx(300e-12, rel=0.02)
    assert low == pytest.approx(12e-12, abs=2e-12)


def test_a_short_passes_nothing() -> None:
    """A part of 1 Ω across the line leaves nothing to read, and no number is invented."""
    reading = _readings(simulated_part("1Ω", 1), 1)[0]
    assert reading.c_farad is None
    assert reading.level_db < -40


def test_an_overloaded_input_is_said() -> None:
    """Readings of a clipped input say so."""
    hot = InterfaceModel(gain_error_db=14.0)
    rig = SimulatedRig(Scenario(loose_part("100p"), hot))
    assert _readings(rig, 1)[0].clipped


def test_no_leads_no_zero() -> None:
    """With nothing coming back zero is refused, with what to look at."""
    rig = ideal_rig(interface=InterfaceModel.ideal(gain_error_db=-120.0, noise_dbfs_a=-100.0))
    with pytest.raises(RigError, match="Next to nothing comes back"):
        Bench(rig, SIGNAL, 100e3, 0.01).take_zero()


@pytest.mark.parametrize("text", ["100p", "1M", "4.7k", "1M+100p", "lead:0.5m", "switch", "wiggle"])
def test_parts_are_known_from_pedals(text: str) -> None:
    """What is written like a part is one."""
    assert is_loose_part(text)
    assert loose_part(text).title == text


@pytest.mark.parametrize("text", ["quarry-lamp", "my.cir", "lead", "100", "p", ""])
def test_what_is_no_part(text: str) -> None:
    """Names of pedals and bare numbers are none."""
    assert is_loose_part(text) == (text == "100")


@pytest.mark.parametrize("text", ["0p", "lead:x", "lead:1,5m"])
def test_a_part_that_cannot_be(text: str) -> None:
    """Nothing, and what cannot be read, is refused with an example."""
    with pytest.raises(ArgumentError, match=r"not above zero|is not a part|comma"):
        loose_part(text)


def test_a_steady_setup_reads_finer_than_a_loose_one() -> None:
    """What references of a setup have shown makes the doubt of the meter, and it says so."""
    found = {}
    for factor in (0.5, 2.0):
        learned = replace(
            BELIEVED,
            gain_u_db=factor * BELIEVED.gain_u_db,
            walk_u_db=factor * BELIEVED.walk_u_db,
            mating_u_farad=factor * BELIEVED.mating_u_farad,
            references=6,
        )
        bench = Bench(_exact("100p"), SIGNAL, 100e3, 0.01, learned=learned)
        bench.take_plain()
        zero = bench.take_zero()
        assert "learned from 6 reference runs" in zero_line(zero)
        found[factor] = floor_farad(zero)
    assert found[2.0] / found[0.5] == pytest.approx(4.0, rel=0.2)


def test_without_earlier_references_nothing_is_said_of_them() -> None:
    """A setup without a record is as common practice has it."""
    bench = Bench(_exact("100p"), SIGNAL, 100e3, 0.01)
    bench.take_plain()
    assert "learned" not in zero_line(bench.take_zero())
