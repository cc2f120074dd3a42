"""Each figure of presses and taps against the truth, over 200 seeds: do the intervals hold it?

The waves are made directly, by closed forms, with noise of a setup and hum: no simulator.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from loopback.quantity import Estimate
from loopback.signal.watch import MARK_S, SETTLE_S, Watch
from loopback.switching.contacts import amplitude_over_time, read_contacts
from loopback.switching.dc_step import STEP_BEFORE_S, measure_step, step_window
from loopback.switching.figures import figure_of
from loopback.switching.filters import a_weighted, in_band
from loopback.switching.pop import BEFORE_S, burst_level, figures_of, measure_pop, window_length
from loopback.switching.silence import LAID_OVER
from loopback.switching.taps import read_taps
from tests.reference.recovery_table import Recovered, recovered, table_of

RATE = 48_000
SEEDS = 200
NOISE_V = 20e-6
LOW, HIGH = 0.90, 0.99


def setup_noise(n: int, rng: np.random.Generator) -> np.ndarray:
    """White noise, and hum at 50 and 150 Hz of a tenth of its power each."""
    t = np.arange(n) / RATE
    phases = rng.uniform(0, 2 * np.pi, 2)
    hum = sum(
        0.45 * NOISE_V * np.sin(2 * np.pi * f * t + p)
        for f, p in zip((50.0, 150.0), phases, strict=True)
    )
    return np.asarray(NOISE_V * rng.standard_normal(n) + hum)


def click(n: int, at: int, peak: float, tau: float) -> np.ndarray:
    """An exponential click."""
    x = np.zeros(n)
    x[at:] = peak * np.exp(-np.arange(n - at) / RATE / tau)
    return x


def check(rows: list[Recovered]) -> None:
    """Print the table, and hold every row to it."""
    print("\n" + table_of(rows))
    for row in rows:
        assert LOW <= row.coverage <= HIGH + 0.005, f"{row.measure}: covers {row.coverage:.1%}"
        assert abs(row.bias_in_u) < 0.5, f"{row.measure}: off by {row.bias_in_u:.2f} u"


@pytest.fixture(scope="module")
def noise() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A minute of the setup's noise: as it is, in the band, under the A curve."""
    x = setup_noise(60 * RATE, np.random.default_rng(70))
    return x, in_band(x, RATE), a_weighted(x, RATE)


@pytest.fixture(scope="module")
def pops(noise: tuple[np.ndarray, np.ndarray, np.ndarray]) -> list[Recovered]:
    """200 clicks of random size and length in noise, measured."""
    names = ("peak", "A-weighted peak", "burst level", "energy duration", "decay")
    truths: list[list[float]] = [[] for _ in names]
    found: list[list[Estimate]] = [[] for _ in names]
    length, quiet = window_length(RATE), RATE // 4
    event = quiet + round(BEFORE_S * RATE)
    window = slice(quiet, quiet + length)
    for seed in range(SEEDS):
        rng = np.random.default_rng([71, seed])
        pure = click(
            2 * quiet + length, event, 3e-3 * rng.uniform(0.7, 1.5), rng.uniform(1.5e-3, 4e-3)
        )
        band, weighted = in_band(pure, RATE)[window], a_weighted(pure, RATE)[window]
        clean = figures_of(band[None], weighted[None], 0.0, RATE)[0]
        starts = rng.integers(RATE, 59 * RATE, LAID_OVER + 1)
        heard = [wave[starts[:, None] + np.arange(length)] for wave in noise[1:]]
        pop = measure_pop(
            band + heard[0][0], weighted + heard[1][0], heard[0][1:], heard[1][1:], RATE, "V"
        )
        level = burst_level(pop.energy, "V")
        truth = (clean[0], clean[1], 10 * math.log10(clean[2] / 0.05), clean[3], clean[4])
        values = (pop.peak, pop.a_weighted_peak, level, pop.energy_s, pop.decay_s)
        for number in range(len(names)):
            truths[number].append(float(truth[number]))
            found[number].append(values[number])
    return [recovered(*row) for row in zip(names, truths, found, strict=True)]


def test_intervals_of_a_pop(pops: list[Recovered]) -> None:
    """Peak, A-weighted peak, burst level, energy duration and decay cover as stated."""
    check(pops)


def test_intervals_of_the_dc_step(noise: tuple[np.ndarray, np.ndarray, np.ndarray]) -> None:
    """A step beside a click, behind a high-pass of 2 Hz, in noise and hum."""
    truths, found = [], []
    n, before = step_window(RATE), round(STEP_BEFORE_S * RATE)
    a = 2 * math.pi * 2.0
    for seed in range(SEEDS):
        rng = np.random.default_rng([72, seed])
        step, peak, tau = rng.uniform(-5e-3, 5e-3), rng.uniform(0, 3e-3), rng.uniform(3e-4, 2e-3)
        t = np.maximum(np.arange(n) - before, 0) / RATE
        b = 1 / tau
        fast = (b * np.exp(-b * t) - a * np.exp(-a * t)) / (b - a)
        wave = np.where(np.arange(n) >= before, step * np.exp(-a * t) + peak * fast, 0.0)
        late = round(rng.uniform(0, 0.4e-3) * RATE)  # the event is noticed a little late
        windows = noise[0][rng.integers(0, 59 * RATE, 33)[:, None] + np.arange(n)]
        heard = np.concatenate([wave[late:], np.full(late, wave[-1])]) + windows[0]
        truths.append(step)
        found.append(measure_step(heard, windows[1:], RATE, 2.0, "V").jump)
    row = recovered("DC step", truths, found)
    check([row])


def test_intervals_of_the_gap() -> None:
    """Both paths open for 1 to 12 ms, at any phase of the tone, in noise."""
    truths, found = [], []
    n = RATE // 2
    t = np.arange(n) / RATE
    for seed in range(SEEDS):
        rng = np.random.default_rng([73, seed])
        opens, gap = 0.2 + rng.uniform(0, 1e-3), rng.uniform(1e-3, 12e-3)
        gain = rng.uniform(0.3, 3)
        level = np.where(t < opens, 1.0, 0.0) + np.where(t >= opens + gap, gain, 0.0)
        x = 0.1 * level * np.sin(2 * np.pi * 5000 * t + rng.uniform(0, 7))
        x += setup_noise(n, rng)
        contacts = read_contacts(amplitude_over_time(x, 5000.0, RATE), round(0.2 * RATE), RATE)
        assert contacts is not None
        assert contacts.bounces == 0
        truths.append(gap)
        found.append(contacts.gap_s)
    check([recovered("gap", truths, found)])


def test_bounces_are_counted() -> None:
    """One to four openings of 0.8 to 1.5 ms after the first closing, each of them."""
    n = RATE // 2
    t = np.arange(n) / RATE
    for seed in range(60):
        rng = np.random.default_rng([74, seed])
        bounces = int(rng.integers(1, 5))
        level = np.where(t < 0.2, 1.0, 0.0)
        at = 0.2 + 3e-3
        level[t >= at] = 0.6
        total = 3e-3
        for _ in range(bounces):
            at += rng.uniform(0.8e-3, 1.5e-3)
            lasts = rng.uniform(0.8e-3, 1.5e-3)
            level[(t >= at) & (t < at + lasts)] = 0.0
            at += lasts
            total += lasts
        x = 0.1 * level * np.sin(2 * np.pi * 5000 * t + rng.uniform(0, 7)) + setup_noise(n, rng)
        contacts = read_contacts(amplitude_over_time(x, 5000.0, RATE), round(0.2 * RATE), RATE)
        assert contacts is not None
        assert contacts.bounces == bounces
        assert contacts.gap_s.value == pytest.approx(total, abs=4 * contacts.gap_s.u)


def test_overlap_is_told_from_a_gap() -> None:
    """Both paths connected for 1 to 6 ms: the tone is louder meanwhile, and there is no gap."""
    truths, found = [], []
    n = RATE // 2
    t = np.arange(n) / RATE
    for seed in range(SEEDS):
        rng = np.random.default_rng([75, seed])
        lasts = rng.uniform(1e-3, 6e-3)
        level = np.where(t < 0.2 + lasts, 1.0, 0.0) + np.where(t >= 0.2, 0.8, 0.0)
        x = 0.1 * level * np.sin(2 * np.pi * 5000 * t + rng.uniform(0, 7)) + setup_noise(n, rng)
        contacts = read_contacts(amplitude_over_time(x, 5000.0, RATE), round(0.2 * RATE), RATE)
        assert contacts is not None
        assert contacts.overlap_s is not None
        truths.append(lasts)
        found.append(contacts.overlap_s)
    row = recovered("overlap", truths, found)
    check([row])


def test_intervals_of_the_median() -> None:
    """Nine presses that scatter by 10 %: the median's interval holds the median of all presses."""
    found = []
    for seed in range(SEEDS):
        rng = np.random.default_rng([76, seed])
        values = 5e-3 * (1 + 0.1 * rng.standard_normal(9))
        figure = figure_of([Estimate(float(v), 2e-5, "V", 15) for v in values])
        assert figure is not None
        assert figure.worst.value == max(values)
        found.append(figure.median)
    check([recovered("median of 9 presses", [5e-3] * SEEDS, found)])


def test_intervals_of_taps() -> None:
    """Level and phase of a joint that lets go for 20 ms, at a moment found to a millisecond."""
    watch = Watch(steady=True, presses=0, rest_s=0.6)
    n = round(watch.seconds * RATE)
    t = np.arange(n) / RATE
    truths: list[list[float]] = [[], []]
    found: list[list[Estimate]] = [[], []]
    for seed in range(SEEDS):
        rng = np.random.default_rng([77, seed])
        at, db, deg = rng.uniform(0.25, 0.4), rng.uniform(-6, -0.5), rng.uniform(-20, -2)
        on = (t >= MARK_S + SETTLE_S + at) & (t < MARK_S + SETTLE_S + at + 0.02)
        level = np.where(on, 10 ** (db / 20), 1.0)
        x = 0.05 * level * np.sin(2 * np.pi * 5000 * t + np.where(on, math.radians(deg), 0.0))
        figures = read_taps(x + setup_noise(n, rng), RATE, watch)
        assert len(figures.events) == 1
        event = figures.events[0]
        assert event.at_s == pytest.approx(at, abs=1.5e-3)
        assert event.lasts_s == pytest.approx(0.02, abs=2.1e-3)
        assert not event.drops_out
        for number, (truth, estimate) in enumerate(((db, event.level_db), (deg, event.phase_deg))):
            truths[number].append(truth)
            found[number].append(estimate)

    check(
        [recovered("tap: level", truths[0], found[0]), recovered("tap: phase", truths[1], found[1])]
    )
