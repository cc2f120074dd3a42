"""From takes to a ratio: joined, timed, divided; level, treble, corners, polarity."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from loopback.arrays import C128, F64
from loopback.errors import ArgumentError
from loopback.response.band import corners, level_offset, polarity, treble
from loopback.response.delay import minimum_phase_rad, phase_delay_s
from loopback.response.join import join_takes
from loopback.response.locate import locate_takes
from loopback.response.ratio import SHAPE_HZ, ratio_to_reference
from loopback.response.reading import Ratio, RunResponse, TakeReading
from loopback.response.spread import pooled_variance
from loopback.response.take import read_take
from tests.reference.recorded_takes import SHORT, Response, low_pass, recorded, shelf, wire

GRID = np.geomspace(12.0, 39_000.0, 560)


def _takes(
    response: Response,
    delays: Sequence[float] = (0.0, 0.0),
    *,
    gains: Sequence[float] = (1.0, 1.0),
    noise: float = 1e-6,
    seed: int = 0,
    check: bool = False,
) -> list[TakeReading]:
    readings = []
    for number, (delay, gain) in enumerate(zip(delays, gains, strict=True), 1):
        path = gain * recorded(response, delay=delay, noise=noise, seed=100 * seed + number)
        channels = [path]
        if check:
            channels.append(recorded(delay=math.floor(delay), noise=noise, seed=seed + 7))
        (located,) = locate_takes(path, SHORT)
        readings.append(
            read_take(
                np.stack(channels, axis=1),
                SHORT,
                located,
                run_id=f"{seed:02d}",
                recording=f"{seed}-{number}",
                number=number,
                path_channel=0,
                check_channel=1 if check else None,
            )
        )
    return readings


def _run(response: Response, *delays: float, seed: int = 0, check: bool = False) -> RunResponse:
    return join_takes(_takes(response, delays or (0.0, 0.0), seed=seed, check=check))


def _ratio_of(t: C128, f_hz: F64 = GRID, u: float = 1e-5, u_gain_db: float = 0.003) -> Ratio:
    return Ratio("02", ("01",), f_hz, t, np.full(len(f_hz), u**2), u_gain_db, 0.0, False, 0 * f_hz)


def test_takes_with_different_delays_are_joined_without_loss() -> None:
    """Takes that start anywhere are laid on each other before they are averaged."""
    run = join_takes(_takes(low_pass(4000.0), (0.0, 0.4, -0.45), gains=(1, 1, 1)))
    alone = join_takes(_takes(low_pass(4000.0), (0.0,), gains=(1,)))
    inside = (run.f_hz > 20) & (run.f_hz < 21e3)
    level = 20 * np.log10(np.abs(run.h / alone.h))[inside]
    assert np.max(np.abs(level)) < 1e-3
    assert run.takes == 3


def test_repeat_is_the_gain_between_takes() -> None:
    """A take 0.02 dB louder is told as 0.02 dB, not as noise of every band."""
    run = join_takes(_takes(wire, gains=(1.0, 10 ** (0.02 / 20))))
    even = join_takes(_takes(wire))
    assert run.repeat_db == pytest.approx(0.02, abs=1e-4)
    assert even.repeat_db < 1e-4
    assert np.median(run.var / even.var) == pytest.approx(1.0, abs=0.05)


def test_more_takes_lower_the_variance() -> None:
    """Two takes of two sweeps: a quarter of one sweep's variance."""
    takes = _takes(wire, noise=1e-4)
    run = join_takes(takes)
    assert np.median(run.var / takes[0].var) == pytest.approx(0.25, rel=0.15)


def test_disagreement_of_repeats_counts_where_it_exceeds_the_silence() -> None:
    """Noise that is there only while the signal plays shows in the repeats."""
    takes = []
    for seed in (1, 2):
        path = recorded(noise=1e-6, seed=seed)
        rng = np.random.default_rng(seed + 50)
        path *= 1 + 1e-4 * rng.standard_normal(len(path))
        (located,) = locate_takes(path, SHORT)
        takes.append(
            read_take(
                path[:, None],
                SHORT,
                located,
                run_id="",
                recording="",
                number=seed,
                path_channel=0,
                check_channel=None,
            )
        )
    run = join_takes(takes)
    silence = takes[0].var / 4
    inside = (run.f_hz > 100) & (run.f_hz < 20e3)
    assert np.median((run.var / silence)[inside]) > 20
    scatter = np.mean(np.abs(run.h[inside] - 1) ** 2)
    assert float(np.mean(run.var[inside])) == pytest.approx(float(scatter), rel=0.3)


def test_nothing_to_join_and_nothing_to_compare_with() -> None:
    """No take and no reference are refused in words."""
    with pytest.raises(ArgumentError, match="without a usable take"):
        join_takes([])
    with pytest.raises(ArgumentError, match="has no reference"):
        ratio_to_reference(_run(wire), [], gain_u_db=0.002, delay_held=False)


@pytest.mark.parametrize("delay", [0.0, 3.3, -0.4])
def test_ratio_of_a_shunt_with_a_free_delay(delay: float) -> None:
    """A capacitor through a resistor: delay found to 3 ns, level exact, phase to match.

    400 pF and 20 pF more, 100 kΩ into 1 MΩ: poles at 4.38 and 4.17 kHz.
    """
    before, after = low_pass(4377.0), low_pass(4168.6)
    ratio = ratio_to_reference(
        _run(after, delay, delay, seed=2),
        [_run(before, seed=1), _run(before, 7.0, 7.25, seed=3)],
        gain_u_db=0.002,
        delay_held=False,
    )
    expected = after(ratio.f_hz) / before(ratio.f_hz)
    inside = (ratio.f_hz > 20) & (ratio.f_hz < 20e3)
    level = 20 * np.log10(np.abs(ratio.t / expected))[inside]
    assert np.max(np.abs(level)) < 1e-3
    left_s = phase_delay_s(ratio.f_hz, ratio.t / expected, np.ones(len(ratio.f_hz)))
    assert abs(left_s) < 3e-9
    assert ratio.reference_ids == ("01", "03")
    assert not ratio.delay_held


def test_check_cable_holds_the_delay() -> None:
    """With a check cable the pedal's own part of a sample stays in the phase; whole ones go."""
    ratio = ratio_to_reference(
        _run(wire, 5.25, 9.25, seed=2, check=True),
        [_run(wire, 0.0, 1.0, seed=1, check=True)],
        gain_u_db=0.002,
        delay_held=True,
    )
    assert ratio.delay_s * SHORT.rate_hz == pytest.approx(0.25, abs=1e-3)
    inside = (ratio.f_hz > 100) & (ratio.f_hz < 20e3)
    expected = np.exp(-2j * np.pi * ratio.f_hz * 0.25 / SHORT.rate_hz)
    assert np.max(np.abs(ratio.t / expected - 1)[inside]) < 3e-4
    assert ratio.delay_held


def test_gain_doubt_is_stated_and_widened() -> None:
    """One reference: √2 · 0.002 dB. Two that differ by 0.1 dB: far more."""
    run, one = _run(wire, seed=2), _run(wire, seed=1)
    alone = ratio_to_reference(run, [one], gain_u_db=0.002, delay_held=False)
    assert alone.u_gain_db == pytest.approx(0.002 * math.sqrt(2), rel=0.01)
    agreed = ratio_to_reference(run, [one, _run(wire, seed=3)], gain_u_db=0.002, delay_held=False)
    assert agreed.u_gain_db < alone.u_gain_db
    moved = join_takes(_takes(wire, gains=(1.0116, 1.0116), seed=4))
    apart = ratio_to_reference(run, [one, moved], gain_u_db=0.002, delay_held=False)
    assert 0.03 < apart.u_gain_db < 0.1


def test_floor_is_gain_and_what_the_references_differ_by() -> None:
    """Alike references: the floor is the gain doubt. Another capacitance in one: it rises there."""
    run = _run(low_pass(4377.0), seed=2)
    like = [_run(low_pass(4377.0), seed=s) for s in (1, 3)]
    floor = ratio_to_reference(run, like, gain_u_db=0.002, delay_held=False)
    gain = 1.96 * floor.u_gain_db * math.log(10) / 20
    middle = (floor.f_hz > 200) & (floor.f_hz < 5000)
    assert np.max(np.abs(floor.floor_db[middle] - 20 * math.log10(gain))) < 0.5
    unlike = [like[0], _run(low_pass(4350.0), seed=5)]
    risen = ratio_to_reference(run, unlike, gain_u_db=0.002, delay_held=False)
    treble_part = (floor.f_hz > 8000) & (floor.f_hz < 15_000)
    assert np.min(risen.floor_db[treble_part] - floor.floor_db[treble_part]) > 6


def test_level_and_treble_of_a_closed_form() -> None:
    """Level and treble against the formula, with the doubt that was put in."""
    ratio = _ratio_of(low_pass(30_000.0, 0.98)(GRID))
    level = level_offset(ratio)
    band = GRID[(GRID >= 200) & (GRID <= 2000)]
    expected = float(np.mean(20 * np.log10(np.abs(low_pass(30_000.0, 0.98)(band)))))
    assert level.value == pytest.approx(expected, abs=1e-9)
    assert level.u == pytest.approx(0.003, rel=0.01)
    assert level.unit == "dB"
    for f_hz in (5e3, 10e3, 15e3, 20e3):
        found = treble(ratio, f_hz)
        assert found is not None
        true = 10 * math.log10((1 + (1000 / 30e3) ** 2) / (1 + (f_hz / 30e3) ** 2))
        assert found.value == pytest.approx(true, abs=1e-4)
        assert found.u < 1e-4
    assert treble(ratio, 45e3) is None


def test_level_ignores_a_band_full_of_hum() -> None:
    """A band whose doubt stands out by far is left out of the mean."""
    t = np.ones(len(GRID), dtype=np.complex128)
    var = np.full(len(GRID), 1e-10)
    hum = int(np.argmin(np.abs(GRID - 250.0)))
    t[hum], var[hum] = 1.5, 0.25
    ratio = Ratio("02", ("01",), GRID, t, var, 0.002, 0.0, False, 0 * GRID)
    assert abs(level_offset(ratio).value) < 1e-9


def test_corners_of_two_poles() -> None:
    """−0.1, −1 and −3 dB of a pole at 20 kHz and a high-pass at 20 Hz, each to 0.3 %."""
    high_pass = 1 / (1 + 20.0 / (1j * GRID))
    found = corners(_ratio_of(low_pass(20_000.0)(GRID) * high_pass))
    middle = level_offset(_ratio_of(low_pass(20_000.0)(GRID) * high_pass)).value
    assert [(c.side, c.drop_db) for c in found] == [
        ("low", 0.1),
        ("low", 1.0),
        ("low", 3.0),
        ("high", 0.1),
        ("high", 1.0),
        ("high", 3.0),
    ]
    for corner in found:
        ratio = math.sqrt(10 ** ((corner.drop_db - middle) / 10) - 1)
        true = 20_000.0 * ratio if corner.side == "high" else 20.0 / ratio
        assert corner.f_hz is not None
        assert corner.f_hz.value == pytest.approx(true, rel=3e-3)
        assert corner.f_hz.u < 1e-3 * true
        assert corner.limit_hz == (GRID[-1] if corner.side == "high" else GRID[0])


def test_intervals_of_corners_cover_the_truth() -> None:
    """Of sixty noisy responses with a drifting treble, about 95 % of the intervals hold the corner.

    With a coverage of 0.95, 50 or fewer of 60 happen once in 1400 times (binomial distribution).
    """
    t, u, u_shape_db = low_pass(20_000.0)(GRID), 3e-4, 0.004
    true = corners(_ratio_of(t))
    rng = np.random.default_rng(17)
    hits = np.zeros(len(true), dtype=int)
    for _ in range(60):
        noise = rng.standard_normal(len(GRID)) + 1j * rng.standard_normal(len(GRID))
        drift_db = rng.normal(0.0, u_shape_db) * (GRID / SHAPE_HZ) ** 2
        seen = (t + u / math.sqrt(2) * noise) * 10 ** (drift_db / 20)
        found = corners(replace(_ratio_of(seen, u=u), u_shape_db=u_shape_db))
        for at, (one, other) in enumerate(zip(found, true, strict=True)):
            if other.f_hz is None:
                hits[at] += one.f_hz is None
            elif one.f_hz is not None:
                hits[at] += abs(one.f_hz.value - other.f_hz.value) <= one.f_hz.half_width()
    assert (hits >= 51).all(), hits


def test_no_corner_inside_what_was_measured() -> None:
    """A flat response has none, and noise does not make one."""
    rng = np.random.default_rng(5)
    noise = 0.01 * (rng.standard_normal(len(GRID)) + 1j * rng.standard_normal(len(GRID)))
    found = corners(_ratio_of(1 + noise, u=0.01 * math.sqrt(2)))
    assert all(corner.f_hz is None for corner in found)


@pytest.mark.parametrize("sign", [1, -1])
def test_polarity(sign: int) -> None:
    """The sign survives a free delay, and a delay that is held and turns the phase."""
    run = _run(lambda f_hz: sign * wire(f_hz), 0.4, 0.4, seed=2)
    assert polarity(ratio_to_reference(run, [_run(wire, seed=1)])) == sign
    turned = sign * np.exp(-2j * np.pi * GRID * 1e-3)
    held = Ratio(
        "02", ("01",), GRID, turned, np.full(len(GRID), 1e-10), 0.002, 1e-3, True, 0 * GRID
    )
    assert polarity(held) == sign


@pytest.mark.parametrize("response", [low_pass(3000.0), shelf(4000.0, 4600.0), shelf(900.0, 300.0)])
def test_minimum_phase_of_circuits(response: Response) -> None:
    """Phase from magnitude alone is the circuit's own, but for a little delay (Bode 1945)."""
    turned = response(GRID) * np.exp(-1j * minimum_phase_rad(GRID, np.abs(response(GRID))))
    left_s = phase_delay_s(GRID, turned, np.ones(len(GRID)))
    # What does not level out inside the grid keeps the delay of its unseen slope.
    assert abs(left_s) < (5e-9 if abs(response(GRID)[-1]) > 0.3 else 2e-6)
    inside = (GRID > 100) & (GRID < 10_000)
    rest = np.angle(turned * np.exp(2j * np.pi * GRID * left_s))
    assert np.max(np.abs(rest[inside])) < 0.005


def test_pooled_variance_is_unbiased_and_keeps_outliers() -> None:
    """Pooling over neighbours gives the mean of a chi-square, and leaves a disturbed band alone."""
    rng = np.random.default_rng(9)
    raw = rng.chisquare(6, 4000) / 6
    assert float(np.mean(pooled_variance(raw, 6))) == pytest.approx(1.0, abs=0.03)
    raw[1000] = 500.0
    pooled = pooled_variance(raw, 6)
    assert pooled[1000] == 500.0
    assert pooled[990] < 1.6
