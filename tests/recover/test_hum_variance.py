"""Strong hum: the stated variance holds between the lines of the mains, where none is seen."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from loopback.arrays import F64
from loopback.response.leakage import leaked_variance
from loopback.response.locate import Located
from loopback.response.take import read_take
from loopback.signal.take import layout_of
from tests.reference.recorded_takes import SHORT, recorded

HEAD = 500
SERIES_DB = (0.0, -12.0, -4.0, -17.0, -8.0, -20.0, -12.0)
SEEDS = 30
NOISE = 1e-5


def scatter(mains_hz: float, hum_dbfs: float) -> tuple[F64, F64, F64]:
    """Frequency, mean square error of one sweep, and mean stated variance."""
    clean = recorded(head=HEAD)
    t = np.arange(len(clean)) / SHORT.rate_hz
    errors, variances = [], []
    for seed in range(SEEDS):
        rng = np.random.default_rng(seed)
        x = clean + NOISE * rng.standard_normal(len(clean))
        for order, below_db in enumerate(SERIES_DB, start=1):
            size = 10 ** ((hum_dbfs + below_db) / 20)
            x += size * np.sin(2 * np.pi * order * mains_hz * t + rng.uniform(0, 2 * np.pi))
        reading = read_take(
            x[:, None],
            SHORT,
            Located(HEAD, 100.0, 0.0, 1, True),
            run_id="01",
            recording="",
            number=1,
            path_channel=0,
            check_channel=None,
        )
        errors.append((np.abs(reading.up - 1) ** 2 + np.abs(reading.down - 1) ** 2) / 2)
        variances.append(reading.var)
    return reading.f_hz, np.mean(errors, axis=0), np.mean(variances, axis=0)


@pytest.mark.parametrize("mains_hz", [49.98, 50.02, 60.01])
@pytest.mark.parametrize("hum_dbfs", [-80.0, -60.0])
def test_variance_between_the_lines(mains_hz: float, hum_dbfs: float) -> None:
    """Neither ten times too small nor too large, in every stretch from 22 Hz to 15 kHz.

    An edge of the window is as loud at 30 or 75 Hz as hundreds of times the noise.
    """
    f_hz, found, stated = scatter(mains_hz, hum_dbfs)
    order = f_hz / mains_hz
    between = (np.abs(order - np.rint(order)) * mains_hz > 9.0) | (f_hz > 8.5 * mains_hz)
    edges = [22.0, 40.0, 90.0, 140.0, 190.0, 240.0, 500.0, 1000.0, 5000.0, 15e3]
    for low, high in itertools.pairwise(edges):
        band = between & (f_hz >= low) & (f_hz < high)
        ratio = float(np.median(found[band] / stated[band]))
        assert 0.25 < ratio < 2.5, (low, high, ratio)


def test_a_silence_without_tones_leaks_nothing() -> None:
    """Noise alone, and a silence that is not known, add no variance."""
    f_hz = 4.0 * np.arange(6001)
    psd = 1e-12 * np.random.default_rng(5).chisquare(20, len(f_hz)) / 20
    length = layout_of(SHORT).segment("up").length
    assert np.all(leaked_variance(SHORT, f_hz, psd, length, 960.0) == 0.0)
    assert np.all(leaked_variance(SHORT, f_hz, np.full(len(f_hz), np.nan), length, 960.0) == 0.0)
