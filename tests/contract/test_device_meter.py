"""The live meter through the real server: zero, then readings of a pedal in the coupler's place."""

from __future__ import annotations

from collections.abc import Generator
from itertools import islice
from pathlib import Path

import pytest

from loopback.meter.session import Bench
from loopback.signal.take import short_signal
from tests.contract.audio_server import AudioServer, reachable
from tests.contract.hands import HandsRig

pytestmark = pytest.mark.needs("jackd", "lib:portaudio")


@pytest.fixture(scope="module")
def server() -> Generator[AudioServer]:
    """Give a server with long periods: faster, and nothing here depends on them."""
    with AudioServer(48_000, period=4096) as running, reachable(running):
        yield running


def test_a_pulldown_is_read_live(server: AudioServer, tmp_path: Path) -> None:
    """1 MΩ and 12 pF come back within their intervals, reading after reading of one stream."""
    bench = Bench(HandsRig(server, "quarry-lamp", tmp_path), short_signal(48_000), 100e3, 0.01)
    bench.in_place = True
    bench.take_plain()
    readings = bench.readings(bench.take_zero())
    found = list(islice(readings, 3))
    readings.close()
    for reading in found:
        assert reading.c_farad is not None
        assert reading.g_siemens is not None
        assert abs(reading.c_farad.value - 12e-12) < reading.c_farad.half_width()
        assert abs(reading.g_siemens.value - 1e-6) < reading.g_siemens.half_width()
    assert [round(r.at_s / bench.step_s) for r in found] == [1, 2, 3]
