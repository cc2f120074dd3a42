"""Whether one clock serves both ways, from the delays and the stretch of runs."""

from __future__ import annotations

import numpy as np
import pytest

from loopback.identify.whole_samples import LEAST_U_S, find_clock
from loopback.plan.runs import RunLabel
from loopback.response.join import join_takes
from loopback.response.reading import RunResponse, TakeReading

RATE_HZ = 48_000.0
F_HZ = np.geomspace(10.0, 22e3, 200)
PPM_30 = 30e-6


def _take(late_s: float, stretch: float) -> TakeReading:
    h = np.exp(-2j * np.pi * F_HZ * late_s)
    nothing = np.empty(0)
    return TakeReading(
        run_id="01", recording="", number=1, start=0, stretch=stretch, f_hz=F_HZ, up=h, down=h,
        var=np.full(len(F_HZ), 1e-10), delay_s=late_s, harmonics=np.empty((0, len(F_HZ))),
        check=None, tones=(), check_tones=(), noise_f_hz=nothing, noise_psd=nothing, peak=0.1,
    )  # fmt: skip


def _run(
    late_s: float, stretch: float = 0.0, path: str = "coupler"
) -> tuple[RunLabel, RunResponse]:
    label = RunLabel("pedal" if path == "pedal" else "coupler", "plain")
    return label, join_takes([_take(late_s, 0.0), _take(late_s, stretch)])


def test_whole_samples_are_one_clock() -> None:
    """References that are whole samples apart give a clock."""
    clock = find_clock([_run(7.3e-6), _run(7.3e-6 + 3 / RATE_HZ)], RATE_HZ)
    assert clock is not None
    assert clock.u_s == pytest.approx(LEAST_U_S)


@pytest.mark.parametrize("stretch", [PPM_30, -PPM_30])
def test_a_free_recorder_that_starts_at_like_fractions_is_no_clock(stretch: float) -> None:
    """At 30 ppm nothing holds a delay, even where the references happen to agree."""
    assert find_clock([_run(7.3e-6, stretch), _run(7.3e-6, stretch)], RATE_HZ) is None


def test_one_stretched_take_of_a_pedal_run_is_enough() -> None:
    """The references may look like one clock; a pedal run tells that there are two."""
    pedal = _run(9e-6, PPM_30, "pedal")
    assert find_clock([_run(7.3e-6), _run(7.3e-6), pedal], RATE_HZ) is None


@pytest.mark.parametrize(("off_s", "holds"), [(15e-9, True), (30e-9, False), (1e-6, False)])
def test_references_agree_within_nanoseconds(off_s: float, holds: bool) -> None:
    """Twenty nanoseconds from whole samples is the most that drift of a path explains."""
    later = 7.3e-6 + 2 / RATE_HZ + off_s
    assert (find_clock([_run(7.3e-6), _run(later)], RATE_HZ) is not None) == holds


def test_a_run_carries_the_largest_stretch_of_its_takes() -> None:
    """Joining takes keeps what tells two clocks from one."""
    _, response = _run(0.0, -PPM_30)
    assert response.stretch == PPM_30
