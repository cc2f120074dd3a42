"""Stated intervals hold what they promise: over 200 made-up examinations, in every step."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from loopback.arrays import C128, F64
from loopback.quantity import Estimate
from loopback.response.band import level_offset, treble
from loopback.response.delay import phase_delay_s
from loopback.response.join import join_takes
from loopback.response.locate import Located
from loopback.response.ratio import GAIN_U_DB, SHAPE_HZ, SHAPE_U_DB, ratio_to_reference
from loopback.response.reading import Ratio, RunResponse
from loopback.response.take import read_take
from tests.reference.recorded_takes import SHORT, Response, low_pass, recorded

SEEDS = 200
NOISE = 1e-4
BEFORE, AFTER = low_pass(4377.0), low_pass(4168.6)
HEAD = 500


@dataclass(frozen=True, slots=True)
class Made:
    """One made-up examination: what was found, and what was put in."""

    ratio: Ratio
    true: C128
    """With the drifts that were drawn, and the delay that is left."""
    level: Estimate
    treble: Estimate


class _Bench:
    """A path, and the same path weighed with frequency squared, so that drifts are sums."""

    def __init__(self, response: Response) -> None:
        self.plain = recorded(response, head=HEAD)
        self.shaped = recorded(
            lambda f_hz: np.asarray(response(f_hz) * (f_hz / SHAPE_HZ) ** 2, dtype=np.complex128),
            head=HEAD,
        )

    def run(self, rng: np.random.Generator, run_id: str) -> tuple[RunResponse, float, float]:
        """Two takes with the run's drift of gain and treble, in nepers."""
        neper = math.log(10) / 20
        gain = GAIN_U_DB * neper * rng.standard_normal()
        shape = SHAPE_U_DB * neper * rng.standard_normal()
        readings = [
            read_take(
                (self.plain * (1 + gain) + shape * self.shaped + self._noise(rng))[:, None],
                SHORT,
                Located(HEAD, 100.0, 0.0, 1, True),
                run_id=run_id,
                recording="",
                number=number,
                path_channel=0,
                check_channel=None,
            )
            for number in (1, 2)
        ]
        return join_takes(readings), gain, shape

    def _noise(self, rng: np.random.Generator) -> F64:
        return NOISE * rng.standard_normal(len(self.plain))


@pytest.fixture(scope="module")
def made() -> list[Made]:
    """Two references and a pedal run in between, 200 times."""
    reference, pedal = _Bench(BEFORE), _Bench(AFTER)
    out = []
    for seed in range(SEEDS):
        rng = np.random.default_rng(seed)
        opening, gain_1, shape_1 = reference.run(rng, "01")
        run, gain_2, shape_2 = pedal.run(rng, "02")
        closing, gain_3, shape_3 = reference.run(rng, "03")
        ratio = ratio_to_reference(run, [opening, closing])
        gain, shape = gain_2 - (gain_1 + gain_3) / 2, shape_2 - (shape_1 + shape_3) / 2
        drift = 1 + gain + shape * (ratio.f_hz / SHAPE_HZ) ** 2
        true = AFTER(ratio.f_hz) / BEFORE(ratio.f_hz) * drift
        # The delay is free: whoever uses the phase fits one, and so does this comparison.
        left_s = phase_delay_s(ratio.f_hz, ratio.t / true, np.abs(ratio.t) ** 2 / ratio.var)
        true = true * np.exp(-2j * np.pi * ratio.f_hz * left_s)
        top = treble(ratio, 15_000.0)
        assert top is not None
        out.append(Made(ratio, true, level_offset(ratio), top))
    return out


def _check(error: F64, u: F64) -> None:
    """95 % intervals hold 90 to 99 %; the scatter is the stated doubt within 15 %."""
    held = float(np.mean(np.abs(error) <= 1.96 * u))
    assert 0.90 <= held <= 0.99
    assert float(np.std(error) / np.sqrt(np.mean(u**2))) == pytest.approx(1.0, abs=0.15)


@pytest.mark.slow
def test_level(made: list[Made]) -> None:
    """Level, against the level without drift."""
    f_hz = made[0].ratio.f_hz
    band = (f_hz >= 200) & (f_hz <= 2000)
    true = float(np.mean(20 * np.log10(np.abs(AFTER(f_hz) / BEFORE(f_hz))[band])))
    _check(np.array([m.level.value - true for m in made]), np.array([m.level.u for m in made]))


@pytest.mark.slow
def test_treble(made: list[Made]) -> None:
    """Level at 15 kHz against 1 kHz, against the circuits without drift."""
    at = np.array([1000.0, 15_000.0])
    one, top = 20 * np.log10(np.abs(AFTER(at) / BEFORE(at)))
    error = np.array([m.treble.value - (top - one) for m in made])
    _check(error, np.array([m.treble.u for m in made]))


@pytest.mark.slow
@pytest.mark.parametrize("f_hz", [15.0, 50.0, 300.0, 1500.0, 5000.0, 18_000.0])
def test_ratio_at_a_frequency(made: list[Made], f_hz: float) -> None:
    """Both components of the ratio, in seven bands, against the truth with its drift."""
    at = int(np.argmin(np.abs(made[0].ratio.f_hz - f_hz)))
    near = slice(max(0, at - 3), at + 4)
    error = np.concatenate([m.ratio.t[near] - m.true[near] for m in made])
    u = np.sqrt(np.concatenate([m.ratio.var[near] for m in made]) / 2)
    _check(np.concatenate([error.real, error.imag]), np.concatenate([u, u]))
